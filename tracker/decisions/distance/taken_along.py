"""How far delivered loft and path follow a moved attack angle: per player, units a degree, draws.

Three sources speak of a player's slope t_i of what is taught:
    t_i ~ Normal(t, player_sd^2),   t ~ Normal(mean, squad_sd^2)       what is known of golfers,
    own shots:   b_i = t_i + d + Normal(0, SHOTS_SD^2),   d ~ Normal(0, SHOTS_SD^2)
    own changes: c_i = t_i + error                                     (``taught``).
b_i is the slope from shot to shot within sessions, reading error out: correlation times SD of the
trait over SD of attack. A swing that happens to come in steeper is not a swing that was taught to;
how far the one stands for the other is d, the same for a squad, and learned where attack was
changed. t and d are learned from all players (a linear Gaussian model, exactly), and a player's
draws are prior draws corrected by what was seen (Matheron's rule), so that a draw's slope belongs
with that draw's scatter. With few readings and no change of attack it is the prior.

Loft: the prior of the drive's constants, Normal(.7, .25^2) a player. Path: the club head moves in a
plane inclined by 47 +- 5 degrees (common practice, no source), so that hitting more up turns the
path out-to-in by 1 / tan(plane angle) degrees a degree; but who is taught to hit up may aim the
swing anew, so a squad's slope is known to .45 beyond the plane's doubt. All SDs are estimates
without a source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from models.arrays import Floats, Indices
from models.drive.parameters import KAPPA_MEAN, KAPPA_SD
from tracker.decisions.distance.taught import ATTACK, taught_slope
from tracker.posterior import Fit

LEAST_READINGS: Final = 20
"""Readings of attack and of the other trait from which a player's own slope is asked."""
SHOTS_SD: Final = 0.2 / np.sqrt(2)
"""How far the slope from shot to shot strays from the taught one: a squad's, and a player's."""
PLANE_DEG, PLANE_SD_DEG = 47.0, 5.0
"""Angle of a driver's swing plane to the ground (common practice, no source)."""
AIMED_ANEW_SD: Final = 0.45
PLANE_SLOPE: Final = -1 / float(np.tan(np.radians(PLANE_DEG)))
PLANE_SLOPE_SD: Final = float(np.radians(PLANE_SD_DEG) / np.sin(np.radians(PLANE_DEG)) ** 2)


@dataclass(frozen=True, slots=True)
class Following:
    """What is known of golfers about a trait that follows attack."""

    mean: float
    squad_sd: float
    player_sd: float
    range: tuple[float, float]
    """Outside it no golfer's trait follows."""

    @property
    def sd(self) -> float:
        """Return the SD of one golfer's slope."""
        return float(np.hypot(self.squad_sd, self.player_sd))


PLAYER_SD: Final = 0.15
FOLLOWING: Final[Mapping[str, Following]] = {
    "loft_deg": Following(
        KAPPA_MEAN, float(np.sqrt(KAPPA_SD**2 - PLAYER_SD**2)), PLAYER_SD, (0.0, 1.2)
    ),
    "path_deg": Following(
        PLANE_SLOPE, float(np.hypot(PLANE_SLOPE_SD, AIMED_ANEW_SD)), PLAYER_SD, (-1.8, 0.6)
    ),
}


@dataclass(frozen=True, eq=False, slots=True)
class _Seen:
    """What was seen of one player: own shots, own changes, either or neither."""

    of: Floats
    """What each is a reading of: how much of the slope, how much of d; (seen, 2)."""
    draws: Floats
    """What it reads, (seen, sample)."""
    beside: Floats
    """Variance of its error beside that of the draws, (seen,)."""

    @property
    def variance(self) -> Floats:
        """Return the whole variance of each error, (seen,)."""
        return np.asarray(self.draws.var(axis=1) + self.beside)


@dataclass(frozen=True, eq=False, slots=True)
class _Squad:
    """A squad's t and d: information of the prior and of each player, (2, 2) and (2,)."""

    seen: Mapping[str, _Seen]
    matrices: Mapping[str, Floats]
    vectors: Mapping[str, Floats]
    matrix: Floats
    vector: Floats


_HELD: WeakKeyDictionary[Fit, dict[str, _Squad]] = WeakKeyDictionary()
"""By fit and trait, as long as the fit is held: every player's answer asks for all players."""


def own_slope_draws(fit: Fit, player: str, trait: str = "loft_deg") -> Floats | None:
    """Return draws of a player's slope of a trait on attack between shots; None with few read."""
    traits = (ATTACK, trait)
    if min(fit.of(player, t).readings for t in traits) < LEAST_READINGS:
        return None
    covariance = fit.shot_covariance(player, traits)
    return np.asarray(covariance[:, 0, 1] / covariance[:, 0, 0], dtype=np.float64)


