"""A fit from session summaries against the same shots one by one, levels and days sampled."""

from dataclasses import replace

import numpy as np
import pymc as pm
import pytest

from models.sampling.sampler import Effort, sample, stacked
from models.tendency.density import tendency_target
from models.tendency.smoother import smoothed
from tests.models.tendency.seasons import PRIOR, made, squad
from tests.reference.shot_level import SHARED, ShotReadings, build_shot_level_model, level_draws

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

PLAYERS, SESSIONS, SHOTS = 6, 5, 8
WEEK = np.array([0.0, 1.0, 3.0, 4.0, 8.0])


def shots():
    """Readings (player, session, shot); the third player's level jumps by 12 halfway."""
    rng = np.random.default_rng(21)
    sd = 8 * np.exp(rng.normal(0, 0.25, (PLAYERS, 1, 1)))
    level = rng.normal(1, 5, (PLAYERS, 1)) + rng.normal(0, 1.0, (PLAYERS, SESSIONS)).cumsum(axis=1)
    level[2, 3:] += 12
    day = level + rng.normal(0, 2.5, level.shape)
    return day[..., None] + np.hypot(sd, 1.0) * rng.normal(size=(PLAYERS, SESSIONS, SHOTS))


def summaries(value):
    mean = value.mean(axis=2)
    scatter = ((value - mean[..., None]) ** 2).sum(axis=(1, 2))
    plain = replace(
        made(sessions=SESSIONS, methods=1),
        gap=np.diff(WEEK, prepend=0.0),
        count=np.full((SESSIONS, 1), float(SHOTS)),
        scatter_df=np.array([SESSIONS * (SHOTS - 1.0)]),
    )
    return squad(
        [
            replace(plain, mean=m[:, None], scatter=np.array([s]))
            for m, s in zip(mean, scatter, strict=True)
        ]
    )


def test_a_fit_is_that_of_the_shots_one_by_one():
    value = shots()
    series = summaries(value)
    effort = Effort(draws=2500, tune=800, chains=4, target_accept=0.95, doublings=3)
    ours = stacked(sample(tendency_target(series, PRIOR), effort, 1), SHARED, 10_000)
    p, s = (a.ravel() for a in np.indices(value.shape)[:2])
    readings = ShotReadings(
        players=tuple("abcdef"),
        week=np.tile(WEEK, (PLAYERS, 1)),
        player_idx=p,
        session_idx=s,
        value=value.ravel(),
        reading_sd=np.ones(value.size),
    )
    with build_shot_level_model(readings, PRIOR):
        tree = pm.sample(
            3000, tune=1500, chains=4, target_accept=0.97, random_seed=2, nuts_sampler="nutpie",
            progressbar=False,
        )  # fmt: skip
    hidden = ("log_shot_sd", "unchanged", "size", "log_kind")
    theirs = stacked(tree, [*SHARED, *hidden], 12_000)
    rng = np.random.default_rng(3)
    found = smoothed(ours, series, rng)
    mine = {n: ours[n] for n in SHARED} | {
        "level": found.level.reshape(-1, PLAYERS, SESSIONS),
        "log_shot_sd": np.log(found.shot_sd),
        "unlogged": (found.jump_at >= 0).astype(float),
    }
    plain = dict(theirs) | {"level": level_draws(theirs, readings.week, rng)}
    log = theirs["log_kind"]
    chance = np.exp(log - np.logaddexp.reduce(log, axis=2, keepdims=True))
    unlogged = 1 - chance[..., 0].mean(axis=0)
    np.testing.assert_allclose(mine.pop("unlogged").mean(axis=0), unlogged, atol=0.03)
    assert unlogged.argmax() == 2
    for name, draws in mine.items():
        sd = plain[name].std(axis=0)
        apart = (draws.mean(axis=0) - plain[name].mean(axis=0)) / sd
        print(name, np.abs(apart).max().round(3), (draws.std(axis=0) / sd).round(2).ravel()[:6])
        np.testing.assert_allclose(apart, 0, atol=0.1, err_msg=name)
        np.testing.assert_allclose(draws.std(axis=0), sd, rtol=0.1, err_msg=name)
