from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from models.tendency import density
from models.traits import MODELLED, TRAITS
from tests.fits import make_fit
from tracker.decisions.checks import predictive, prior_predictive
from tracker.decisions.checks.predictive import (
    TAILS,
    consequences,
    flagged_first,
    kurtosis,
    predictive_checks,
    shot_checks,
)
from tracker.decisions.checks.prior_predictive import prior_checks, prior_draws

UP = "strike_up_mm"
SESSIONS = 12


def fit_with(residuals):
    """Twenty players at level 0 whose session means lie at the given residuals."""
    players = {f"P{i:02d}": {UP: 0.0} for i in range(len(residuals))}
    return make_fit(
        players,
        days=tuple(range(0, 7 * SESSIONS, 7)),
        level_sd=1e-6,
        samples=300,
        traits=(UP,),
        shots=25,
        shot_sd={UP: 5.0},
        session_sd={UP: 2.0},
        reading_sd={UP: 0.0},
        raw_mean={(f"P{i:02d}", UP): row for i, row in enumerate(residuals)},
    )


def p_values(fit):
    return {check.what: check.p for check in predictive_checks(fit)}


# a session mean of 25 shots of SD 5 on days of SD 2 has SD sqrt(4 + 1)
DAY_SD = np.sqrt(5.0)


def test_sessions_from_the_model_are_not_flagged():
    rng = np.random.default_rng(3)
    checks = predictive_checks(fit_with(rng.normal(0, DAY_SD, (20, SESSIONS))))
    assert len(checks) == 3
    assert not any(check.flagged for check in checks)
    assert checks[0].seen == pytest.approx(DAY_SD, rel=0.1)


def test_days_that_differ_too_much_are_flagged():
    rng = np.random.default_rng(4)
    assert (
        p_values(fit_with(rng.normal(0, 1.5 * DAY_SD, (20, SESSIONS))))["scatter of sessions"]
        < 0.01
    )


def test_neighbours_that_err_alike_are_flagged():
    rng = np.random.default_rng(5)
    noise = rng.normal(0, DAY_SD, (20, SESSIONS))
    alike = noise.copy()
    for s in range(1, SESSIONS):  # AR(.5) with the same SD
        alike[:, s] = 0.5 * alike[:, s - 1] + np.sqrt(0.75) * noise[:, s]
    p = p_values(fit_with(alike))
    assert p["likeness of neighbouring sessions"] < 0.01


def test_one_wild_session_is_flagged_in_words():
    rng = np.random.default_rng(6)
    residuals = rng.normal(0, DAY_SD, (20, SESSIONS))
    residuals[4, 7] = 7 * DAY_SD
    flagged = [c for c in predictive_checks(fit_with(residuals)) if c.what == "largest session"]
    assert flagged[0].flagged
    assert "does not look like the model's" in flagged[0].sentence


def test_days_that_the_fit_takes_as_alike_are_not_flagged_for_it():
    rng = np.random.default_rng(5)
    noise = rng.normal(0, DAY_SD, (20, SESSIONS))
    alike = noise.copy()
    for s in range(1, SESSIONS):
        alike[:, s] = 0.5 * alike[:, s - 1] + np.sqrt(0.75) * noise[:, s]
    fit = fit_with(alike)
    # days of SD 2 carry 4 of 5 parts of the variance: .5 of the whole is .62 of theirs
    knowing = replace(fit, day_alike=np.full((fit.samples, 1), 0.62))
    what = "likeness of neighbouring sessions"
    assert p_values(fit)[what] < 0.01
    assert 0.05 < p_values(knowing)[what] < 0.95


# --- single shots ---


def shots_of(values):
    """Eight players with six days of twenty readings, by one method."""
    players, days, each = values.shape
    keys = [
        (f"P{p}", pd.Timestamp(2026, 1, 5) + pd.Timedelta(days=7 * d))
        for p in range(players)
        for d in range(days)
        for _ in range(each)
    ]
    frame = pd.DataFrame(keys, columns=["player", "session"])
    return frame.assign(**{UP: values.ravel(), "strike_method": "photo"})


def drawn_shots(seed, tails=None):
    rng = np.random.default_rng(seed)
    shape = (8, 6, 20)
    noise = rng.standard_normal(shape) if tails is None else rng.standard_t(tails, shape)
    scale = rng.uniform(3, 9, (8, 1, 1))
    return rng.normal(0, 8, (8, 6, 1)) + scale * noise


def test_kurtosis_is_the_textbooks():
    """Of one cell: the fourth moment over the squared second, as SciPy works it out."""
    values = np.random.default_rng(2).gamma(2.0, size=500)
    one = np.zeros(500, dtype=np.int64)
    assert kurtosis(values, one, one) == pytest.approx(stats.kurtosis(values, fisher=False))


