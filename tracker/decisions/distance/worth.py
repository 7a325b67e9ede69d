"""What each lever is worth to a player by a yardstick: the draws, before any ranking.

    gain = E[yardstick | level moved by the lever] - E[yardstick | level now],
draw by draw, with the same physics and the same shots on both sides; spread is kept. A moved attack
angle takes loft and path along as this player moves; beside it stands the trait alone. Beside every
gain stands what the lever changes of the chance to stay inside the corridor, what the trait all
the way at its target would be worth, and what the same lever is worth to an average player of the
squad, so that what is particular to this one shows.

A lever of a trait of which the player has no reading is worked out but not offered: its level is
the squad's, or the prior's. It shows what a reading would be worth.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from models.arrays import Floats
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, TARGETED, in_drive
from tracker.decisions.distance.cloud import (
    DISTANCE_PARTS,
    Cloud,
    average_cloud,
    player_cloud,
    spaced,
)
from tracker.decisions.distance.lever_inputs import lever_inputs
from tracker.decisions.distance.levers import (
    FACE_SCATTER,
    FASTER,
    STRIKE_SCATTER,
    Lever,
    LeverEffect,
    moved_by,
    trait_effects,
)
from tracker.decisions.distance.next_reading import session_means
from tracker.decisions.distance.taken_along import players_taught
from tracker.decisions.distance.target import Target, find_target, target_draws
from tracker.decisions.distance.yardstick import TOWARD, Outcome, Yardstick, outcome
from tracker.posterior import Fit

ASIDE = (200, 24)
"""Draws and shots for what stands beside the headline: full fix, trait alone, average player."""
RUN = (130, 24)
"""Draws and shots for what the ball does, whose run is slow to work out."""
MPS_PER_MPH = 0.44704


@dataclass(frozen=True, eq=False, slots=True)
class LeverWorth:
    """What one lever of a player does; draws, the headline's one a draw of the cloud."""

    effect: LeverEffect
    move: Floats
    """How far the trait moves, its unit."""
    gain: Floats
    """By the yardstick: metres, or points."""
    inside: Floats
    """Change of the chance to stay inside the corridor, points."""
    alone: Floats
    """The gain with nothing following the trait."""
    ball: "BallMeans"
    """What else changes."""
    common: float | None
    """Mean gain of the same lever in an average player of the squad."""

    @property
    def lever(self) -> Lever:
        """Return which lever it is."""
        return self.effect.lever


@dataclass(frozen=True, eq=False, slots=True)
class YardstickWorth:
    """What would come of something no drill here is known to give."""

    lever: Lever
    gain: Floats
    inside: Floats


@dataclass(frozen=True, eq=False, slots=True)
class TraitWorth:
    """Where a trait should be: its target, that of each draw, and the gain all the way there."""

    target: Target
    aim: Floats
    full: Floats


@dataclass(frozen=True, eq=False, slots=True)
class BallMeans:
    """Means over the shots of what the ball does, one a draw: m, m/s, rpm and m."""

    total: Floats
    ball_speed: Floats
    spin: Floats
    side: Floats

    @classmethod
    def of(cls, cloud: Cloud) -> "BallMeans":
        """Fly a cloud and take its means."""
        flown = cloud.drives()
        values = (flown.total_m, flown.ball_speed_mps, flown.spin_rpm, flown.side_m)
        return cls(*(v.mean(axis=1) for v in values))

    def less(self, other: "BallMeans") -> "BallMeans":
        """Return how these means differ from others."""
        return BallMeans(
            self.total - other.total,
            self.ball_speed - other.ball_speed,
            self.spin - other.spin,
            self.side - other.side,
        )


@dataclass(frozen=True, eq=False, slots=True)
class PlayerLevers:
    """All that ranking a player's levers needs, so that other efforts cost no new physics."""

    player: str
    as_of: datetime
    yardstick: Yardstick
    level: Floats
    physics: DriveParameters
    path_follows_attack: Floats
    """Degrees of path a degree of attack."""
    attack_changed_in: int
    """Players of the squad whose logged changes of attack say what comes along."""
    carry: Floats
    tighter: Floats
    offered: tuple[LeverWorth, ...]
    """The levers of traits that were read ..."""
    unread_levers: tuple[LeverWorth, ...]
    """... and of the others."""
    yardsticks: tuple[YardstickWorth, ...]
    by_trait: Mapping[str, TraitWorth]
    sessions: Mapping[str, Floats]
    """By trait, what the mean of one more session may read in each draw."""
    unread: tuple[str, ...]
    """Traits without a reading of the player's ..."""
    nobodys: tuple[str, ...]
    """... and without one of anybody's."""
    calibrated: bool
    problems: tuple[str, ...]

    def level_of(self, trait: str) -> Floats:
        """Return the draws of one trait's level now."""
        return self.level[:, DELIVERY.index(trait)]


@dataclass(frozen=True, eq=False, slots=True)
class Standing:
    """A cloud, and how it does now by a yardstick."""

    cloud: Cloud
    yardstick: Yardstick
    now: Outcome

    @classmethod
    def of(cls, cloud: Cloud, yardstick: Yardstick) -> "Standing":
        """Fly a cloud as it is."""
        return cls(cloud, yardstick, outcome(cloud, yardstick))

    def gain(self, moved: Cloud) -> Outcome:
        """Return how much better a moved cloud does, one a draw."""
        then = outcome(moved, self.yardstick)
        return Outcome(then.value - self.now.value, then.inside - self.now.inside)


