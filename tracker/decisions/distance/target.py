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
from models.traits import DELIVERY, MODELLED, TRAITS, in_drive
from tracker.decisions.distance.cloud import Cloud, averaged, player_cloud
from tracker.errors import BadRequest
from tracker.posterior import Fit

FLAT_M = 1.0
"""Expected carry given up at the ends of the flat window, m."""
PHYSICS_DRAWS, SHOTS = 48, 24
"""Draws of the physics and shots of each that the search averages over."""
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
    """Return the target of a player's trait; None for one without a best level for carry."""
    if not has_target(trait):
        return None
    return find_target(player_cloud(fit, player), trait).best


def has_target(trait: str) -> bool:
    """Return whether expected carry has a best level of a trait."""
    if trait not in MODELLED:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(MODELLED)}")
    row = TRAITS[trait]
    return row.goal == "target" and row.drive is not None


def carry_slope(cloud: Cloud, trait: str) -> float:
    """Return metres of expected carry per unit of a trait, at the level now (central difference).

    Attack drags delivered loft along, as it does when a player moves it.
    """
    _known(trait)
    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    now = float(mean.level_of(trait)[0])
    step = in_drive(trait).step
    low, high = expected_carry(mean, trait, np.array([now - step, now + step]))
    return float((high - low) / (2 * step))


def bounds(cloud: Cloud, trait: str) -> tuple[float, float]:
    """Return the levels between which a trait's target is sought."""
    how = in_drive(trait)
    if how.search is None:
        raise ValueError(f"{trait} has no target")
    low, high = how.search
    middle = float(cloud.level_of(how.around).mean()) if how.around else 0.0
    return middle + low, middle + high


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


def _known(trait: str) -> None:
    if trait not in DELIVERY:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(DELIVERY)}")
