"""Levels behind days that resemble their neighbours, against the dense normal worked with SciPy."""

import numpy as np
import pytest
from scipy.linalg import toeplitz

from models.alike_days import alike_series, draw_alike_levels
from models.local_level import filter_series


@pytest.fixture
def series():
    """A season of six sessions, the third and the fifth not read."""
    gap = np.array([0.0, 1.0, 0.5, 2.0, 1.0, 3.0])
    var = np.array([0.5, 0.8, np.inf, 0.4, np.inf, 0.6])
    mean = np.array([1.0, 2.0, 0.0, 0.5, 0.0, 3.0])
    return mean, var, gap


def exact(mean, var, gap, drift2, m0, v0, session2, alike):
    """Return posterior mean and covariance of the levels of all six sessions."""
    weeks = np.cumsum(gap)
    walk = v0 + drift2 * np.minimum.outer(weeks, weeks)
    seen = np.flatnonzero(np.isfinite(var))
    days = toeplitz(session2 * alike ** np.arange(seen.size))
    read = walk[np.ix_(seen, seen)] + days + np.diag(var[seen])
    gain = np.linalg.solve(read, walk[seen]).T
    return m0 + gain @ (mean[seen] - m0), walk - gain @ walk[seen]


def test_draws_have_the_moments_of_the_dense_normal(series):
    numbers = {"drift2": 0.3, "m0": 0.7, "v0": 1.5, "session2": 0.9, "alike": 0.55}
    samples = 200_000
    rng = np.random.default_rng(3)
    wide = [np.broadcast_to(a, (samples, 6)).copy() for a in series[:2]]
    scalars = [np.full(samples, v) for v in numbers.values()]
    noise = rng.standard_normal((3, samples, 6))
    drawn = draw_alike_levels(*wide, series[2], *scalars, noise)
    mean, cov = exact(*series, **numbers)
    np.testing.assert_allclose(drawn.mean(axis=0), mean, atol=0.015)
    np.testing.assert_allclose(np.cov(drawn.T), cov, atol=0.03)


def test_days_hardly_alike_are_days_apart(series):
    """As the correlation goes to 0 the likelihood becomes that of the scalar filter."""
    mean, var, gap = series
    scratch = [np.zeros(6) for _ in range(3)]
    apart = filter_series(mean, var + 0.9, gap, 0.3, 0.7, 1.5, *scratch)
    found = alike_series(mean, var, gap, 0.3, 0.7, 1.5, 0.9, 1e-12, np.empty(6), np.empty(6))[0]
    assert found == pytest.approx(apart, rel=1e-9)


def test_a_season_without_readings_says_nothing():
    nothing = np.full(3, np.inf)
    d_mean, d_var = np.ones(3), np.ones(3)
    found = alike_series(np.zeros(3), nothing, np.ones(3), 0.3, 0.0, 1.0, 0.5, 0.4, d_mean, d_var)
    assert not np.any(found)
    assert not d_mean.any()
    assert not d_var.any()
