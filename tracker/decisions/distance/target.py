"""Where a player's trait should be: the level at which that player's own cloud carries farthest.

Expected carry is worked out over a grid of levels of one trait, the others where they are now
(attack drags delivered loft), at the posterior mean and averaged over the drawn physics, and read
between grid points by a cubic spline. Loft, strike and attack are held inside realistic bounds
(common practice, no source). Face and path are targets for carry, not for direction: they are
sought within 6 degrees of one another.
"""

from dataclasses import dataclass, replace

import numpy as np

from models.arrays import Floats
from tracker.decisions.distance.cloud import DELIVERY, Cloud, averaged, player_cloud
from tracker.errors import BadRequest
from tracker.posterior import (
    Fit,
)

FLAT_M = 1.0
"""Expected carry given up at the ends of the flat window, m."""
PHYSICS_DRAWS, SHOTS = 48, 24
"""Draws of the physics and shots of each that the search averages over."""
FACE_TO_PATH_DEG = 6.0

BOUNDS = {
    "strike_toe_mm": (-16.0, 16.0),
    "strike_up_mm": (-12.0, 16.0),
    "attack_deg": (-3.0, 6.0),
    "loft_deg": (6.0, 20.0),
}
"""Realistic levels for a driver, in the trait's unit."""
GRID_POINTS = 9
FINE_POINTS = 601


@dataclass(frozen=True, slots=True)
class Target:
    """The best level of a trait, the window within 1 m of the top, and the carry at the top.

    ``at_edge``: the best lies at an end of the range looked at, so the true top may lie beyond.
    """

    trait: str
    best: float
    window: tuple[float, float]
    carry_m: float
    at_edge: bool


def find_target(cloud: Cloud, trait: str) -> Target:
    """Return the level of a trait that maximises a cloud's expected carry."""
    from scipy.interpolate import CubicSpline  # here, since it takes a second to load

    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    low, high = bounds(mean, trait)
    grid = np.linspace(low, high, GRID_POINTS)
    curve = CubicSpline(grid, expected_carry(mean, trait, grid))
    fine = np.linspace(low, high, FINE_POINTS)
    carry = np.asarray(curve(fine))
    top = int(carry.argmax())
    below = np.flatnonzero(carry < carry[top] - FLAT_M)
    left = below[below < top]
    right = below[below > top]
    first = int(left[-1]) + 1 if left.size else 0
    last = int(right[0]) - 1 if right.size else FINE_POINTS - 1
    return Target(
        trait=trait,
        best=float(fine[top]),
        window=(float(fine[first]), float(fine[last])),
        carry_m=float(carry[top]),
        at_edge=top in (0, FINE_POINTS - 1),
    )


def player_target(fit: Fit, player: str, trait: str) -> float | None:
    """Return the target of a player's trait; None for club speed, which has none."""
    if trait == "club_speed_mps":
        return None
    _known(trait)
    return find_target(player_cloud(fit, player), trait).best


def carry_slope(cloud: Cloud, trait: str) -> float:
    """Return metres of expected carry per unit of a trait, at the level now (central difference).

    Attack drags delivered loft along, as it does when a player moves it.
    """
    _known(trait)
    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    now = float(mean.level_of(trait)[0])
    step = _STEP[trait]
    low, high = expected_carry(mean, trait, np.array([now - step, now + step]))
    return float((high - low) / (2 * step))


def bounds(cloud: Cloud, trait: str) -> tuple[float, float]:
    """Return the levels between which a trait's target is sought."""
    if trait in BOUNDS:
        return BOUNDS[trait]
    other = {"face_deg": "path_deg", "path_deg": "face_deg"}[trait]
    middle = float(cloud.level_of(other).mean())
    return middle - FACE_TO_PATH_DEG, middle + FACE_TO_PATH_DEG


def expected_carry(mean: Cloud, trait: str, levels: Floats) -> Floats:
    """Return the expected carry at each of some levels of a trait, all flown in one call."""
    points, draws = levels.size, mean.draws
    index = np.tile(np.arange(draws), points)
    many = replace(
        mean,
        level=np.concatenate([mean.level_at(trait, float(v)) for v in levels]),
        scatter=mean.scatter[index],
        tight_scatter=mean.tight_scatter[index],
        covariance=mean.covariance[index],
        physics=mean.physics.take(index),
    )
    return many.carry().reshape(points, draws).mean(axis=1)


_STEP = {
    "strike_toe_mm": 1.0,
    "strike_up_mm": 1.0,
    "attack_deg": 0.25,
    "club_speed_mps": 0.25,
    "loft_deg": 0.25,
    "path_deg": 0.25,
    "face_deg": 0.25,
}


def _known(trait: str) -> None:
    if trait not in DELIVERY:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(DELIVERY)}")