def player_follows(
    fit: Fit, player: str, trait: str, kept: Indices, before: Floats, seed: int
) -> Floats:
    """Return draws of how far a player's trait follows attack, units a degree, in the kept draws.

    ``before`` (kept,) are draws of what is known of any golfer: they come back as they are where
    nothing was seen, neither of the player nor of the squad.
    """
    known, squad = FOLLOWING[trait], _squad(fit, trait)
    seen = squad.seen[player]
    # t and d as all others tell them, so that nothing is counted twice
    covariance = np.linalg.inv(squad.matrix - squad.matrices[player])
    t, d = covariance @ (squad.vector - squad.vectors[player])
    covariance[0, 0] += known.player_sd**2
    rng = np.random.default_rng([seed, kept.size, tuple(FOLLOWING).index(trait)])
    sd = np.sqrt(covariance[0, 0])
    slope = t + (before - known.mean) * sd / known.sd
    shared = covariance[0, 1] / sd**2
    left = np.sqrt(max(covariance[1, 1] - shared * covariance[0, 1], 0.0))
    strays = d + shared * (slope - t) + left * rng.standard_normal(kept.size)
    errors = np.sqrt(seen.beside)[:, None] * rng.standard_normal((seen.beside.size, kept.size))
    missed = seen.draws[:, kept] + errors - seen.of @ np.stack([slope, strays])
    of_seen = seen.of @ covariance @ seen.of.T + np.diag(seen.variance)
    gain = covariance[0] @ seen.of.T @ np.linalg.inv(of_seen)
    return np.asarray(np.clip(slope + gain @ missed, *known.range))


def squad_follows(fit: Fit, trait: str, before: Floats) -> Floats:
    """Return draws of how far an average player's trait follows attack, units a degree.

    ``before`` is as for ``player_follows``.
    """
    known, squad = FOLLOWING[trait], _squad(fit, trait)
    covariance = np.linalg.inv(squad.matrix)
    t = float((covariance @ squad.vector)[0])
    sd = float(np.sqrt(covariance[0, 0] + known.player_sd**2))
    return np.asarray(np.clip(t + (before - known.mean) * sd / known.sd, *known.range))


def players_taught(fit: Fit) -> int:
    """Return in how many players a logged change of attack says what it takes along."""
    squads = [_squad(fit, trait).seen for trait in FOLLOWING]
    # own changes tell of the slope alone, without d
    return sum(any(0.0 in seen[p.name].of for seen in squads) for p in fit.players)


def plane_slopes(draws: int, seed: int) -> Floats:
    """Return draws of the path a degree of attack before anything was seen of a squad."""
    known = FOLLOWING["path_deg"]
    normal = np.random.default_rng([seed, draws, 7]).standard_normal(draws)
    return np.asarray(known.mean + known.sd * normal)


def _squad(fit: Fit, trait: str) -> _Squad:
    held = _HELD.setdefault(fit, {})
    if trait not in held:
        known = FOLLOWING[trait]
        names = [p.name for p in fit.players]
        seen = {name: _seen(fit, name, trait) for name in names}
        told = {name: _information(known, one) for name, one in seen.items()}
        prior = np.array([known.squad_sd**-2, SHOTS_SD**-2])
        held[trait] = _Squad(
            seen=seen,
            matrices={name: matrix for name, (matrix, _) in told.items()},
            vectors={name: vector for name, (_, vector) in told.items()},
            matrix=np.diag(prior) + sum(matrix for matrix, _ in told.values()),
            vector=prior * [known.mean, 0.0] + sum(vector for _, vector in told.values()),
        )
    return held[trait]


def _seen(fit: Fit, player: str, trait: str) -> _Seen:
    shots, taught = own_slope_draws(fit, player, trait), taught_slope(fit, player, trait)
    found = []
    if shots is not None:
        found.append(((1.0, 1.0), shots, SHOTS_SD**2))
    if taught.weight:
        found.append(((1.0, 0.0), np.full(fit.samples, taught.slope), 1 / taught.weight))
    return _Seen(
        of=np.array([of for of, _, _ in found]).reshape(-1, 2),
        draws=np.array([draws for _, draws, _ in found]).reshape(-1, fit.samples),
        beside=np.array([beside for _, _, beside in found]),
    )


def _information(known: Following, seen: _Seen) -> tuple[Floats, Floats]:
    """Return what a player tells of t and d: information matrix (2, 2) and vector (2,)."""
    precision = np.linalg.inv(np.diag(seen.variance) + known.player_sd**2)
    weighted = seen.of.T @ precision
    return weighted @ seen.of, weighted @ seen.draws.mean(axis=1)
