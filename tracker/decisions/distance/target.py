"""Where a player's trait should be: the level at which that player's own cloud does best.

The yardstick's expectation is worked out over a grid of levels of one trait, the others where they
are now (attack takes loft and path along), at the posterior mean and averaged over the drawn
physics, and read between grid points by a cubic spline. What can be reached is what peers reach:
    reach_i = mu_i +- 1.645 spread_i, widened to hold the player's own level of draw i,
so the target of draw i is the best level brought inside reach_i, and no bound is fixed by hand.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.arrays import Floats
from models.traits import DELIVERY, MODELLED, TARGETED, in_drive
from tracker.decisions.distance.cloud import Cloud, average_cloud, averaged, player_cloud
from tracker.decisions.distance.yardstick import CARRY, TOWARD, Yardstick, outcome
from tracker.errors import BadRequest
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB

FLAT_M = 1.0
"""Expectation given up at the ends of the flat window, m (or points)."""
PHYSICS_DRAWS, SHOTS = 48, 24
"""Draws of the physics and shots of each that the search averages over."""
REACHED_SDS = 1.645
"""SDs of the squad's spread that peers reach: nine in ten of them stand inside."""
LOOKED_AT_SDS = 2.5
"""SDs of the squad's spread that are looked at."""
GRID_POINTS = 9
FINE_POINTS = 601


@dataclass(frozen=True, slots=True)
class Target:
    """The best level of a trait that peers reach."""

    trait: str
    best: float
    window: tuple[float, float]
    """Levels within 1 m of it."""
    top: float
    """The expectation at ``best``."""
    beyond: float
    """The best of all that was looked at."""
    at_edge: bool
    """Whether the best lies at an end of what was looked at or beyond what peers reach, so that the
    true top may lie farther."""


def find_target(cloud: Cloud, trait: str, yardstick: Yardstick = TOWARD) -> Target:
    """Return the level of a trait that does best by a yardstick."""
    from scipy.interpolate import CubicSpline  # here, since it takes a second to load

    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    low, high = looked_at(cloud, trait)
    grid = np.linspace(low, high, GRID_POINTS)
    curve = CubicSpline(grid, expected(mean, trait, grid, yardstick))
    fine = np.linspace(low, high, FINE_POINTS)
    value = np.asarray(curve(fine))
    top = int(value.argmax())
    beyond = float(fine[top])
    lowest, highest = reach(cloud, trait)
    clipped = (beyond < lowest) | (beyond > highest)
    ends = float(np.median(lowest)), float(np.median(highest))
    best = min(max(beyond, ends[0]), ends[1])
    at_best = float(curve(best))
    place = int(np.abs(fine - best).argmin())
    far = np.flatnonzero((value < at_best - FLAT_M) | (fine < ends[0]) | (fine > ends[1]))
    left, right = far[far < place], far[far > place]
    first = int(left[-1]) + 1 if left.size else 0
    last = int(right[0]) - 1 if right.size else FINE_POINTS - 1
    return Target(
        trait=trait,
        best=best,
        window=(min(float(fine[first]), best), max(float(fine[last]), best)),
        top=at_best,
        beyond=beyond,
        at_edge=top in (0, FINE_POINTS - 1) or bool(clipped.mean() > 0.5),
    )


def reach(cloud: Cloud, trait: str) -> tuple[Floats, Floats]:
    """Return the lowest and the highest level that peers reach, one a draw."""
    k = DELIVERY.index(trait)
    middle, half = cloud.squad_mean[:, k], REACHED_SDS * cloud.squad_spread[:, k]
    own = cloud.level[:, k]
    return np.minimum(middle - half, own), np.maximum(middle + half, own)


def target_draws(cloud: Cloud, target: Target) -> Floats:
    """Return the target of each draw: the best level inside what peers reach in that draw."""
    lowest, highest = reach(cloud, target.trait)
    return np.asarray(np.clip(target.beyond, lowest, highest), dtype=np.float64)


def looked_at(cloud: Cloud, trait: str) -> tuple[float, float]:
    """Return the levels between which a trait's target is sought."""
    k = DELIVERY.index(trait)
    middle = float(cloud.squad_mean[:, k].mean())
    half = LOOKED_AT_SDS * float(cloud.squad_spread[:, k].mean())
    own = float(cloud.level[:, k].mean())
    return min(middle - half, own), max(middle + half, own)


def player_target(fit: Fit, player: str, trait: str) -> Target | None:
    """Return the target of a player's trait; None for one without a best level."""
    if not has_target(trait):
        return None
    return find_target(player_cloud(fit, player), trait)


def usual_targets(fit: Fit, traits: tuple[str, ...]) -> Mapping[str, float]:
    """Return the targets of the squad's average player by trait; none without a flight known."""
    if not traits or fit.info.club != DEFAULT_CLUB:
        return {}
    cloud = average_cloud(fit, draws=PHYSICS_DRAWS, shots=SHOTS)
    return {trait: find_target(cloud, trait).best for trait in traits}


def has_target(trait: str) -> bool:
    """Return whether there is a best level of a trait for a drive."""
    if trait not in MODELLED:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(MODELLED)}")
    return trait in TARGETED


def carry_slope(cloud: Cloud, trait: str) -> float:
    """Return metres of expected carry per unit of a trait, at the level now (central difference).

    Attack takes delivered loft and path along, as it does when a player moves it.
    """
    _known(trait)
    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    now = float(mean.level_of(trait)[0])
    step = in_drive(trait).step
    low, high = expected(mean, trait, np.array([now - step, now + step]), CARRY)
    return float((high - low) / (2 * step))


def expected(mean: Cloud, trait: str, levels: Floats, yardstick: Yardstick) -> Floats:
    """Return the yardstick's expectation at each of some levels of a trait, flown in one call."""
    points, draws = levels.size, mean.draws
    many = mean.taken(np.tile(np.arange(draws), points))
    moved = many.moved(trait, np.repeat(levels, draws))
    return outcome(moved, yardstick).value.reshape(points, draws).mean(axis=1)


def _known(trait: str) -> None:
    if trait not in DELIVERY:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(DELIVERY)}")
