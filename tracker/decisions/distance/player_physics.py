"""Which physical constants a player's drives obey, and what a moved attack angle takes along.

The constants are the squad's calibrated ones, else the published. Delivered loft follows attack by
kappa. What the player's own shots say about it is the slope of loft on attack from shot to shot
within sessions, reading error out,
    slope_i = correlation_i * loft SD_i / attack SD_i    in posterior draw i.
A swing that happens to come in steeper is not a swing that was taught to, so the slope stands for
kappa only up to an SD of .2 (estimate, no source). With the prior kappa ~ Normal(.7, .25) the
posterior is drawn exactly, draw by draw, by correcting a prior draw (Matheron's rule):
    kappa_i = prior_i + w (slope_i + .2 e_i - prior_i),  w = .25^2 / (.25^2 + var(slope) + .2^2).
So a player with many shots gets near the own slope, a player with few stays near the prior, and a
draw's kappa belongs with that draw's scatter. Without enough readings of both it is the prior.

Path follows attack in the same way: the club head moves in a plane inclined by 47 +- 5 degrees
(common practice, no source), so that hitting more up turns the path out-to-in by
-1 / tan(plane angle) degrees a degree; the prior of that slope is put together with the player's
own slope of path on attack just as kappa is.
"""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from models.arrays import Floats, Indices
from models.drive.parameters import DriveParameters, draw_parameters
from tracker.posterior import Fit

KAPPA: Final = "loft_follows_attack"
KAPPA_RANGE: Final = (0.0, 1.2)
"""Outside it no golfer's loft follows attack (as for the published prior)."""
SLOPE_STANDS_FOR_HABIT_SD: Final = 0.2
LEAST_READINGS: Final = 20
"""Readings of attack and of the other trait from which a player's own slope is asked."""
PLANE_DEG, PLANE_SD_DEG = 47.0, 5.0
"""Angle of a driver's swing plane to the ground (common practice, no source)."""
PLANE_SLOPE_RANGE: Final = (-1.8, 0.0)
"""Path a degree of attack: no swing plane lies flatter than some 29 degrees, or leans over."""


def player_physics(fit: Fit, player: str, kept: Indices, seed: int) -> DriveParameters:
    """Return a player's constants, one joint set for each of the kept posterior draws.

    Constants without a calibration are drawn from the published prior, the same for every player.
    """
    drawn = draw_parameters(kept.size, np.random.default_rng(seed))
    calibrated: dict[str, Any] = {
        name: values[kept] for name, values in fit.physics_of(player).items()
    }
    physics = replace(drawn, **calibrated)
    if fit.is_by_player(KAPPA):
        return physics
    before = np.asarray(physics.loft_follows_attack, dtype=np.float64)
    return replace(physics, loft_follows_attack=_kappa(fit, player, kept, before, seed))


def squad_physics(fit: Fit, kept: Indices, seed: int) -> DriveParameters:
    """Return the constants of an average player: the mean of the players' heads, draw by draw."""
    drawn = draw_parameters(kept.size, np.random.default_rng(seed))
    by_player = [fit.physics_of(p.name) for p in fit.players]
    calibrated: dict[str, Any] = {
        name: np.mean([own[name] for own in by_player], axis=0)[kept] for name in by_player[0]
    }
    return replace(drawn, **calibrated)


def own_slope_draws(fit: Fit, player: str, trait: str = "loft_deg") -> Floats | None:
    """Return draws of a player's slope of a trait on attack between shots; None with few read."""
    traits = ("attack_deg", trait)
    if min(fit.of(player, t).readings for t in traits) < LEAST_READINGS:
        return None
    covariance = fit.shot_covariance(player, traits)
    return np.asarray(covariance[:, 0, 1] / covariance[:, 0, 0], dtype=np.float64)


def path_follows_attack(fit: Fit, player: str, kept: Indices, seed: int) -> Floats:
    """Return draws of how far a player's path follows attack, degrees a degree."""
    before, slope = plane_slopes(kept.size, seed), own_slope_draws(fit, player, "path_deg")
    if slope is None:
        return before
    noise = np.random.default_rng([seed, kept.size, 8]).standard_normal(kept.size)
    return np.clip(_told(before, slope, kept, noise), *PLANE_SLOPE_RANGE)


def plane_slopes(draws: int, seed: int) -> Floats:
    """Return draws of the path a degree of attack that the inclined plane alone says."""
    normal = np.random.default_rng([seed, draws, 7]).standard_normal(draws)
    slope = -1 / np.tan(np.radians(PLANE_DEG + PLANE_SD_DEG * normal))
    return np.asarray(np.clip(slope, *PLANE_SLOPE_RANGE))


def _kappa(fit: Fit, player: str, kept: Indices, before: Floats, seed: int) -> Floats:
    slope = own_slope_draws(fit, player)
    if slope is None:
        return before
    noise = np.random.default_rng([seed, kept.size]).standard_normal(kept.size)
    return np.clip(_told(before, slope, kept, noise), *KAPPA_RANGE)


def _told(before: Floats, slope: Floats, kept: Indices, noise: Floats) -> Floats:
    """Return prior draws corrected by a player's own slope (Matheron's rule)."""
    known = float(before.var())
    weight = known / (known + float(slope.var()) + SLOPE_STANDS_FOR_HABIT_SD**2)
    seen = slope[kept] + SLOPE_STANDS_FOR_HABIT_SD * noise
    return np.asarray(before + weight * (seen - before))
