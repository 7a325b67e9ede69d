"""What one more session of readings of a trait is worth before a lever is chosen (preposterior).

In draw i the session would read on average
    x_i = level_i + Normal(0, session_sd_i^2 + (shot_sd_i^2 + reading_sd^2) / n),
n the player's usual shots. The levers' gains are regressed on x (Strong, Oakley & Brennan 2014,
Med. Decis. Making 34:311), here on a cubic; what is fitted is what would be expected of each lever
after the session, so
    EVSI = mean over draws of the best fitted gain - best mean gain,
doing nothing being one of the choices. Fitted deviations are shrunk to the variance that the
adjusted R-squared leaves them: noise of a few hundred draws is not worth reading.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from models.arrays import Floats, Indices
from models.traits import DELIVERY
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit

DEGREE = 3


def session_means(fit: Fit, player: str, level: Floats, kept: Indices) -> Mapping[str, Floats]:
    """Return by trait what the mean of one more session may be in each kept draw."""
    traits = [fit.of(player, t) for t in DELIVERY]
    shots = usual_shots(traits)
    rng = np.random.default_rng([traits[0].player_number, kept.size])
    found = {}
    for k, one in enumerate(traits):
        one_shot = one.shot_sd[kept] ** 2 + reading_variance(one)
        variance = one.session_sd[kept] ** 2 + one_shot / shots
        found[one.trait] = level[:, k] + np.sqrt(variance) * rng.standard_normal(kept.size)
    return found


def usual_shots(traits: Sequence[PlayerTrait]) -> float:
    """Return the median number of shots read in a player's sessions; one where none was."""
    most = np.max([one.counts.sum(axis=0) for one in traits], axis=0)
    return float(np.median(most[most > 0])) if most.any() else 1.0


def reading_variance(one: PlayerTrait) -> float:
    """Return the variance of one reading: by the player's methods, else by all."""
    used = one.counts.sum(axis=1)
    return float(np.average(one.reading_sd**2, weights=used if used.sum() else None))


def reading_worth(gains: Floats, session: Floats, more: Floats | None = None) -> float:
    """Return the EVSI of a session of readings in the unit of the gains.

    ``gains`` (draw, lever) are of what is on offer now; ``more`` (draw, lever) of what only these
    readings would put on offer. ``session`` (draw,) is what the session may read.
    """
    after = gains if more is None else np.concatenate([gains, more], axis=1)
    fitted = fitted_gains(after, session)
    now = max(0.0, float(gains.mean(axis=0).max(initial=0.0)))
    then = np.maximum(fitted.max(axis=1, initial=0.0), 0.0)
    return max(0.0, float(then.mean()) - now)


def fitted_gains(gains: Floats, session: Floats) -> Floats:
    """Return what is expected of each lever (draw, lever) given what a session reads."""
    mean = gains.mean(axis=0)
    spread = float(session.std())
    if not spread > 0 or gains.shape[0] <= DEGREE + 1:
        return np.broadcast_to(mean, gains.shape)
    x = (session - session.mean()) / spread
    basis = np.stack([x**power for power in range(1, DEGREE + 1)], axis=1)
    basis -= basis.mean(axis=0)
    solution, *_ = np.linalg.lstsq(basis, gains - mean, rcond=None)
    away = basis @ solution
    n = gains.shape[0]
    total = gains.var(axis=0)
    explained = np.divide(away.var(axis=0), total, out=np.zeros(mean.size), where=total > 0)
    adjusted = 1 - (1 - explained) * (n - 1) / (n - 1 - DEGREE)
    left = np.divide(adjusted, explained, out=np.zeros(mean.size), where=explained > 0)
    return np.asarray(mean + away * np.sqrt(np.clip(left, 0.0, 1.0)))
