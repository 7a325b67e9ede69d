import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.local_level import adjoint_series, draw_levels, filter_series


def scratch(size):
    return [np.zeros(size) for _ in range(3)]


def loglik(mean, var, gap, drift2, m0, v0):
    return filter_series(mean, var, gap, drift2, m0, v0, *scratch(mean.size))


@pytest.fixture
def series():
    rng = np.random.default_rng(4)
    gap = np.array([0.0, 1.0, 0.4, 2.5, 1.0, 0.0])
    var = rng.uniform(0.5, 2.0, 6)
    var[2] = np.inf
    return rng.normal(size=6), var, gap, 0.3, 0.2, 1.7


def dense_covariance(var, gap, drift2, v0):
    weeks = np.cumsum(gap)
    return v0 + drift2 * np.minimum.outer(weeks, weeks)


def test_likelihood_is_that_of_the_dense_normal(series):
    mean, var, gap, drift2, m0, v0 = series
    seen = np.isfinite(var)
    cov = dense_covariance(var, gap, drift2, v0)[np.ix_(seen, seen)] + np.diag(var[seen])
    expected = multivariate_normal(np.full(seen.sum(), m0), cov).logpdf(mean[seen])
    assert loglik(*series) == pytest.approx(expected, rel=1e-12)


def test_derivatives_match_finite_differences(series):
    mean, var, gap, drift2, m0, v0 = series
    kept = scratch(6)
    filter_series(*series, *kept)
    d_mean, d_var = np.empty(6), np.empty(6)
    d_drift2, d_m0, d_v0 = adjoint_series(gap, *kept, d_mean, d_var)
    h = 1e-6

    def slope(change):
        return (loglik(*change(h)) - loglik(*change(-h))) / (2 * h)

    assert d_drift2 == pytest.approx(
        slope(lambda e: (mean, var, gap, drift2 + e, m0, v0)), abs=1e-7
    )
    assert d_m0 == pytest.approx(slope(lambda e: (mean, var, gap, drift2, m0 + e, v0)), abs=1e-7)
    assert d_v0 == pytest.approx(slope(lambda e: (mean, var, gap, drift2, m0, v0 + e)), abs=1e-7)
    for s in range(6):
        unit = np.eye(6)[s]
        by_mean = slope(lambda e, u=unit: (mean + e * u, var, gap, drift2, m0, v0))
        by_var = slope(lambda e, u=unit: (mean, var + e * u, gap, drift2, m0, v0))
        assert d_mean[s] == pytest.approx(by_mean, abs=1e-7)
        if np.isfinite(var[s]):
            assert d_var[s] == pytest.approx(by_var, abs=1e-7)
    assert d_mean[2] == 0
    assert d_var[2] == 0


def test_drawn_levels_have_the_exact_conditional_mean_and_covariance(series):
    mean, var, gap, drift2, m0, v0 = series
    samples = 60_000
    noise = np.random.default_rng(5).standard_normal((samples, 6, 1))

    def repeat(values):
        return np.broadcast_to(values[None, :, None], (samples, 6, 1)).copy()

    def column(value):
        return np.full((samples, 1), value)

    level = draw_levels(
        repeat(mean), repeat(var), gap, column(drift2), column(m0), column(v0), noise
    )[..., 0]
    prior = dense_covariance(var, gap, drift2, v0)
    seen = np.isfinite(var)
    gain = prior[:, seen] @ np.linalg.inv(prior[np.ix_(seen, seen)] + np.diag(var[seen]))
    expected = m0 + gain @ (mean[seen] - m0)
    covariance = prior - gain @ prior[seen]
    np.testing.assert_allclose(level.mean(axis=0), expected, atol=0.02)
    np.testing.assert_allclose(np.cov(level.T), covariance, atol=0.03)
    np.testing.assert_array_equal(level[:, 4], level[:, 5])  # no time between: the same level
