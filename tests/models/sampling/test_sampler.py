"""Sampling of targets whose answer is known, and what is done about draws that fall short."""

import math

import numpy as np
import pytest
import xarray as xr

from models.sampling import sampler
from models.sampling.sampler import (
    SMALLER_STEPS,
    TOP_UPS,
    Effort,
    LogDensity,
    peak,
    sample,
    sampler_report,
    well_sampled,
)

pytestmark = pytest.mark.filterwarnings("default")

MEAN = np.array([1.0, -2.0, 0.5])
COVARIANCE = np.array([[1.0, 0.6, 0.0], [0.6, 2.0, -0.3], [0.0, -0.3, 0.5]])


def gaussian(mean=MEAN, covariance=COVARIANCE):
    precision = np.linalg.inv(covariance)

    def log_density(x):
        slope = -precision @ (x - mean)
        return float(0.5 * (x - mean) @ slope), slope

    size = len(mean)
    return LogDensity(size, log_density, lambda x: {"x": x, "first": x[..., 0]}, np.zeros(size))


def walled():
    """A normal that ends at 0: steps across the wall diverge, however small."""

    def log_density(x):
        return (-0.5 * float(x @ x) if x[0] > 0 else -np.inf), -x

    return LogDensity(1, log_density, lambda x: {"x": x}, np.full(1, 1.5))


@pytest.fixture
def efforts(monkeypatch):
    """Efforts and seeds of every call of ``sample``."""
    calls = []

    def spied(target, effort, seed, progress=None):
        calls.append((effort, seed))
        return sample(target, effort, seed, progress)

    monkeypatch.setattr(sampler, "sample", spied)
    return calls


def test_a_known_gaussian_is_recovered():
    tree, report = well_sampled(gaussian(), Effort(draws=1500, tune=400), 1)
    assert report.problems == ()
    assert report.attempts == 1
    draws = tree["posterior"]["x"].to_numpy().reshape(-1, 3)
    sd = np.sqrt(np.diag(COVARIANCE))
    np.testing.assert_allclose((draws.mean(axis=0) - MEAN) / sd, 0, atol=0.08)
    np.testing.assert_allclose(np.cov(draws.T), COVARIANCE, atol=0.15)
    np.testing.assert_array_equal(tree["posterior"]["first"], tree["posterior"]["x"][..., 0])


def test_the_same_seed_gives_the_same_draws_on_any_number_of_cores():
    one, two, other = (
        sample(gaussian(), Effort(100, 100, 3, cores), seed)["posterior"]["x"].to_numpy()
        for cores, seed in ((1, 5), (2, 5), (2, 6))
    )
    np.testing.assert_array_equal(one, two)
    assert not np.array_equal(one, other)


def test_chains_that_are_only_too_short_are_joined_by_others(efforts):
    tree, report = well_sampled(gaussian(), Effort(draws=220, tune=300, chains=2), 3)
    assert 1 < len(efforts) <= 1 + TOP_UPS
    assert report.attempts == 1
    assert report.problems == ()
    assert len({seed for _, seed in efforts}) == len(efforts)
    assert tree["posterior"].sizes["chain"] == tree["sample_stats"].sizes["chain"]
    chains = tree["posterior"]["first"].to_numpy()
    assert len(chains) == 2 * len(efforts)
    assert len(np.unique(chains[:, -1])) == len(chains)
    np.testing.assert_array_equal(tree["posterior"]["chain"], np.arange(len(chains)))


def test_what_diverges_is_taken_again_with_smaller_steps_and_says_so(efforts):
    tree, report = well_sampled(walled(), Effort(100, 100, 2, target_accept=0.8), 1)
    assert [e.target_accept for e, _ in efforts] == [0.8, *SMALLER_STEPS]
    assert len({seed for _, seed in efforts}) == 3
    assert report.attempts == 3
    assert report.divergences > 0
    assert report.problems[0].startswith(f"{report.divergences} divergent")
    assert tree["posterior"].sizes["chain"] == 2  # none is joined to draws that diverge


def made_tree(diverging=0, value=None):
    draws = np.random.default_rng(0).standard_normal((4, 500))
    if value is not None:
        draws[0, 0] = value
    stats = np.zeros((4, 500), bool)
    stats.flat[:diverging] = True
    dims = ("chain", "draw")
    groups = {"posterior": {"x": (dims, draws)}, "sample_stats": {"diverging": (dims, stats)}}
    return xr.DataTree.from_dict({name: xr.Dataset(group) for name, group in groups.items()})


def test_a_second_attempt_that_will_do_is_the_last(monkeypatch):
    trees = [made_tree(diverging=7), made_tree()]
    monkeypatch.setattr(sampler, "sample", lambda *_: trees.pop(0))
    _, report = well_sampled(gaussian(), Effort(), 1)
    assert (report.attempts, report.divergences, report.problems) == (2, 0, ())


def test_draws_that_are_no_numbers_fail_every_limit():
    report = sampler_report(made_tree(value=math.nan))
    assert len(report.problems) == 3
    assert report.worst == "x"


def test_the_peak_of_a_gaussian_is_exact():
    found = peak(gaussian())
    np.testing.assert_allclose(found.point, MEAN, atol=1e-4)
    np.testing.assert_allclose(found.covariance, COVARIANCE, atol=1e-6)
    draws = found.draws(50_000, np.random.default_rng(0))
    np.testing.assert_allclose(np.cov(draws.T), COVARIANCE, atol=0.05)


def test_a_ridge_is_no_wider_than_a_prior_can_be():
    found = peak(gaussian(np.zeros(2), np.diag([1.0, 1e6])))
    np.testing.assert_allclose(found.covariance, np.diag([1.0, 4.0]), atol=1e-6)
