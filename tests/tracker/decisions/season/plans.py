"""Levers, retests and plans made by hand, for the tests of a season."""

from datetime import date, datetime

import numpy as np

from models.drive.parameters import default_parameters
from models.traits import DELIVERY
from tests.fits import noise
from tracker.decisions.distance.levers import Lever, LeverEffect
from tracker.decisions.distance.target import Target
from tracker.decisions.distance.worth import BallMeans, LeverWorth, PlayerLevers, TraitWorth
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.season.assignment import Capacity
from tracker.decisions.season.plan import season_plan
from tracker.decisions.verdict.retest import Design, RetestPlan

UP = "strike_up_mm"
MONDAY = date(2026, 9, 7)
N = 400


def lever_worth(name, mean, sd=1.0, effort=2.0, trait=UP, seed=1):
    """What one lever is worth: normal draws about a mean, m."""
    zero = np.zeros(N)
    return LeverWorth(
        effect=LeverEffect(Lever(name, "drill", trait), effort, zero + 4.0, 0, (), own=None),
        move=zero + 4.0,
        gain=mean + sd * noise(N, seed=seed),
        inside=zero,
        alone=zero + mean,
        ball=BallMeans(zero, zero, zero, zero),
        common=None,
    )


def levers(player, mean, *, problems=(), **more):
    """One player's levers, the first of which is worth a mean gain in m."""
    zero = np.zeros(N)
    level = np.zeros((N, len(DELIVERY)))
    target = Target(UP, 4.0, (2.0, 6.0), 200.0, 4.0, False)
    return PlayerLevers(
        player=player,
        as_of=datetime(2026, 8, 1),
        yardstick=TOWARD,
        level=level,
        physics=default_parameters(),
        carry=zero + 200.0,
        path_follows_attack=zero,
        attack_changed_in=0,
        tighter=zero,
        offered=(lever_worth("tee ladder", mean, **more),),
        unread_levers=(),
        yardsticks=(),
        by_trait={UP: TraitWorth(target, zero + 4.0, zero + 2 * mean)},
        sessions={UP: zero},
        unread=(),
        nobodys=(),
        calibrated=True,
        problems=problems,
    )


def design(sessions, p_real, shots=15):
    """A retest design that costs 20 shots a session beside its own."""
    return Design(sessions, shots, p_real, sessions * (20.0 + shots))


def retest(player, *designs):
    """What would show a change of 4 mm, by some designs."""
    return RetestPlan(
        player, UP, 4.0, "what tee ladder is expected to move", 1.2, 0.98, designs, None, 15, "",
        "", (),
    )  # fmt: skip


def plan_of(gains, retests, weeks=12, sessions=10, devices=1, a_week=1):
    """A plan for players with mean gains in m."""
    return season_plan(
        [levers(name, mean, seed=i + 1) for i, (name, mean) in enumerate(gains.items())],
        lambda player, trait: retests.get(player),
        start=MONDAY,
        capacity=Capacity(weeks, sessions, devices),
        a_player_a_week=a_week,
    )
