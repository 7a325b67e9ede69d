"""One trait of the tendency model shot by shot, with levels and days sampled: the slow reference.

    start[p]   ~ Normal(mu, spread)
    level[p,s] = start[p] + drift * walk[p,s], a random walk over the weeks
                 + size[p] * shape, of at most one change that nobody logged
    day[p,s]   = session_sd * a first-order autoregression with correlation day_alike
    reading_i  = level + day + noise_i

``noise_i`` has the variance of one shot plus that of its reading, and is normal or Student's t.
Summed over are only the kind of unlogged change and its place; levels are drawn afterwards
(``level_draws``). Every shot is a term of the likelihood and every session a parameter, so the cost
of a gradient grows with both. Players' starts are centred, since dozens of shots tell of each; walk
and days are not.

Left out of ``models.tendency.model``: logged changes, methods with a bias, missed faces, sessions
in which the trait was not read, players with one session. Priors are the model's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from models.arrays import Floats, Indices
from models.tendency.density import (
    ALIKE_PRIOR,
    HALF_YEAR_WEEKS,
    JUMP_CHANCE_PRIOR,
    JUMP_SD_OF_CHANGE,
    LOG_JUMP_SD,
    LOG_SHOT_SD_MEAN_SD,
    LOG_SPREAD_SD,
)
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY, STEADY_WEEKS
from models.traits import Prior

SHARED = (
    "mu", "spread", "drift", "session_sd", "day_alike", "log_shot_mean", "log_shot_spread",
    "jump_sd", "jump_chance",
)  # fmt: skip
"""What is sampled here and in the tendency model under the same name; report on these."""


@dataclass(frozen=True, eq=False)
class ShotReadings:
    """Single readings of one trait by one method, raw: nothing trimmed, nothing summarised.

    ``week`` (player, session): weeks since the squad's first session, in a player's own order;
    padding repeats the last one, and every session before it has readings. ``player_idx``,
    ``session_idx``, ``value`` and ``reading_sd`` have shape ``(reading,)``; the last two are in the
    trait's unit.
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
    shape, share = change_kinds(data.week)
    coords = {
        "player": list(data.players),
        "session": np.arange(sessions),
        "step": np.arange(sessions - 1),
        "kind": np.arange(shape.shape[1]),
    }
    p, s = data.player_idx, data.session_idx
    with pm.Model(coords=coords) as model:
        mu = pm.Normal("mu", prior.mean, prior.mean_sd)
        spread = pm.HalfNormal("spread", prior.between_scale)
        drift = pm.HalfNormal("drift", prior.drift_scale)
        session_sd = pm.HalfNormal("session_sd", prior.session_scale)
        day_alike = pm.Beta("day_alike", *ALIKE_PRIOR)
        log_shot_mean = pm.Normal("log_shot_mean", np.log(prior.shot_sd), LOG_SHOT_SD_MEAN_SD)
        log_shot_spread = pm.LogNormal(
            "log_shot_spread", np.log(prior.log_shot_sd_spread), LOG_SPREAD_SD
        )
        log_shot_sd = pm.Normal("log_shot_sd", log_shot_mean, log_shot_spread, dims="player")

        start = pm.Normal("start", mu, spread, dims="player")
        step = pm.Normal("step_raw", dims=("player", "step"))
        walk = pt.cumsum(step * np.sqrt(np.diff(data.week, axis=1)), axis=1)
        walk = pt.concatenate([pt.zeros((players, 1)), walk], axis=1)
        unchanged = pm.Deterministic(
            "unchanged", start[:, None] + drift * walk, dims=("player", "session")
        )
        fresh = pm.Normal("day_raw", dims=("player", "session"))
        days = [fresh[:, 0]]
        for i in range(1, sessions):
            days.append(day_alike * days[-1] + pt.sqrt(1 - day_alike**2) * fresh[:, i])
        day = session_sd * pt.stack(days, axis=1)

        jump_sd = pm.LogNormal(
            "jump_sd", np.log(JUMP_SD_OF_CHANGE * prior.change_scale), LOG_JUMP_SD
        )
        jump_chance = pm.Beta("jump_chance", *JUMP_CHANCE_PRIOR)
        even = np.ones(len(JUMP_VARIANCES)) / len(JUMP_VARIANCES)
        size = pm.NormalMixture("size", even, 0, jump_sd * np.sqrt(JUMP_VARIANCES), dims="player")
        log_none = pt.log1p(-jump_chance) * np.ptp(data.week, axis=1) / HALF_YEAR_WEEKS
        log_some = pt.log(-pt.expm1(log_none))
        log_kind = pt.concatenate(
            [log_none[:, None], log_some[:, None] + np.log(np.maximum(share, 1e-300))], axis=1
        )
        noise_sd = pt.sqrt(pt.exp(2 * log_shot_sd[p]) + data.reading_sd**2)
        expected = (unchanged + day)[p, s][:, None] + size[p][:, None] * shape[p, :, s]
        given = pm.logp(_noise(expected, noise_sd[:, None], nu=nu), data.value[:, None])
        own = (p == np.arange(players)[:, None]).astype(float)
        by_kind = pm.Deterministic("log_kind", own @ given + log_kind, dims=("player", "kind"))
        pm.Potential("readings", pt.logsumexp(by_kind, axis=1).sum())
    return model


def change_kinds(week: Floats) -> tuple[Floats, Floats]:
    """Return what each kind of unlogged change does to the sessions, and how likely it is.

    Shapes ``(player, kind, session)``: none, steady, a jump before each session but the first, per
    unit of size; and shares ``(player, kind - 1)`` of the changes that there are.
    """
    players, sessions = week.shape
    since, gaps = week - week[:, :1], np.diff(week, axis=1)
    jumps = np.tril(np.ones((sessions, sessions))).T[1:]
    jumps = np.broadcast_to(jumps, (players, sessions - 1, sessions))
    steady = since[:, None] / STEADY_WEEKS
    shape = np.concatenate([np.zeros((players, 1, sessions)), steady, jumps], axis=1)
    at = (1 - STEADY) * gaps / since[:, -1:]
    return shape, np.concatenate([np.full((players, 1), STEADY), at], axis=1)


def level_draws(draws: Mapping[str, Floats], week: Floats, rng: np.random.Generator) -> Floats:
    """Return draws of the levels, (sample, player, session), a kind of change drawn for each.

    ``draws`` has ``unchanged``, ``size`` and ``log_kind``, samples first.
    """
    log = draws["log_kind"]
    kind = np.argmax(log + rng.gumbel(size=log.shape), axis=2)
    shape = change_kinds(week)[0][np.arange(week.shape[0]), kind]
    return np.asarray(draws["unchanged"] + draws["size"][..., None] * shape)


def observe(
    expected: pt.TensorVariable, sd: pt.TensorVariable, value: Floats, *, nu: float | None
) -> None:
    """Add readings with noise of that SD to the open model: normal, or Student's t if ``nu``."""
    if nu is None:
        pm.Normal("value", expected, sd, observed=value, dims="reading")
    else:
        scale = sd * np.sqrt((nu - 2) / nu)
        pm.StudentT("value", nu=nu, mu=expected, sigma=scale, observed=value, dims="reading")


def _noise(
    expected: pt.TensorVariable, sd: pt.TensorVariable, *, nu: float | None
) -> pt.TensorVariable:
    if nu is None:
        return pm.Normal.dist(expected, sd)
    return pm.StudentT.dist(nu=nu, mu=expected, sigma=sd * np.sqrt((nu - 2) / nu))
