"""Which physical constants a player's drives obey, and what a moved attack angle takes along.

The constants are the squad's calibrated ones, else the published. What a moved attack angle takes
along is in ``taken_along``.
"""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from models.arrays import Floats, Indices
from models.drive.parameters import DriveParameters, draw_parameters
from tracker.decisions.distance.taken_along import plane_slopes, player_follows, squad_follows
from tracker.posterior import Fit

KAPPA: Final = "loft_follows_attack"
LOFT, PATH = "loft_deg", "path_deg"


def player_physics(fit: Fit, player: str, kept: Indices, seed: int) -> DriveParameters:
    """Return a player's constants, one joint set for each of the kept posterior draws.

    Constants without a calibration are drawn from the published prior, the same for every player.
    """
    drawn = draw_parameters(kept.size, np.random.default_rng(seed))
    calibrated: dict[str, Any] = {
        name: values[kept] for name, values in fit.physics_of(player).items()
    }
    if KAPPA in calibrated:
        return replace(drawn, **calibrated)
    before = np.asarray(drawn.loft_follows_attack, dtype=np.float64)
    follows = player_follows(fit, player, LOFT, kept, before, seed)
    return replace(drawn, **calibrated, loft_follows_attack=follows)


def squad_physics(fit: Fit, kept: Indices, seed: int) -> DriveParameters:
    """Return the constants of an average player: the mean of the players' heads, draw by draw."""
    drawn = draw_parameters(kept.size, np.random.default_rng(seed))
    by_player = [fit.physics_of(p.name) for p in fit.players]
    calibrated: dict[str, Any] = {
        name: np.mean([own[name] for own in by_player], axis=0)[kept] for name in by_player[0]
    }
    if KAPPA in calibrated:
        return replace(drawn, **calibrated)
    before = np.asarray(drawn.loft_follows_attack, dtype=np.float64)
    follows = squad_follows(fit, LOFT, before)
    return replace(drawn, **calibrated, loft_follows_attack=follows)


def path_follows_attack(fit: Fit, player: str, kept: Indices, seed: int) -> Floats:
    """Return draws of how far a player's path follows attack, degrees a degree."""
    return player_follows(fit, player, PATH, kept, plane_slopes(kept.size, seed), seed)


def squad_path_follows_attack(fit: Fit, kept: Indices, seed: int) -> Floats:
    """Return draws of how far an average player's path follows attack, degrees a degree."""
    return squad_follows(fit, PATH, plane_slopes(kept.size, seed))
