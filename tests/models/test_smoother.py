import numpy as np
import pytest

from models.smoother import draw_correlations, nearest_correlation, smooth_levels


def test_impossible_correlations_become_a_correlation_matrix():
    bad = np.array([[1.0, 0.9, 0.9], [0.9, 1.0, -0.9], [0.9, -0.9, 1.0]])
    good = nearest_correlation(bad[None])[0]
    assert np.linalg.eigvalsh(good)[0] > 0
    np.testing.assert_allclose(np.diag(good), 1)
    np.testing.assert_allclose(good, good.T)
    assert good[0, 1] > 0.4  # still positive where it was
    assert good[1, 2] < -0.4


def test_possible_correlations_are_left_alone():
    fine = np.array([[1.0, 0.3], [0.3, 1.0]])
    np.testing.assert_array_equal(nearest_correlation(fine[None])[0], fine)


def test_a_players_correlation_lies_between_own_data_and_squad():
    samples = 20_000
    mean, spread = np.full((samples, 1), 0.0), np.full((samples, 1), 0.2)
    z, variance = np.array([[0.6], [0.6]]), np.array([[0.04], [np.inf]])
    corr = draw_correlations(mean, spread, z, variance, 2, np.random.default_rng(0))
    own = np.arctanh(corr[:, 0, 0, 1].astype(float))
    assert own.mean() == pytest.approx(0.3, abs=0.01)  # equal precisions: half way
    assert own.std() == pytest.approx(np.sqrt(0.02), rel=0.03)
    nothing = np.arctanh(corr[:, 1, 0, 1].astype(float))
    assert nothing.mean() == pytest.approx(0.0, abs=0.01)
    assert nothing.std() == pytest.approx(0.2, rel=0.03)


def test_a_logged_change_is_part_of_the_level():
    samples = 4000
    parameters = {
        "mu": np.zeros((samples, 1)),
        "spread": np.full((samples, 1), 5.0),
        "drift": np.full((samples, 1), 0.01),
        "session_sd": np.full((samples, 1), 0.1),
        "log_shot_sd": np.zeros((samples, 1, 1)),
        "bias": np.zeros((samples, 1, 1)),
    }
    step = np.zeros((samples, 1, 2, 1))
    step[:, :, 1] = 3.0
    level = smooth_levels(
        parameters,
        count=np.full((1, 1, 2, 1), 400.0),
        mean=np.array([1.0, 4.0]).reshape(1, 1, 2, 1),
        gap=np.array([[0.0, 1.0]]),
        reading_sd=np.zeros((1, 1)),
        step=step,
        rng=np.random.default_rng(1),
    )
    np.testing.assert_allclose(level.mean(axis=0).ravel(), [1.0, 4.0], atol=0.02)
