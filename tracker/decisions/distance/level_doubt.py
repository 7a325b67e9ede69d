"""How far the level of carry is in doubt by the constants of the physics alone."""

import numpy as np

from tracker.decisions.distance.cloud import averaged, player_cloud
from tracker.interval import Z90
from tracker.posterior import Fit

LOOKED_AT = (200, 16, 12)
"""Draws, shots and players from which the doubt about the level of carry is worked out."""


def level_doubt_m(fit: Fit) -> float:
    """Return how far a carry may be off by the constants alone, 90 % sure, m: median of players."""
    draws, shots, players = LOOKED_AT
    clouds = (player_cloud(fit, p.name, draws=draws, shots=shots) for p in fit.players[:players])
    spreads = [averaged(cloud, draws, shots).carry().std() for cloud in clouds]
    return Z90 * float(np.median(spreads))
