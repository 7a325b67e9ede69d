"""Who works on what in which weeks of a season, so that the squad gains most from the time it has.

Each player has at most one programme: the lever that comes first, and a retest of it. Those that
fit are chosen by ``assignment``; everybody else is named with the reason.

What a retest takes is slow to work out. Of a squad that is much too large for its sessions it is
worked out for those worth most a session, with the shortest retest there is, who would fill the
season twice over; the others have no place.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from tracker.decisions.distance.gain import ranked
from tracker.decisions.distance.gain_answer import Gains, Measure
from tracker.decisions.distance.gain_words import HANGS_ON_LUCK
from tracker.decisions.distance.worth import PlayerLevers
from tracker.decisions.season.assignment import Capacity, assigned, sessions_used
from tracker.decisions.season.programme import (
    Block,
    Programme,
    blocks_of,
    checked_pace,
    demand_of,
    programme,
)
from tracker.decisions.verdict.retest import RetestPlan
from tracker.decisions.verdict.trial import SESSIONS
from tracker.interval import Interval

LOOKED_AT: Final = 2.0
"""How often those whose retests are worked out would fill the season."""

RetestOf = Callable[[str, str], RetestPlan | None]
"""Player and trait of the first lever to what would show it at the season's pace."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One player's programme with its dates."""

    programme: Programme
    blocks: tuple[Block, ...]

    @property
    def player(self) -> str:
        """Return whose it is."""
        return self.programme.player

    @property
    def retest_on(self) -> date | None:
        """Return the day from which the change is measured again; None where it is not."""
        return next((b.start for b in self.blocks if b.kind == "retest"), None)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A player without a place in the plan."""

    player: str
    why: str
    reading: Measure | None
    """What one more measured session would be worth to the next decision."""


@dataclass(frozen=True, slots=True)
class SeasonPlan:
    """A season's plan; empty where the fit is in doubt. Gains by the yardstick, m or points."""

    start: date
    capacity: Capacity
    a_player_a_week: int
    planned: tuple[Planned, ...]
    """The earliest first, of equals the one worth most."""
    left_out: tuple[LeftOut, ...]
    used: tuple[int, ...]
    """The coach's sessions taken in each week."""
    measured_sessions: int
    measured_shots: int
    """Of the retests; how many are read before practice is the player's usual."""
    measuring_slots: int
    """The coach's sessions that measuring takes."""
    total: Interval | None
    """What the planned levers are worth together; None with nobody planned."""
    reading: tuple[str, Measure] | None
    """Whose decision one more measured session would change most, and what it is worth."""
    problems: tuple[str, ...]

    @property
    def players(self) -> int:
        """Return how many players were looked at."""
        return len(self.planned) + len(self.left_out)


def first_levers(levers: Sequence[PlayerLevers]) -> tuple[Gains, ...]:
    """Return every player's ranked levers, at the efforts that were logged."""
    return tuple(ranked(one) for one in levers)


def season_plan(
    levers: Sequence[PlayerLevers],
    retest_of: RetestOf,
    *,
    start: date,
    capacity: Capacity,
    a_player_a_week: int = 1,
    gains: Sequence[Gains] | None = None,
) -> SeasonPlan:
    """Return the plan of a squad's season from ``start`` on.

    ``retest_of`` is asked for those who have a chance of a place, at ``a_player_a_week``.
    ``gains`` are the levers as ``first_levers`` ranks them, where that is done already.
    """
    checked_pace(a_player_a_week)
    gains = first_levers(levers) if gains is None else gains
    made = {
        one.player: programme(one, None, weeks=capacity.weeks, a_week=a_player_a_week)
        for one in gains
    }
    alone = [p for p in made.values() if p is not None]
    closer = {p.player for p in _looked_at(alone, capacity, a_player_a_week)}
    for one in gains:
        if one.player in closer and one.first is not None:
            retest = retest_of(one.player, one.first)
            made[one.player] = programme(one, retest, weeks=capacity.weeks, a_week=a_player_a_week)
    programmes = [p for p in made.values() if p is not None and p.player in closer]
    demands = [demand_of(p, a_player_a_week) for p in programmes]
    starts = assigned(demands, capacity)
    begins = dict(zip((p.player for p in programmes), starts, strict=True))
    planned = tuple(
        Planned(p, blocks_of(p, start + timedelta(weeks=week), a_player_a_week))
        for p, week in zip(programmes, starts, strict=True)
        if week is not None
    )
    used = sessions_used(demands, starts, capacity)
    practice = sum(one.programme.practice_sessions for one in planned)
    return SeasonPlan(
        start=start,
        capacity=capacity,
        a_player_a_week=a_player_a_week,
        planned=tuple(
            sorted(planned, key=lambda p: (p.blocks[0].start, -p.programme.lever.mean_gain_m))
        ),
        left_out=tuple(
            LeftOut(one.player, _why(one, made[one.player], capacity, a_player_a_week), one.measure)
            for one in gains
            if begins.get(one.player) is None
        ),
        used=tuple(int(n) for n in used),
        measured_sessions=sum(
            b.sessions for one in planned for b in one.blocks if b.kind != "practice"
        ),
        measured_shots=sum(
            design.sessions * design.shots_per_session
            for one in planned
            if (design := one.programme.retest) is not None
        ),
        measuring_slots=int(used.sum()) - practice,
        total=_total(levers, planned),
        reading=_reading(gains),
        problems=tuple(dict.fromkeys(p for one in gains for p in one.problems)),
    )


def _looked_at(
    programmes: Sequence[Programme], capacity: Capacity, a_week: int
) -> tuple[Programme, ...]:
    """Return the programmes, without retests yet, that have a chance of a place."""

    def takes(one: Programme) -> float:
        return one.practice_sessions + SESSIONS[0] / capacity.devices

    fit_in = [p for p in programmes if demand_of(p, a_week).weeks <= capacity.weeks]
    ordered = sorted(fit_in, key=lambda p: -p.lever.mean_gain_m / takes(p))
    before = np.cumsum([0.0, *(takes(p) for p in ordered)])
    room = LOOKED_AT * capacity.weeks * capacity.sessions_a_week
    return tuple(p for p, taken in zip(ordered, before, strict=False) if taken < room)


def _total(levers: Sequence[PlayerLevers], planned: Sequence[Planned]) -> Interval | None:
    """Return the planned gains added draw by draw: players share the physics and the drills."""
    chosen = {one.player: one.programme.lever.lever.key for one in planned}
    draws = [
        worth.gain
        for one in levers
        for worth in one.offered
        if worth.lever.key == chosen.get(one.player)
    ]
    if not draws:
        return None
    return Interval.from_draws(np.sum(draws, axis=0), levers[0].yardstick.unit)


def _reading(gains: Sequence[Gains]) -> tuple[str, Measure] | None:
    worth = [(one.player, one.measure) for one in gains if one.measure is not None]
    return max(worth, key=lambda pair: pair[1].worth_m, default=None)


def _why(gains: Gains, made: Programme | None, capacity: Capacity, a_week: int) -> str:
    if gains.problems:
        return "the fit did not pass its checks"
    if gains.unsure:
        return f"what seems best {HANGS_ON_LUCK}"
    if made is None:
        return "no lever is expected to pay"
    weeks = demand_of(made, a_week).weeks
    if weeks > capacity.weeks:
        return f"practice takes {weeks} weeks, the plan has {capacity.weeks}"
    if made.lever.mean_gain_m <= 0:
        return "no lever is expected to pay"
    return "no room: the sessions are taken by changes that are worth more together"
