"""The closed form against plain conditional normals, and against whole fits (slow)."""

import numpy as np
import pytest
from scipy import stats

from tracker.decisions.change import classify
from tracker.decisions.surrogate import (
    Scales,
    chances,
    mixing_weights,
    p_direction,
    season,
    window_contrast,
)

WEEKS = np.array([0.0, 1.0, 3.0, 4.0, 8.0, 9.0])
STARTED = np.array([[False, False, False, True, True, True]])
NOISE = np.array([[4.0, 5.0, 3.0, 4.0, 6.0, 4.0], [2.0, 2.5, 1.5, 2.0, 3.0, 2.0]])
SCALES = Scales(
    mean=np.array([1.0, -2.0]),
    between=np.array([36.0, 25.0]),
    drift=np.array([0.5, 0.1]),
    session=np.array([9.0, 4.0]),
    change_mean=np.array([[1.5], [0.0]]),
    change=np.array([[16.0], [9.0]]),
)
MEANS = np.array([[0.0, 2.0, -1.0, 5.0, 4.0, 6.5], [3.0, 1.0, 2.0, 2.0, 0.0, 1.0]])
CONTRAST = np.array([-1 / 3, -1 / 3, -1 / 3, 1 / 3, 1 / 3, 1 / 3])


def dense(draw, upto, neighbours=0.0):
    """Joint normal of levels and readings, built from its independent parts one by one."""
    sessions = WEEKS.size
    # columns: baseline, one step a gap, the change, then a reading error each
    steps = np.sqrt(SCALES.drift[draw] * np.diff(WEEKS))
    walk = np.tril(np.ones((sessions, sessions - 1)), -1) * steps
    level = np.column_stack(
        [
            np.full(sessions, np.sqrt(SCALES.between[draw])),
            walk,
            np.sqrt(SCALES.change[draw, 0]) * STARTED[0],
        ]
    )
    cov = level @ level.T
    mean = SCALES.mean[draw] + SCALES.change_mean[draw, 0] * STARTED[0]
    day = SCALES.session[draw] * neighbours ** np.abs(np.subtract.outer(range(6), range(6)))
    read = (cov + day + np.diag(NOISE[draw]))[:upto, :upto]
    return mean, cov, read


@pytest.mark.parametrize("upto", [4, 6])
def test_difference_is_the_conditional_normal(upto):
    known = season(SCALES, WEEKS, NOISE, STARTED)
    mean, variance = known.difference(known.whitened(MEANS), CONTRAST, upto)
    for draw in range(2):
        prior, cov, read = dense(draw, upto)
        pull = np.linalg.solve(read, cov[:upto] @ CONTRAST)
        expected = CONTRAST @ prior + (MEANS[:, :upto] - prior[:upto]) @ pull
        assert mean[:, draw] == pytest.approx(expected, rel=1e-9)
        left = CONTRAST @ cov @ CONTRAST - (cov[:upto] @ CONTRAST) @ pull
        assert variance[draw] == pytest.approx(left, rel=1e-9)


@pytest.mark.parametrize("neighbours", [0.0, 0.4])
def test_likelihood_adds_up_to_that_of_the_joint_normal(neighbours):
    known = season(SCALES, WEEKS, NOISE, STARTED, neighbours)
    told = np.cumsum(known.log_likelihood(known.whitened(MEANS)), axis=2)
    for draw in range(2):
        for upto in (1, 4, 6):
            prior, _, read = dense(draw, upto, neighbours)
            expected = stats.multivariate_normal(prior[:upto], read).logpdf(MEANS[:, :upto])
            assert told[:, draw, upto - 1] == pytest.approx(expected, rel=1e-9)


def test_means_may_differ_by_draw():
    known = season(SCALES, WEEKS, NOISE, STARTED)
    bias = np.array([0.0, 2.0])
    shifted = known.whitened(MEANS[:, None, :] - bias[:, None])
    assert shifted[:, 0] == pytest.approx(known.whitened(MEANS)[:, 0])
    assert shifted[:, 1] == pytest.approx(known.whitened(MEANS - 2.0)[:, 1])


def test_chances_of_one_draw_are_those_of_a_normal():
    # d ~ N(2, 1): P(d > 0) = Phi(2), P(d > 1) = Phi(1), P(|d| < 1) = Phi(-1) - Phi(-3)
    found = chances(np.array([[2.0], [-2.0]]), np.array([1.0]), None, 1.0)
    assert found.sign.tolist() == [1.0, -1.0]
    assert found.direction == pytest.approx([0.977249868] * 2)
    assert found.worthwhile == pytest.approx([0.841344746] * 2)
    assert found.no_worthwhile == pytest.approx([0.158655254 - 0.001349898] * 2)
    assert classify(found.direction[0], 0.95, 0.1, 0.97) == "real-worthwhile"


def test_draws_are_mixed_by_their_weights():
    weights = mixing_weights(np.log([[0.3, 0.1]]))
    assert weights == pytest.approx(np.array([[0.75, 0.25]]))
    mean, variance = np.array([[0.0, 30.0]]), np.array([1.0, 1.0])
    assert p_direction(mean, variance, weights) == pytest.approx(0.75 * 0.5 + 0.25)
    found = chances(mean, variance, weights, 1.0)
    assert found.direction == pytest.approx(0.625)


def test_windows_average_their_sessions():
    weights = window_contrast(np.array([0, 1]), np.array([3, 4, 5]), 7)
    assert weights == pytest.approx([-0.5, -0.5, 0, 1 / 3, 1 / 3, 1 / 3, 0])


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_fifty_seasons_agree_with_the_whole_fit(monkeypatch):
    """P(change > 0) from the fit's drawn levels and from the closed form with its scales.

    Many draws are kept, so that what is left of Monte Carlo error is small beside .02.
    """
    import tracker.fitting
    from tests.evidence.full_fits import compared

    monkeypatch.setattr(tracker.fitting, "KEPT_DRAWS", 10_000)
    pairs = list(compared(91, 4, draws=2500))
    assert len(pairs) >= 50
    apart = np.array([p.full - p.surrogate for p in pairs])
    print(np.abs(apart).max(), np.abs(apart).mean())
    assert np.abs(apart).max() <= 0.02