def player_levers(
    fit: Fit,
    player: str,
    *,
    yardstick: Yardstick = TOWARD,
    seed: int = 1,
    draws: int = 400,
    shots: int = 32,
    common: Mapping[str, float] | None = None,
) -> PlayerLevers:
    """Return the draws of what each lever is worth to a player at the last session.

    ``common`` is ``common_gains`` of the same fit and yardstick, where it is at hand.
    """
    cloud = player_cloud(fit, player, seed=seed, draws=draws, shots=shots)
    kept = spaced(fit.samples, draws)
    inputs = lever_inputs(fit, player)
    if common is None:
        common = common_gains(fit, yardstick, seed)
    head, aside = Standing.of(cloud, yardstick), Standing.of(cloud.part(*ASIDE), yardstick)
    run = cloud.part(*RUN)
    flown = BallMeans.of(run)
    worths, by_trait = [], {}
    for trait in TARGETED:
        target = find_target(cloud, trait, yardstick)
        aim, level = target_draws(cloud, target), cloud.level_of(trait)
        full = aside.cloud.moved(trait, target_draws(aside.cloud, target))
        by_trait[trait] = TraitWorth(target, aim, aside.gain(full).value)
        for effect in trait_effects(inputs, player, target, level, kept):
            move = moved_by(effect.effect, level, aim)
            gain = head.gain(cloud.moved(trait, level + move))
            worths.append(
                LeverWorth(
                    effect=effect,
                    move=move,
                    gain=gain.value,
                    inside=gain.inside,
                    alone=_alone(aside, trait, move) if in_drive(trait).drags else gain.value,
                    ball=BallMeans.of(moved_part(run, trait, move)).less(flown),
                    common=common.get(effect.lever.key),
                )
            )
    return PlayerLevers(
        player=player,
        as_of=cloud.as_of,
        yardstick=yardstick,
        level=cloud.level,
        physics=cloud.physics,
        path_follows_attack=cloud.path_follows_attack,
        attack_changed_in=players_taught(fit),
        carry=cloud.carry(),
        tighter=aside.cloud.tightened().carry() - aside.cloud.carry(),
        offered=tuple(w for w in worths if w.lever.trait in inputs.read),
        unread_levers=tuple(w for w in worths if w.lever.trait not in inputs.read),
        yardsticks=_yardsticks(aside),
        by_trait={t: w for t, w in by_trait.items() if t in inputs.read},
        sessions=session_means(fit, player, cloud.level, kept),
        unread=tuple(t for t in DELIVERY if not fit.of(player, t).is_read),
        nobodys=tuple(t for t in DELIVERY if not fit.squad(t).is_read),
        calibrated=fit.is_calibrated,
        problems=fit.problems_of(*DISTANCE_PARTS),
    )


def common_gains(fit: Fit, yardstick: Yardstick = TOWARD, seed: int = 1) -> Mapping[str, float]:
    """Return the mean gain of every lever in an average player of the squad, by ``Lever.key``."""
    cloud = average_cloud(fit, seed=seed, draws=ASIDE[0], shots=ASIDE[1])
    kept = spaced(fit.samples, ASIDE[0])
    inputs, here = lever_inputs(fit, None), Standing.of(cloud, yardstick)
    found = {}
    for trait in TARGETED:
        target = find_target(cloud, trait, yardstick)
        aim, level = target_draws(cloud, target), cloud.level_of(trait)
        for effect in trait_effects(inputs, "", target, level, kept):
            move = moved_by(effect.effect, level, aim)
            gain = here.gain(cloud.moved(trait, level + move)).value
            found[effect.lever.key] = float(gain.mean())
    return found


def best_lever(
    fit: Fit, cloud: Cloud, trait: str, yardstick: Yardstick = TOWARD
) -> tuple[LeverEffect, Floats] | None:
    """Return the lever of a trait with the highest gain a session, and draws of its move.

    None for a trait without a target, or of which the player has no reading.
    """
    inputs = lever_inputs(fit, cloud.player)
    if trait not in TARGETED or trait not in inputs.read:
        return None
    target, level = find_target(cloud, trait, yardstick), cloud.level_of(trait)
    aim, here = target_draws(cloud, target), Standing.of(cloud, yardstick)
    kept = spaced(fit.samples, cloud.draws)
    moves = [
        (effect, moved_by(effect.effect, level, aim))
        for effect in trait_effects(inputs, cloud.player, target, level, kept)
    ]

    def rate(one: tuple[LeverEffect, Floats]) -> float:
        gain = here.gain(cloud.moved(trait, level + one[1])).value
        return float(gain.mean()) / one[0].effort_sessions

    return max(moves, key=rate)


def moved_part(part: Cloud, trait: str, move: Floats) -> Cloud:
    """Return a part of a cloud moved by what the whole cloud's draws are moved by."""
    return part.moved(trait, part.level_of(trait) + move[spaced(move.size, part.draws)])


def _alone(aside: Standing, trait: str, move: Floats) -> Floats:
    cloud = aside.cloud
    to = cloud.level_of(trait) + move[spaced(move.size, cloud.draws)]
    return aside.gain(cloud.moved(trait, to, "none")).value


def _yardsticks(aside: Standing) -> tuple[YardstickWorth, ...]:
    cloud = aside.cloud
    faster = cloud.level.copy()
    faster[:, DELIVERY.index("club_speed_mps")] += MPS_PER_MPH
    clouds = {
        STRIKE_SCATTER: cloud.tightened("strike_toe_mm", "strike_up_mm"),
        FACE_SCATTER: cloud.tightened("face_deg"),
        FASTER: replace(cloud, level=faster),
    }
    gains = {lever: aside.gain(moved) for lever, moved in clouds.items()}
    return tuple(YardstickWorth(lever, g.value, g.inside) for lever, g in gains.items())
