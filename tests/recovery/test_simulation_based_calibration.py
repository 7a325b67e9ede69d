"""Ranks of known truth among posterior draws are uniform (Talts et al. 2018, arXiv:1804.06788).

A squad of six with two drills, two reading methods, unread sessions and gaps: parameters from the
prior, data from the model's equations written out shot by shot, alike days, heavy-tailed effects
and at most one unlogged change of each player included; one fit each. Bands: Kolmogorov's distance
at 99.7 %, so that all quantities together pass with 95 %.
"""

import numpy as np
import pytest

from models.sampling.sampler import Effort, sample, stacked
from models.tendency.data import TendencyData, trait_series
from models.tendency.density import HALF_YEAR_WEEKS, prior_draws, tendency_target
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY, STEADY_WEEKS
from models.tendency.likelihood import EFFECT_VARIANCES
from models.tendency.smoother import smoothed
from models.traits import TRAITS
from tests.reference.one_trait import by_player

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

REPLICATES = 500
PLAYERS, SESSIONS = 6, 6
RANKS = 99
BAND = 1.82 / np.sqrt(REPLICATES)
READING_SD = np.array([[1.0], [2.5]])
DRILLED = ((0, 2, 0), (0, 4, 1), (1, 2, 0), (2, 3, 0), (3, 1, 1))
"""Player, first session and drill of each logged change, in the order of ``TraitSeries``."""
UNREAD = 0.1
EFFORT = Effort(draws=1000, tune=500, chains=2, cores=2, target_accept=0.95, doublings=3)


def simulate(rng, prior):
    """Draw parameters from the prior and a season from them; return truth and data."""
    truth = {name: value[0] for name, value in prior_draws(prior, 1, rng).items()}
    truth["bias"] = rng.normal(0, prior.bias_scale)
    truth["group_effect"] = truth["drill_scale"] * rng.standard_normal(2)
    part = rng.choice(EFFECT_VARIANCES, len(DRILLED))
    drills = [g for _, _, g in DRILLED]
    own = truth["effect_sd"] * np.sqrt(part) * rng.standard_normal(len(DRILLED))
    truth["effect"] = truth["group_effect"][drills] + own
    truth["log_shot_sd"] = rng.normal(truth["log_shot_mean"], truth["log_shot_spread"], PLAYERS)
    gap = np.concatenate(
        [np.zeros((PLAYERS, 1)), rng.uniform(0.5, 4, (PLAYERS, SESSIONS - 1))], axis=1
    )
    week = np.cumsum(gap, axis=1)
    count = np.zeros((2, PLAYERS, SESSIONS, 1))
    mean = np.zeros_like(count)
    scatter, freedom = np.zeros((2, PLAYERS, 1)), np.zeros((2, PLAYERS, 1))
    level = np.zeros((PLAYERS, SESSIONS))
    for p in range(PLAYERS):
        walk = np.cumsum(truth["drift"] * np.sqrt(gap[p]) * rng.standard_normal(SESSIONS))
        level[p] = rng.normal(truth["mu"], truth["spread"]) + walk + unlogged(rng, truth, gap[p])
        for c, (player, start, _) in enumerate(DRILLED):
            level[p, start:] += truth["effect"][c] * (player == p)
        day = None
        for s in np.flatnonzero(rng.random(SESSIONS) >= UNREAD):
            fresh = rng.normal(0, truth["session_sd"])
            alike = truth["day_alike"]
            day = fresh if day is None else alike * day + np.sqrt(1 - alike**2) * fresh
            shots = level[p, s] + day + rng.normal(
                0, np.exp(truth["log_shot_sd"][p]), rng.integers(4, 16)
            )  # fmt: skip
            method = (p + s) % 2
            readings = shots + method * truth["bias"]
            readings = readings + rng.normal(0, READING_SD[method, 0], shots.size)
            count[method, p, s, 0], mean[method, p, s, 0] = readings.size, readings.mean()
            scatter[method, p, 0] += ((readings - readings.mean()) ** 2).sum()
            freedom[method, p, 0] += readings.size - 1
    changes = len(DRILLED)
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
        change_player=np.array([p for p, _, _ in DRILLED]),
        change_week=np.array([week[p, s] for p, s, _ in DRILLED]),
        effect_change=np.arange(changes),
        effect_trait=np.zeros(changes, dtype=np.int64),
        effect_group=np.array(drills),
        group_trait=np.zeros(2, dtype=np.int64),
        pair_z=np.zeros((PLAYERS, 0)),
        pair_variance=np.zeros((PLAYERS, 0)),
        missed=np.zeros(PLAYERS),
        strike_mean=np.zeros((PLAYERS, 2)),
    )
    return {**truth, "level": level}, data


