"""Readings a device missed come back from the ball, and only from the ball."""

import numpy as np
import pandas as pd
import pytest

from synthetic_data import AcademySpec, make_academy
from tests.recovery.test_planted_truth import log_of
from tracker.fits.fitting import FitRequest, fit_shots
from tracker.fits.inferring import infer_readings

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]

PLAYERS = 12


@pytest.fixture(scope="module")
def seasons():
    """One academy three ways: all read; attack unread in half the sessions; and no balls there."""
    academy = make_academy(41, AcademySpec(players=PLAYERS, ball_missing_share=0.0))
    shots, changes = log_of(academy)
    half = shots.groupby("player")["session"].transform(lambda s: pd.factorize(s, sort=True)[0] % 2)
    unread = shots.copy()
    hidden = (half == 1).to_numpy()
    unread.loc[hidden, "attack_deg"] = np.nan
    blind = unread.copy()
    balls = [
        "ball_speed_mps",
        "launch_deg",
        "side_deg",
        "spin_rpm",
        "axis_deg",
        "carry_m",
        "total_m",
    ]
    blind.loc[hidden, balls] = np.nan
    references = ("photo", "radar")
    fits = {
        name: fit_shots(table, changes, FitRequest(references=references))[0]
        for name, table in (("read", shots), ("unread", unread), ("blind", blind))
    }
    return academy, shots, unread, hidden, fits


def test_inferred_attack_is_near_the_truth_and_says_how_near(seasons):
    academy, _, unread, hidden, fits = seasons
    found = infer_readings(fits["unread"], unread)
    marked = found.shots["attack_deg.inferred"].to_numpy() & hidden
    truth = academy.true_shots["attack_deg"].to_numpy()[marked]
    error = found.shots["attack_deg"].to_numpy()[marked] - truth
    claimed = found.reading_sds["attack_deg", "inferred"]
    robust = 1.4826 * np.median(np.abs(error - np.median(error)))
    inside = np.mean(np.abs(error) < 1.645 * claimed)
    print(f"{marked.sum()} inferred, robust RMSE {robust:.2f}, claimed {claimed:.2f} deg")
    print(f"mean error {error.mean():+.2f} deg, inside 90 % {inside:.3f}")
    assert marked.sum() > 300
    assert 0.7 < robust / claimed < 1.3
    assert inside > 0.82
    assert abs(np.median(error)) < 0.5


def test_the_ball_gives_back_part_of_the_confidence_and_nothing_without_it(seasons):
    academy, *_, fits = seasons
    last = academy.tendencies.groupby("player").last()["attack_deg"]
    sd, error, inside = {}, {}, {}
    for name, fit in fits.items():
        draws = np.stack([fit.of(p.name, "attack_deg").now for p in fit.players])
        truth = np.array([last[p.name] for p in fit.players])
        sd[name] = float(draws.std(axis=1).mean())
        error[name] = float(np.sqrt(np.mean((draws.mean(axis=1) - truth) ** 2)))
        low, high = np.quantile(draws, [0.05, 0.95], axis=1)
        inside[name] = float(np.mean((low <= truth) & (truth <= high)))
    print(sd, error, inside)
    assert sd["unread"] < sd["blind"]
    assert error["unread"] < 1.5 * sd["unread"]  # no more confident than right
    assert inside["unread"] >= 0.7  # 12 players share one method bias
    blind = fits["blind"]
    k = blind.trait_index("attack_deg")
    if "inferred" in blind.methods[k]:  # nothing inferred in sessions without a ball
        inferred = blind.counts[blind.methods[k].index("inferred"), :, :, k]
        read = blind.counts[..., k].sum(axis=0) - inferred
        assert inferred[read == 0].sum() == 0


MISSED_STEEP, MISSED_SHALLOW = 0.7, 0.1
"""Shares of attack angles lost among a player's steeper and shallower half: 40 % in all."""


@pytest.fixture(scope="module")
def steep():
    """An academy whose device loses mostly the steep swings, and the same with everything read."""
    academy = make_academy(41, AcademySpec(players=PLAYERS, ball_missing_share=0.0))
    shots, changes = log_of(academy)
    truth = academy.true_shots["attack_deg"]
    steeper = truth < truth.groupby(shots["player"]).transform("median")
    lost = np.random.default_rng(1).random(len(shots)) < np.where(
        steeper, MISSED_STEEP, MISSED_SHALLOW
    )
    unread = shots.copy()
    unread.loc[lost, "attack_deg"] = np.nan
    references = ("photo", "radar")
    fits = {
        name: fit_shots(table, changes, FitRequest(references=references))[0]
        for name, table in (("read", shots), ("steep", unread))
    }
    return academy, unread, fits


def test_steep_swings_that_a_device_loses_are_inferred_without_bias(steep):
    academy, unread, fits = steep
    found = infer_readings(fits["steep"], unread)
    filled = (unread["attack_deg"].isna() & found.shots["attack_deg"].notna()).to_numpy()
    value = found.shots["attack_deg"].to_numpy()[filled]
    fit = fits["steep"]
    k = fit.trait_index("attack_deg")
    bias = dict(zip(fit.methods[k], fit.bias[:, :, k].mean(axis=0), strict=False))
    mark = found.shots["attack_deg.inferred"].to_numpy()[filled]
    method = unread["delivery_method"].to_numpy()[filled]
    value = value - np.where(mark, 0.0, [bias[m] for m in method])
    error = value - academy.true_shots["attack_deg"].to_numpy()[filled]
    print(f"{filled.sum()} inferred, mean error {error.mean():+.3f} deg")
    assert filled.sum() > 300
    assert abs(error.mean()) <= 0.15


def test_losing_the_steep_swings_neither_shifts_nor_sharpens_the_levels(steep):
    academy, _, fits = steep
    last = academy.tendencies.groupby("player").last()["attack_deg"]
    bias, sd = {}, {}
    for name, fit in fits.items():
        draws = np.stack([fit.of(p.name, "attack_deg").now for p in fit.players])
        truth = np.array([last[p.name] for p in fit.players])
        bias[name], sd[name] = float((draws.mean(axis=1) - truth).mean()), draws.std(axis=1).mean()
        low, high = np.quantile(draws, [0.05, 0.95], axis=1)
        inside = np.mean((low <= truth) & (truth <= high))
        print(f"{name}: bias {bias[name]:+.3f}, SD {sd[name]:.3f} deg, cover {inside:.2f}")
    assert abs(bias["steep"]) <= 0.2
    assert abs(bias["steep"] - bias["read"]) <= 0.2
    assert inside >= 0.8
    # the same to sampling error: what was lost must not look better known than what was read
    assert sd["steep"] >= 0.95 * sd["read"]
