"""The tendency model written out shot by shot with nothing integrated out: the slow reference.

    start[p]    ~ Normal(mu, spread)
    level[p, s] = start[p] + drift * walk[p, s], a random walk over the weeks
    reading_i   = level + session_sd * day[p, s] + noise_i

``noise_i`` has the variance of one shot plus that of its reading, and is normal or Student's t.
There is one trait, one unbiased method, no logged and no unlogged change, and days are not alike:
the tendency model without ``PLAINER``. Every shot is a term of the likelihood and every session a
parameter, so the cost of a gradient grows with both. Players' starts are centred, since dozens of
shots tell of each; walk and days are not.
"""

from dataclasses import dataclass

import numpy as np
import pymc as pm
import pytensor.tensor as pt
import xarray as xr
from numpy.typing import NDArray

from models.sampling import Effort
from models.tendency.density import LOG_SHOT_SD_MEAN_SD, LOG_SPREAD_SD
from models.traits import Prior
from tests.reference.one_trait import ALIKE, UNLOGGED

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

SHARED = ("mu", "spread", "drift", "session_sd", "log_shot_mean", "log_shot_spread")
"""What is sampled here and in the tendency model under the same name."""
PLAINER = ALIKE | UNLOGGED
"""What the tendency model has to leave out to be this one."""


@dataclass(frozen=True, eq=False)
class ShotReadings:
    """Single readings, raw: nothing trimmed, nothing summarised.

    ``week`` (player, session): weeks since the squad's first session, in a player's own order;
    padding repeats the last one. ``player_idx``, ``session_idx``, ``value`` and ``reading_sd``
    have shape ``(reading,)``; the last two are in the trait's unit.
    """

    players: tuple[str, ...]
    week: Floats
    player_idx: Indices
    session_idx: Indices
    value: Floats
    reading_sd: Floats


def build_shot_level_model(
    data: ShotReadings, prior: Prior, *, nu: float | None = None
) -> pm.Model:
    """Return the unsampled model under the tendency model's own priors.

    ``nu`` is the degrees of freedom of the noise, above 2; None stands for normal noise. SDs mean
    the same in both: a Student's t is scaled to the SD of shot and reading.
    """
    players, sessions = data.week.shape
    coords = {
        "player": list(data.players),
        "session": np.arange(sessions),
        "step": np.arange(sessions - 1),
        "reading": np.arange(data.value.size),
    }
    root_gap = np.sqrt(np.diff(data.week, axis=1))
    with pm.Model(coords=coords) as model:
        mu = pm.Normal("mu", prior.mean, prior.mean_sd)
        spread = pm.HalfNormal("spread", prior.between_scale)
        drift = pm.HalfNormal("drift", prior.drift_scale)
        session_sd = pm.HalfNormal("session_sd", prior.session_scale)
        log_shot_mean = pm.Normal("log_shot_mean", np.log(prior.shot_sd), LOG_SHOT_SD_MEAN_SD)
        log_shot_spread = pm.LogNormal(
            "log_shot_spread", np.log(prior.log_shot_sd_spread), LOG_SPREAD_SD
        )
        log_shot_sd = pm.Normal("log_shot_sd", log_shot_mean, log_shot_spread, dims="player")
        start = pm.Normal("start", mu, spread, dims="player")
        step = pm.Normal("step_raw", dims=("player", "step"))
        walk = pt.concatenate([pt.zeros((players, 1)), pt.cumsum(step * root_gap, axis=1)], axis=1)
        level = pm.Deterministic("level", start[:, None] + drift * walk, dims=("player", "session"))
        day = pm.Normal("day", dims=("player", "session"))
        one_shot = pt.exp(log_shot_sd[data.player_idx])
        noise_sd = pt.sqrt(one_shot**2 + data.reading_sd**2)
        expected = (level + session_sd * day)[data.player_idx, data.session_idx]
        if nu is None:
            pm.Normal("value", expected, noise_sd, observed=data.value, dims="reading")
        else:
            scale = noise_sd * np.sqrt((nu - 2) / nu)
            pm.StudentT(
                "value", nu=nu, mu=expected, sigma=scale, observed=data.value, dims="reading"
            )
    return model


def sampled_model(model: pm.Model, effort: Effort, seed: int) -> xr.DataTree:
    """Return posterior and sampler statistics of a PyMC model by the same sampler as a fit's."""
    with model:
        tree: xr.DataTree = pm.sample(
            effort.draws,
            tune=effort.tune,
            chains=effort.chains,
            target_accept=effort.target_accept,
            random_seed=seed,
            nuts_sampler="nutpie",
            progressbar=False,
        )
    return tree