def unlogged(rng, truth, gap):
    """What a change that nobody logged adds to each level of a player, (session,)."""
    span = gap.sum()
    rate = -np.log1p(-truth["jump_chance"]) / HALF_YEAR_WEEKS
    if rng.random() < np.exp(-rate * span):
        return np.zeros(gap.size)
    size = truth["jump_sd"] * np.sqrt(rng.choice(JUMP_VARIANCES)) * rng.standard_normal()
    if rng.random() < STEADY:
        return size / STEADY_WEEKS * np.cumsum(gap)
    place = rng.choice(gap.size, p=gap / span)
    return size * (np.arange(gap.size) >= place)


SCALES = (
    "mu", "spread", "drift", "session_sd", "day_alike", "log_shot_mean", "log_shot_spread",
    "effect_sd", "jump_sd", "jump_chance", "drill_scale",
)  # fmt: skip
OTHERS = (
    "bias", "drill", "effect", "log_shot_sd", "level_first", "level_last", "best_player",
    "progress",
)  # fmt: skip


def quantities(found):
    """Everything that is ranked, from truth or draws whose first axes are alike."""
    level = found["level"]
    return {
        **{name: found[name] for name in SCALES},
        "bias": found["bias"],
        "drill": found["group_effect"][..., 0],
        "effect": found["effect"][..., 0],
        "log_shot_sd": found["log_shot_sd"][..., 0],
        "level_first": level[..., 0, 0],
        "level_last": level[..., 0, -1],
        "best_player": level[..., 0, -1] - level[..., 3, -1],
        "progress": level[..., 5, -1] - level[..., 5, 0],
    }


def ranks_of(replicate, prior):
    """The rank of the truth among ``RANKS`` draws, by quantity."""
    rng = np.random.default_rng([7, replicate])
    truth, data = simulate(rng, prior)
    series = trait_series(data, 0, prior)
    assert series.effect.tolist() == list(range(len(DRILLED)))
    target = tendency_target(series, prior)
    tree = sample(target, EFFORT, replicate)
    draws = stacked(tree, list(target.named(target.start)), RANKS)
    hidden = smoothed(draws, series, rng)
    found = quantities(
        {
            **draws,
            "bias": draws["bias"][:, 0],
            "effect": hidden.effect,
            "log_shot_sd": np.log(hidden.shot_sd),
            "level": np.stack(by_player(hidden.level, series), axis=1),
        }
    )
    return {name: int((found[name] < true).sum()) for name, true in quantities(truth).items()}


@pytest.fixture(scope="module")
def ranks():
    prior = TRAITS["strike_up_mm"].prior
    found = [ranks_of(replicate, prior) for replicate in range(REPLICATES)]
    return {name: np.array([one[name] for one in found]) for name in found[0]}


@pytest.mark.parametrize("name", [*SCALES, *OTHERS])
def test_ranks_are_uniform(ranks, name):
    values = np.sort(ranks[name])
    grid = np.arange(RANKS + 1)
    ecdf = np.searchsorted(values, grid, side="right") / values.size
    distance = np.abs(ecdf - (grid + 1) / (RANKS + 1)).max()
    print(f"{name}: largest distance {distance:.3f}, band {BAND:.3f}")
    assert distance < BAND
