"""Who seems to have most to gain, from a few draws: good enough to choose whom to look at first."""

from models.traits import TARGETED
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.worth import Standing, best_lever, moved_part
from tracker.decisions.distance.yardstick import TOWARD
from tracker.posterior import Fit

SCREENED, SCREEN_DRAWS, SCREEN_SHOTS = 40, 12, 8
"""Most players, draws and shots of each, when looking for whom the coach sees first."""


def likely_to_gain(fit: Fit) -> tuple[str, ...]:
    """Return the players in the order of what their best lever seems to be worth, most first."""
    worth = {player.name: _screened(fit, player.name) for player in fit.players[:SCREENED]}
    return tuple(sorted(worth, key=lambda name: -worth[name]))


def _screened(fit: Fit, player: str) -> float:
    """Return roughly the highest gain a session of a player's levers, m."""
    cloud = player_cloud(fit, player, draws=SCREEN_DRAWS, shots=SCREEN_SHOTS)
    here = Standing.of(cloud, TOWARD)
    rates = [0.0]
    for trait in TARGETED:
        best = best_lever(fit, cloud, trait)
        if best is not None:
            gain = here.gain(moved_part(cloud, trait, best[1])).value
            rates.append(float(gain.mean()) / best[0].effort_sessions)
    return max(rates)
