"""Left-out sessions against the dense normal, each session dropped and foretold by hand."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from models.held_out import compared_forms, held_out_sessions

SESSIONS = 5
GAP = np.array([[0.0, 1.0, 2.0, 0.5, 1.0]])
COUNT = np.array([[10.0, 8.0, 0.0, 12.0, 5.0], [0.0, 4.0, 0.0, 0.0, 0.0]]).reshape(2, 1, 5, 1)
MEAN = np.array([[1.0, 2.5, 0.0, 0.5, -1.0], [0.0, 3.0, 0.0, 0.0, 0.0]]).reshape(2, 1, 5, 1)
READING_SD = np.array([[1.0], [2.0]])


def parameters(alike):
    return {
        "mu": np.array([[0.4]]),
        "spread": np.array([[1.2]]),
        "drift": np.array([[0.5]]),
        "session_sd": np.array([[0.8]]),
        "log_shot_sd": np.array([[[np.log(3.0)]]]),
        "bias": np.array([[[0.0], [0.7]]]),
        "day_alike": np.array([[alike]]),
    }


@pytest.mark.parametrize("alike", [0.0, 0.5])
def test_a_session_is_foretold_as_by_the_dense_normal_of_the_others(alike):
    step = np.zeros((1, 1, SESSIONS, 1))
    step[0, 0, 3:] = 0.6
    found = held_out_sessions(
        parameters(alike), count=COUNT, mean=MEAN, gap=GAP, reading_sd=READING_SD, step=step
    )[0, 0, :, 0]
    weeks = np.cumsum(GAP[0])
    entries = [(m, s) for m in range(2) for s in range(SESSIONS) if COUNT[m, 0, s, 0]]
    order = {s: i for i, s in enumerate(sorted({s for _, s in entries}))}
    s = np.array([b for _, b in entries])
    place = np.array([order[b] for b in s])
    cov = 1.2**2 + 0.25 * np.minimum.outer(weeks[s], weeks[s])
    cov += 0.64 * (alike ** np.abs(np.subtract.outer(place, place)))
    cov += np.diag([(9 + READING_SD[m, 0] ** 2) / COUNT[m, 0, b, 0] for m, b in entries])
    centre = np.array([0.4 + [0.0, 0.7][m] + step[0, 0, b, 0] for m, b in entries])
    values = np.array([MEAN[m, 0, b, 0] for m, b in entries])
    whole = multivariate_normal(centre, cov).logpdf(values)
    assert np.isnan(found[2])
    for b in order:
        rest = s != b
        others = multivariate_normal(centre[rest], cov[np.ix_(rest, rest)]).logpdf(values[rest])
        dropped = 0.5 * np.log(2 * np.pi) * ((s == b).sum() - 1)  # constant that is left out
        assert found[b] == pytest.approx(whole - others + dropped, abs=1e-9)


def test_the_form_that_made_the_data_comes_first():
    """Normal data with SD 1: a form that knows it, one that takes SD 3, one shifted by half."""
    rng = np.random.default_rng(7)
    y = rng.standard_normal(200)
    jitter = rng.normal(0, 0.05, (500, 1))
    forms = {
        "true": norm.logpdf(y, jitter, 1),
        "wide": norm.logpdf(y, jitter, 3),
        "shifted": norm.logpdf(y, jitter + 0.5, 1),
    }
    first, second, third = compared_forms(forms)
    assert (first.form, second.form, third.form) == ("true", "shifted", "wide")
    assert (first.behind, first.behind_se) == (0, 0)
    lost = (forms["true"] - forms["shifted"]).mean(axis=0)
    assert second.behind == pytest.approx(lost.sum(), abs=0.5)
    assert second.behind_se == pytest.approx(np.sqrt(200) * lost.std(), rel=0.05)
    assert third.behind > second.behind
    assert first.weight > 0.9
    assert first.unsure == 0
