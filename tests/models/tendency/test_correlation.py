"""How traits go together, against brute force on a grid and in closed form."""

import numpy as np
import pytest
from scipy.stats import norm

from models.tendency.correlation import (
    MEAN_SD,
    SPREAD_SCALE,
    draw_correlations,
    nearest_correlation,
    pair_draws,
)


def test_squad_mean_and_spread_have_the_moments_of_a_grid():
    z = np.array([[0.5, 0.1], [0.1, np.nan], [-0.3, np.nan], [np.nan, -0.6]])
    variance = np.array([[0.02, 0.05], [0.04, np.inf], [0.01, np.inf], [np.inf, 0.03]])
    mean, spread = pair_draws(z, variance, 60_000, np.random.default_rng(0))
    m, s = np.meshgrid(np.linspace(-2, 2, 401), np.linspace(0.001, 1.3, 400), indexing="ij")
    for j in range(2):
        log = norm.logpdf(m, 0, MEAN_SD) - 0.5 * (s / SPREAD_SCALE) ** 2
        for own, known in zip(z[:, j], variance[:, j], strict=True):
            if np.isfinite(known):
                log += norm.logpdf(own, m, np.sqrt(s**2 + known))
        weight = np.exp(log - log.max())
        weight /= weight.sum()
        for drawn, grid in ((mean[:, j], m), (spread[:, j], s)):
            exact = (weight * grid).sum()
            sd = np.sqrt((weight * (grid - exact) ** 2).sum())
            assert drawn.mean() == pytest.approx(exact, abs=0.03 * sd)
            assert drawn.std() == pytest.approx(sd, rel=0.03)


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
