"""Which physical constants a player's drives obey: the squad's calibrated ones, else published.

Delivered loft follows attack by kappa. What the player's own shots say about it is the slope of
loft on attack from shot to shot within sessions, reading error out,
    slope_i = correlation_i * loft SD_i / attack SD_i    in posterior draw i.
A swing that happens to come in steeper is not a swing that was taught to, so the slope stands for
kappa only up to an SD of .2 (estimate, no source). With the prior kappa ~ Normal(.7, .25) the
posterior is drawn exactly, draw by draw, by correcting a prior draw (Matheron's rule):
    kappa_i = prior_i + w (slope_i + .2 e_i - prior_i),  w = .25^2 / (.25^2 + var(slope) + .2^2).
So a player with many shots gets near the own slope, a player with few stays near the prior, and a
draw's kappa belongs with that draw's scatter. Without enough readings of both it is the prior.
"""

from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from models.arrays import Floats
from models.drive.parameters import DriveParameters, draw_parameters
from tracker.posterior import Fit

KAPPA: Final = "loft_follows_attack"
KAPPA_RANGE: Final = (0.0, 1.2)
"""Outside it no golfer's loft follows attack (as for the published prior)."""
SLOPE_STANDS_FOR_HABIT_SD: Final = 0.2
LEAST_READINGS: Final = 20
"""Readings of attack and of loft from which a player's own slope is asked."""


def player_physics(fit: Fit, player: str, kept: NDArray[np.int64], seed: int) -> DriveParameters:
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


def own_slope_draws(fit: Fit, player: str) -> Floats | None:
    """Return draws of a player's slope of loft on attack between shots; None with few readings."""
    traits = ("attack_deg", "loft_deg")
    if min(fit.of(player, t).readings for t in traits) < LEAST_READINGS:
        return None
    covariance = fit.shot_covariance(player, traits)
    return np.asarray(covariance[:, 0, 1] / covariance[:, 0, 0], dtype=np.float64)


def _kappa(fit: Fit, player: str, kept: NDArray[np.int64], before: Floats, seed: int) -> Floats:
    slope = own_slope_draws(fit, player)
    if slope is None:
        return before
    noise = np.random.default_rng([seed, kept.size]).standard_normal(kept.size)
    known = float(before.var())
    weight = known / (known + float(slope.var()) + SLOPE_STANDS_FOR_HABIT_SD**2)
    seen = slope[kept] + SLOPE_STANDS_FOR_HABIT_SD * noise
    return np.clip(before + weight * (seen - before), *KAPPA_RANGE)
