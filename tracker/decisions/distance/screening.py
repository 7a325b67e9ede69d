"""Who seems to have most to gain, from a few draws: good enough to choose whom to show first."""

import numpy as np

from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.fixes import fixable, standing
from tracker.decisions.distance.target import find_target
from tracker.posterior import Fit

SCREENED, SCREEN_DRAWS, SCREEN_SHOTS, SCREEN_SHARE = 40, 12, 8, 0.4
"""Most players, draws and shots of each, and share of the way a fix gets (the mean), when looking
for whom the coach sees first."""


def most_to_gain(fit: Fit) -> str | None:
    """Return the player whose best fix seems to be worth most; None without players."""
    worth = {player.name: _screened(fit, player.name) for player in fit.players[:SCREENED]}
    return max(worth, key=lambda name: worth[name]) if worth else None


def _screened(fit: Fit, player: str) -> float:
    """Return roughly what a player's best fix is worth, m."""
    cloud = player_cloud(fit, player, draws=SCREEN_DRAWS, shots=SCREEN_SHOTS)
    now = standing(cloud, np.full(cloud.draws, SCREEN_SHARE))
    targets = ((t, find_target(cloud, t).best) for t in fixable(fit, player))
    gains = (float(now.gain(now.partly(t, target)).mean()) for t, target in targets)
    return max(gains, default=0.0)
