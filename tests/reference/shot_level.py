"""The tendency model written out shot by shot with nothing integrated out: the slow reference.

    start[p, k]    ~ Normal(mu[k], spread[k])
    level[p, s, k] = start[p, k] + drift[k] * walk[p, s, k], a random walk over the weeks
    reading_i      = level + session_sd[k] * day[p, s, k] + noise_i

``noise_i`` has the variance of one shot plus that of its reading, and is normal or Student's t.
Traits are independent, there is one unbiased method and no logged change. Every shot is a term of
the likelihood and every session a parameter, so the cost of a gradient grows with both. Players'
starts are centred, since dozens of shots tell of each; walk and days are not.
"""

from dataclasses import dataclass

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from numpy.typing import NDArray

from models.tendency import LOG_SHOT_SD_MEAN_SD, LOG_SPREAD_SD, TendencyPriors

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

SHARED = ("mu", "spread", "drift", "session_sd", "log_shot_mean", "log_shot_spread", "log_shot_sd")
"""What is sampled here and in the tendency model under the same name; report on these."""


@dataclass(frozen=True, eq=False)
class ShotReadings:
    """Single readings, raw: nothing trimmed, nothing summarised.

    ``week`` (player, session): weeks since the squad's first session, in a player's own order;
    padding repeats the last one. ``player_idx``, ``session_idx``, ``trait_idx``, ``value`` and
    ``reading_sd`` have shape ``(reading,)``; the last two are in the trait's unit.
    """

    players: tuple[str, ...]
    traits: tuple[str, ...]
    week: Floats
    player_idx: Indices
    session_idx: Indices
    trait_idx: Indices
    value: Floats
    reading_sd: Floats


def build_shot_level_model(
    data: ShotReadings, priors: TendencyPriors, *, nu: float | None = None
) -> pm.Model:
    """Return the unsampled model under the tendency model's own priors.

    ``nu`` is the degrees of freedom of the noise, above 2; None stands for normal noise. SDs mean
    the same in both: a Student's t is scaled to the SD of shot and reading.
    """
    shape = (*data.week.shape, len(data.traits))
    coords = {
        "player": list(data.players),
        "trait": list(data.traits),
        "session": np.arange(shape[1]),
        "step": np.arange(shape[1] - 1),
        "reading": np.arange(data.value.size),
    }
    root_gap = np.sqrt(np.diff(data.week, axis=1))[..., None]
    with pm.Model(coords=coords) as model:
        mu = pm.Normal("mu", priors.mean, priors.mean_sd, dims="trait")
        spread = pm.HalfNormal("spread", priors.between_scale, dims="trait")
        drift = pm.HalfNormal("drift", priors.drift_scale, dims="trait")
        session_sd = pm.HalfNormal("session_sd", priors.session_scale, dims="trait")
        log_shot_mean = pm.Normal(
            "log_shot_mean", np.log(priors.shot_sd), LOG_SHOT_SD_MEAN_SD, dims="trait"
        )
        log_shot_spread = pm.LogNormal(
            "log_shot_spread", np.log(priors.log_shot_sd_spread), LOG_SPREAD_SD, dims="trait"
        )
        log_shot_sd = pm.Normal(
            "log_shot_sd", log_shot_mean, log_shot_spread, dims=("player", "trait")
        )
        start = pm.Normal("start", mu, spread, dims=("player", "trait"))
        step = pm.Normal("step_raw", dims=("player", "step", "trait"))
        walk = pt.concatenate(
            [pt.zeros((shape[0], 1, shape[2])), pt.cumsum(step * root_gap, axis=1)], axis=1
        )
        level = pm.Deterministic(
            "level",
            start[:, None] + drift * walk,
            dims=("player", "session", "trait"),
        )
        day = pm.Normal("day", dims=("player", "session", "trait"))
        at = (data.player_idx, data.session_idx, data.trait_idx)
        one_shot = pt.exp(log_shot_sd[data.player_idx, data.trait_idx])
        noise_sd = pt.sqrt(one_shot**2 + data.reading_sd**2)
        observe((level + session_sd * day)[at], noise_sd, data.value, nu=nu)
    return model


def observe(
    expected: pt.TensorVariable, sd: pt.TensorVariable, value: Floats, *, nu: float | None
) -> None:
    """Add readings with noise of that SD to the open model: normal, or Student's t if ``nu``."""
    if nu is None:
        pm.Normal("value", expected, sd, observed=value, dims="reading")
    else:
        scale = sd * np.sqrt((nu - 2) / nu)
        pm.StudentT("value", nu=nu, mu=expected, sigma=scale, observed=value, dims="reading")
