"""Ranks of known truth among posterior draws are uniform (Talts et al. 2018, arXiv:1804.06788).

A squad of six with a drill for half of them, two reading methods and gaps: parameters from the
prior, data from the model's equations written out shot by shot, one fit each. Bands: Kolmogorov's
distance at 99.5 %, so that ten quantities together pass with 95 %.
"""

import numpy as np
import pytest

from models.sampling import Effort, compile_model, sample, stacked
from models.smoother import smooth_levels
from models.tendency import (
    LOG_SHOT_SD_MEAN_SD,
    LOG_SPREAD_SD,
    TendencyData,
    TendencyPriors,
    build_tendency_model,
    effect_started,
    packed_data,
)
from models.traits import TRAITS

pytestmark = [pytest.mark.slow, pytest.mark.timeout(3600), pytest.mark.filterwarnings("default")]

REPLICATES = 500
PLAYERS, SESSIONS = 6, 5
RANKS = 99
BAND = 1.73 / np.sqrt(REPLICATES)
READING_SD = np.array([[1.0], [2.5]])
DRILLED = (0, 1, 2)


def simulate(rng, priors):
    """Draw parameters from the prior and a season from them; return truth and data."""
    prior = priors
    truth = {
        "mu": rng.normal(prior.mean, prior.mean_sd),
        "spread": np.abs(rng.normal(0, prior.between_scale)),
        "drift": np.abs(rng.normal(0, prior.drift_scale)),
        "session_sd": np.abs(rng.normal(0, prior.session_scale)),
        "free_bias": rng.normal(0, prior.bias_scale),
        "group_effect": rng.normal(0, prior.change_scale),
    }
    tau = np.abs(rng.normal(0, 0.5 * prior.change_scale))
    log_mean = rng.normal(np.log(prior.shot_sd), LOG_SHOT_SD_MEAN_SD)
    log_spread = np.exp(rng.normal(np.log(prior.log_shot_sd_spread), LOG_SPREAD_SD))
    truth["log_shot_sd"] = rng.normal(log_mean, log_spread, PLAYERS)
    truth["effect"] = rng.normal(truth["group_effect"], tau, len(DRILLED))
    gap = np.concatenate(
        [np.zeros((PLAYERS, 1)), rng.uniform(0.5, 4, (PLAYERS, SESSIONS - 1))], axis=1
    )
    week = np.cumsum(gap, axis=1)
    count = np.zeros((2, PLAYERS, SESSIONS, 1))
    mean = np.zeros_like(count)
    scatter, freedom = np.zeros((2, PLAYERS, 1)), np.zeros((2, PLAYERS, 1))
    level = np.zeros((PLAYERS, SESSIONS))
    start = 2  # the drill begins before the third session
    for p in range(PLAYERS):
        value = rng.normal(truth["mu"][0], truth["spread"][0])
        for s in range(SESSIONS):
            value += rng.normal(0, truth["drift"][0] * np.sqrt(gap[p, s]))
            drilled = p in DRILLED and s >= start
            level[p, s] = value + (truth["effect"][DRILLED.index(p)] if drilled else 0.0)
            day = level[p, s] + rng.normal(0, truth["session_sd"][0])
            shots = day + rng.normal(0, np.exp(truth["log_shot_sd"][p]), rng.integers(4, 16))
            method = int(rng.random() < 0.5)
            bias = truth["free_bias"][0] if method else 0.0
            readings = shots + bias + rng.normal(0, READING_SD[method, 0], shots.size)
            count[method, p, s, 0], mean[method, p, s, 0] = readings.size, readings.mean()
            scatter[method, p, 0] += ((readings - readings.mean()) ** 2).sum()
            freedom[method, p, 0] += readings.size - 1
    drills = len(DRILLED)
    data = TendencyData(
        players=tuple("abcdef"),
        traits=("strike_up_mm",),
        week=week,
        gap=gap,
        count=count,
        mean=mean,
        scatter=scatter,
        scatter_df=freedom,
        reading_sd=READING_SD,
        free_method=np.array([1]),
        free_trait=np.array([0]),
        change_player=np.array(DRILLED),
        change_week=week[list(DRILLED), start],
        effect_change=np.arange(drills),
        effect_trait=np.zeros(drills, dtype=np.int64),
        effect_group=np.zeros(drills, dtype=np.int64),
        group_trait=np.zeros(1, dtype=np.int64),
        pair_z=np.zeros((PLAYERS, 0)),
        pair_variance=np.zeros((PLAYERS, 0)),
        missed=np.zeros(PLAYERS),
        strike_mean=np.zeros((PLAYERS, 2)),
    )
    return {**truth, "level": level}, data


NAMES = [
    "mu", "spread", "drift", "session_sd", "free_bias", "group_effect", "effect", "log_shot_sd",
]  # fmt: skip


def levels(draws, data, rng):
    samples = len(draws["mu"])
    step = np.zeros((samples, PLAYERS, SESSIONS, 1))
    started = effect_started(data)
    for e, p in enumerate(data.change_player):
        step[:, p, :, 0] += draws["effect"][:, e][:, None] * started[e]
    bias = np.zeros((samples, 2, 1))
    bias[:, 1, 0] = draws["free_bias"][:, 0]
    return smooth_levels(
        {**draws, "bias": bias},
        count=data.count,
        mean=data.mean,
        gap=data.gap,
        reading_sd=data.reading_sd,
        step=step,
        rng=rng,
    )[..., 0]


@pytest.fixture(scope="module")
def ranks():
    rng = np.random.default_rng(7)
    priors = TendencyPriors.from_table((TRAITS["strike_up_mm"].prior,))
    _, first = simulate(rng, priors)
    compiled = compile_model(build_tendency_model(first, priors))
    effort = Effort(draws=1000, tune=500, chains=2, target_accept=0.95)
    found = {name: [] for name in (*NAMES, "level_first", "level_last", "best_player")}
    for replicate in range(REPLICATES):
        truth, data = simulate(rng, priors)
        refit = compiled.with_data(summaries=packed_data(data))
        draws = dict(stacked(sample(refit, effort, replicate), NAMES, RANKS))
        level = levels(draws, data, rng)
        for name in NAMES:
            found[name].append((draws[name][:, 0] < np.atleast_1d(truth[name])[0]).sum())
        found["level_first"].append((level[:, 0, 0] < truth["level"][0, 0]).sum())
        found["level_last"].append((level[:, 0, -1] < truth["level"][0, -1]).sum())
        ahead = truth["level"][0, -1] - truth["level"][3, -1]
        found["best_player"].append((level[:, 0, -1] - level[:, 3, -1] < ahead).sum())
    return {name: np.array(values) for name, values in found.items()}


@pytest.mark.parametrize("name", [*NAMES, "level_first", "level_last", "best_player"])
def test_ranks_are_uniform(ranks, name):
    values = np.sort(ranks[name])
    grid = np.arange(RANKS + 1)
    ecdf = np.searchsorted(values, grid, side="right") / values.size
    distance = np.abs(ecdf - (grid + 1) / (RANKS + 1)).max()
    print(f"{name}: largest distance {distance:.3f}, band {BAND:.3f}")
    assert distance < BAND
