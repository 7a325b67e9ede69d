import numpy as np
import pytest

from tests.fits import make_fit
from tracker.decisions.predictive import predictive_checks

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
