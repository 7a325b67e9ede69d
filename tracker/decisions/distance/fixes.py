"""What moving each trait toward its target is worth to a player: the draws, before any ranking.

A partial fix moves a trait's level a share f of the way to its target, spread kept:
    gain = E[carry | level + f (target - level)] - E[carry | level],
draw by draw, with the same physics and the same shots on both sides. f ~ Beta(2.4, 3.6) is one
draw for all faults of a posterior draw: it stands for how far this player's practice gets, which
the faults share, so that P(best) shows what more reading could settle and not the luck of practice.

The headline moves one trait and lets delivered loft follow a moved attack angle. Beside it stand
the trait alone (loft held too), the trait with everything that moves along with it from shot to
shot in this player, and the trait all the way at its target.

Club speed is no fault (it has no target), and path is none beside the face: carry depends on the
gap between the two, so listing both would offer the same gain twice. A trait of which the player
has no reading is none either: its level is the squad's, or the prior's.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from models.arrays import Floats
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, FAULTS, in_drive
from tracker.decisions.distance.cloud import (
    DISTANCE_PARTS,
    Cloud,
    Following,
    player_cloud,
    spaced,
)
from tracker.decisions.distance.target import Target, find_target
from tracker.posterior import Fit

SHARE_A, SHARE_B = 2.4, 3.6
"""Beta shape of the share of the way a fix gets: mean .40, 90 % from .12 to .72 (estimate, no
source), until the squad's own history of changes replaces it."""
ASIDE = (200, 24)
"""Draws and shots for what stands beside the headline: full fix, loft held, as the player moves."""
RUN = (130, 24)
"""Draws and shots for what the ball does, whose run is slow to work out."""


@dataclass(frozen=True, eq=False, slots=True)
class FixDraws:
    """Draws of what one fix is worth; ``partial`` one a draw of the cloud, the others fewer.

    ``partial`` is the headline, ``alone`` has loft held, in ``as_player_moves`` the other traits
    follow, ``full`` is all the way at the target; all in m of carry. The rest is what else changes
    with the headline: ``total`` and ``side`` in m, ``ball_speed`` in m/s, ``spin`` in rpm.
    """

    target: Target
    partial: Floats
    alone: Floats
    as_player_moves: Floats
    full: Floats
    total: Floats
    ball_speed: Floats
    spin: Floats
    side: Floats


@dataclass(frozen=True, eq=False, slots=True)
class PlayerFixes:
    """All that ranking a player's faults needs, so that other efforts cost no new physics.

    ``level`` (draw, trait of ``DELIVERY``) and ``carry`` are now; ``share`` is how far a fix gets;
    ``tighter`` what a fifth less scatter is worth; ``by_trait`` holds the fixes of what was read;
    ``unread`` are the traits without a reading of the player's, ``nobodys`` of anybody's.
    """

    player: str
    as_of: datetime
    level: Floats
    physics: DriveParameters
    share: Floats
    carry: Floats
    tighter: Floats
    by_trait: Mapping[str, FixDraws]
    unread: tuple[str, ...]
    nobodys: tuple[str, ...]
    calibrated: bool
    problems: tuple[str, ...]

    def level_of(self, trait: str) -> Floats:
        """Return the draws of one trait's level now."""
        return self.level[:, DELIVERY.index(trait)]


@dataclass(frozen=True, eq=False, slots=True)
class Standing:
    """A cloud, the share of the way a fix gets in each of its draws, and its carry now."""

    cloud: Cloud
    share: Floats
    now: Floats

    def partly(self, trait: str, target: float, following: Following = "loft") -> Cloud:
        """Return the cloud with one trait its share of the way to a target."""
        level = self.cloud.level_of(trait)
        return self.cloud.moved(trait, level + self.share * (target - level), following)

    def gain(self, moved: Cloud) -> Floats:
        """Return how much farther a moved cloud carries, one a draw, in m."""
        return moved.carry() - self.now


@dataclass(frozen=True, eq=False, slots=True)
class BallMeans:
    """Means over the shots of what the ball does, one a draw."""

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


def player_fixes(
    fit: Fit, player: str, *, seed: int = 1, draws: int = 400, shots: int = 32
) -> PlayerFixes:
    """Return the draws of what each fix is worth to a player at the last session."""
    cloud = player_cloud(fit, player, seed=seed, draws=draws, shots=shots)
    share = share_draws(cloud.draws, seed)
    headline, aside = standing(cloud, share), standing(cloud, share, ASIDE)
    run = standing(cloud, share, RUN)
    flown = BallMeans.of(run.cloud)
    return PlayerFixes(
        player=player,
        as_of=cloud.as_of,
        level=cloud.level,
        physics=cloud.physics,
        share=share,
        carry=headline.now,
        tighter=aside.gain(aside.cloud.tightened()),
        by_trait={t: fix_draws(headline, aside, run, flown, t) for t in fixable(fit, player)},
        unread=tuple(t for t in DELIVERY if not fit.of(player, t).is_read),
        nobodys=tuple(t for t in DELIVERY if not fit.squad(t).is_read),
        calibrated=fit.is_calibrated,
        problems=fit.problems_of(*DISTANCE_PARTS),
    )


def fixable(fit: Fit, player: str) -> tuple[str, ...]:
    """Return the traits that may be a player's fault: those of which there are readings."""
    return tuple(t for t in FAULTS if fit.of(player, t).is_read)


def share_draws(draws: int, seed: int) -> Floats:
    """Return draws of the share of the way that a fix gets."""
    return np.random.default_rng([seed, draws]).beta(SHARE_A, SHARE_B, draws)


def standing(cloud: Cloud, share: Floats, part: tuple[int, int] | None = None) -> Standing:
    """Return a player as for the headline, or from some of the draws and shots."""
    if part is None:
        return Standing(cloud, share, cloud.carry())
    some = cloud.part(*part)
    return Standing(some, share[spaced(share.size, part[0])], some.carry())


def fix_draws(
    headline: Standing, aside: Standing, run: Standing, flown: BallMeans, trait: str
) -> FixDraws:
    """Return the draws of what a fix is worth; ``flown`` is what the ball of ``run`` does now."""
    target = find_target(headline.cloud, trait)
    partial = headline.gain(headline.partly(trait, target.best))
    alone = partial
    if in_drive(trait).drags:  # nothing else moves with any other trait
        alone = aside.gain(aside.partly(trait, target.best, "none"))
    after = BallMeans.of(run.partly(trait, target.best))
    return FixDraws(
        target=target,
        partial=partial,
        alone=alone,
        as_player_moves=aside.gain(aside.partly(trait, target.best, "all")),
        full=aside.gain(aside.cloud.moved(trait, target.best)),
        total=after.total - flown.total,
        ball_speed=after.ball_speed - flown.ball_speed,
        spin=after.spin - flown.spin,
        side=after.side - flown.side,
    )