@pytest.mark.parametrize("seed", range(5))
def test_normal_shots_look_like_the_models_whatever_level_and_scatter(seed):
    (check,) = shot_checks(shots_of(drawn_shots(seed)), (UP,))
    assert not check.flagged
    assert check.replicated == pytest.approx(3.0, abs=0.1)


def test_heavy_tails_are_flagged_but_allowed_for():
    """A Student t with 5 degrees of freedom has kurtosis 9 (3 + 6 / (df - 4))."""
    (check,) = shot_checks(shots_of(drawn_shots(4, tails=5)), (UP,))
    assert check.flagged
    assert not check.wants_care
    assert check.seen > check.replicated90[1]
    assert "strike height: single shots stray further" in consequences([check])[0]


def test_flat_shots_are_flagged_and_want_care():
    rng = np.random.default_rng(8)
    (check,) = shot_checks(shots_of(rng.uniform(-9, 9, (8, 6, 20))), (UP,))
    assert check.p > 0.99
    assert check.wants_care


def test_one_misread_does_not_make_shots_look_wild():
    values = drawn_shots(1)
    values[3, 2, 5] += 400.0
    (check,) = shot_checks(shots_of(values), (UP,))
    assert not check.flagged


def test_of_a_long_log_whole_sessions_are_looked_at(monkeypatch):
    frame = shots_of(drawn_shots(4, tails=5))
    monkeypatch.setattr(predictive, "MOST_SHOTS", 480)  # of 960 readings
    value, cell, owner = predictive._cells(frame, UP)
    assert value.size == 480
    assert set(np.bincount(cell)) == {20}
    assert set(np.bincount(owner)) == {60}  # three of the six sessions of each of eight players
    assert shot_checks(frame, (UP,))[0].flagged


def test_too_few_shots_are_not_judged():
    assert shot_checks(shots_of(drawn_shots(1)[:1, :2, :3]), (UP,)) == ()


def test_what_wants_care_stands_first_and_traits_share_a_sentence():
    tails = shot_checks(shots_of(drawn_shots(4, tails=5)), (UP,))[0]
    rng = np.random.default_rng(4)
    checks = [*predictive_checks(fit_with(rng.normal(0, 1.5 * DAY_SD, (20, SESSIONS)))), tails]
    ordered = flagged_first(checks)
    care = [c.wants_care for c in ordered]
    assert care == sorted(care, reverse=True)
    assert care[0]
    assert next(i for i, c in enumerate(ordered) if c.what == TAILS) == sum(care)
    twice = consequences([tails, replace(tails, trait="strike_toe_mm")])
    assert twice == (
        "strike height, strike across the face: single shots stray further than a bell curve's: "
        "the intervals allow for it",
    )


# --- what the priors allow ---


def test_priors_allow_golf_and_little_else():
    checks = {check.trait: check for check in prior_checks()}
    assert set(checks) == set(MODELLED)
    assert [check.trait for check in checks.values() if not check.plausible] == []
    # nine in ten squad members, common practice, no source: club speeds of 75 to 120 mph
    speed = checks["club_speed_mps"].level
    assert speed.low90 < 75 * 0.44704 + 1
    assert speed.high90 > 120 * 0.44704
    # hitting down 5 deg and up 5 deg both happen with a driver (common practice, no source)
    assert checks["attack_deg"].level.low90 < -5 < 5 < checks["attack_deg"].level.high90
    for check in checks.values():
        assert check.session_sd.high90 < check.shot_sd.high90
        assert check.session_mean_sd.median > check.session_sd.median


def test_priors_that_send_balls_anywhere_are_called_implausible(monkeypatch):
    wild = replace(TRAITS[UP], prior=replace(TRAITS[UP].prior, shot_sd=60.0))
    narrow = replace(TRAITS[UP], prior=replace(TRAITS[UP].prior, mean_sd=0.2, between_scale=0.2))
    for odd in (wild, narrow):
        monkeypatch.setattr(prior_predictive, "TRAITS", {**TRAITS, UP: odd})
        (check,) = prior_checks((UP,))
        assert not check.plausible


def test_draws_are_those_of_the_models_own_priors():
    """The same priors drawn by the density's own module: Kolmogorov-Smirnov, 5,000 draws each."""
    assert prior_predictive.LOG_SHOT_SD_MEAN_SD == density.LOG_SHOT_SD_MEAN_SD
    assert prior_predictive.LOG_SPREAD_SD == density.LOG_SPREAD_SD
    rng = np.random.default_rng(3)
    stated = density.prior_draws(TRAITS[UP].prior, 5000, rng)
    theirs = {name: stated[name] for name in ("mu", "spread", "drift", "session_sd")}
    players = stated["log_shot_spread"] * rng.standard_normal(5000)
    theirs["log_shot_sd"] = stated["log_shot_mean"] + players
    ours = prior_draws(UP, draws=5000)
    for name, values in theirs.items():
        assert stats.ks_2samp(values, getattr(ours, name)).pvalue > 1e-3, name
