"""The compiled posterior against the plain PyMC model, which samples shot SDs and uses matrices."""

from dataclasses import replace

import numpy as np
import pymc as pm
import pytest
from numpy.polynomial.hermite import hermgauss
from scipy.special import logit, logsumexp

from models.sampling.sampler import Effort, sample
from models.tendency.density import prior_draws, tendency_target
from models.tendency.likelihood import NODES, centre_and_scale, node_row
from models.tendency.model import build_tendency_model
from models.tendency.smoother import parameter_rows, smoothed
from tests.models.tendency.seasons import PRIOR, SEASONS, made, squad

pytestmark = pytest.mark.filterwarnings("default")

SQUADS = {
    "changes, two methods": squad([SEASONS["two changes"], SEASONS["no change"]], drills=2),
    "missed faces": squad([replace(SEASONS["missed faces"], mean=made(seed=9).mean / 2)]),
    "one session each": squad([SEASONS["one session"], made(sessions=1, seed=30)]),
    "one never read": squad([SEASONS["nothing read"], SEASONS["last sessions unread"]]),
    "a change before the first session, four in all": squad(
        [
            replace(made(sessions=4, seed=31), change_at=(0, 1, 1, 3), change_drill=(0, 1, 0, 1)),
        ],
        drills=2,
    ),
}


def plain_logp(series):
    """Return a function of named parameters: the PyMC model's log density of the parameters.

    In the parameters' own units, shot SDs integrated one player after the other, since given the
    parameters players are independent, on the nodes of the compiled density, whose error has a
    test of its own.
    """
    model = build_tendency_model(series, PRIOR)
    logp = model.compile_fn(
        model.logp(jacobian=False), inputs=model.value_vars, mode="FAST_COMPILE"
    )
    names = {
        v.name: v.name.removesuffix("_log__").removesuffix("_logodds__") for v in model.value_vars
    }

    def at(named, shots):
        point = {}
        for value, name in names.items():
            x = shots if name == "log_shot_sd" else named[name]
            log = np.log(x) if value.endswith("_log__") else x
            point[value] = logit(x) if value.endswith("_logodds__") else log
        return float(logp(point))

    def whole(named):
        par = parameter_rows({n: v[None] for n, v in named.items()}, series)[0]
        ends = zip(series.best, series.information, strict=True)
        found = [centre_and_scale(par, b, i) for b, i in ends]
        middle = np.array([m for m, _ in found])
        base = total = at(named, middle)
        for p, (_, scale) in enumerate(found):
            places, weights = hermgauss(NODES[node_row(series.information[p])])
            own = np.eye(middle.size)[p] * np.sqrt(2) * scale
            along = [at(named, middle + z * own) - base + z**2 for z in places]
            total += logsumexp(np.log(weights) + along) + np.log(np.sqrt(2) * scale)
        return total

    return whole


def named_point(target, x):
    """Return the parameters, with drills' effects in units of their scale as PyMC has them."""
    named = {n: np.asarray(v) for n, v in target.named(x).items()}
    if "drill_scale" in named:
        named["drill_raw"] = named["group_effect"] / named["drill_scale"]
    return named


def log_jacobian(target, x):
    """Return the log of how parameters stretch with the unconstrained vector, by differences."""
    total = 0.0
    for i in range(x.size):
        h = np.eye(x.size)[i] * 1e-6
        up, down = named_point(target, x + h), named_point(target, x - h)
        moved = [np.abs(up[n] - down[n]).max() / 2e-6 for n in up if n != "group_effect"]
        total += np.log(max(moved))
    return total


@pytest.mark.parametrize("series", SQUADS.values(), ids=SQUADS)
def test_the_compiled_posterior_is_that_of_the_pymc_model(series):
    target = tendency_target(series, PRIOR)
    plain = plain_logp(series)
    rng = np.random.default_rng(3)
    apart = []
    for _ in range(4):
        x = target.start + rng.normal(0, 0.5, target.size)
        ours = target.log_density(x)[0] - log_jacobian(target, x)
        apart.append(ours - plain(named_point(target, x)))
    np.testing.assert_allclose(apart, apart[0], atol=1e-6)


@pytest.mark.parametrize("series", SQUADS.values(), ids=SQUADS)
def test_its_gradient_matches_finite_differences(series):
    target = tendency_target(series, PRIOR)
    rng = np.random.default_rng(4)
    for _ in range(3):
        x = target.start + rng.normal(0, 0.7, target.size)
        slope = target.log_density(x)[1]
        for i in range(x.size):
            h = np.eye(x.size)[i] * 1e-5
            between = (target.log_density(x + h)[0] - target.log_density(x - h)[0]) / 2e-5
            assert slope[i] == pytest.approx(between, rel=2e-5, abs=2e-5)


def test_far_away_the_density_and_its_gradient_are_numbers():
    """Half of warm-up's first steps land far out; NaN there would count as a divergence."""
    target = tendency_target(SQUADS["changes, two methods"], PRIOR)
    for i in range(target.size):
        for far in (-39.0, 39.0, -41.0, 1e6):
            x = target.start.copy()
            x[i] = far
            value, slope = target.log_density(x)
            assert not np.isnan(value)
            assert not np.isnan(slope).any(), (i, far)


def test_only_what_the_data_speak_of_is_sampled():
    moving = {"drift", "day_alike", "jump_sd", "jump_chance"}
    drills = {"effect_sd", "drill_scale", "group_effect"}
    for name, without in {
        "one session each": moving | drills,
        "one never read": drills,
        "changes, two methods": set(),
    }.items():
        series = SQUADS[name]
        target = tendency_target(series, PRIOR)
        sampled = set(target.named(target.start))
        plain = {v.name for v in build_tendency_model(series, PRIOR).unobserved_RVs}
        assert plain - {"log_shot_sd", "drill_raw"} == sampled
        assert not sampled & without


def test_prior_draws_are_of_the_pymc_priors():
    series = squad([replace(SEASONS["two changes"])], drills=2)
    drawn = prior_draws(PRIOR, 40_000, np.random.default_rng(1))
    model = build_tendency_model(series, PRIOR)
    for name, values in drawn.items():
        plain = pm.draw(model[name], 4_000, random_seed=2)
        ours, theirs = (np.quantile(v, [0.1, 0.5, 0.9]) for v in (values, plain))
        np.testing.assert_allclose(ours, theirs, atol=0.08 * np.ptp(theirs), err_msg=name)


def small_squad():
    """Six players, five sessions, one of them with a change; truth drawn by hand."""
    rng = np.random.default_rng(12)
    seasons = []
    for i in range(6):
        gap = np.array([0.0, 1.0, 2.0, 1.0, 3.0])
        count = rng.integers(4, 12, (5, 1)).astype(float)
        shot = np.exp(rng.normal(np.log(8), 0.2))
        level = rng.normal(1, 5) + np.cumsum(rng.normal(0, 0.7, 5) * np.sqrt(gap))
        change = {"change_at": (2,), "change_drill": (0,)} if i < 2 else {}
        level[2:] += 5.0 if i < 2 else 0.0
        mean = level + rng.normal(0, 2, 5) + rng.normal(0, shot, 5) / np.sqrt(count[:, 0])
        df = count.sum() - 5
        seasons.append(
            replace(
                made(sessions=5, methods=1),
                gap=gap,
                count=count,
                mean=mean[:, None],
                scatter_df=np.array([df]),
                scatter=np.array([(shot**2 + 1) * rng.chisquare(df)]),
                **change,
            )
        )
    return squad(seasons, drills=1)


@pytest.mark.slow
def test_a_fit_is_that_of_the_sampled_pymc_model():
    series = small_squad()
    effort = Effort(draws=3000, tune=800, chains=4, target_accept=0.95, doublings=3)
    tree = sample(tendency_target(series, PRIOR), effort, 1)["posterior"].dataset
    with build_tendency_model(series, PRIOR):
        plain = pm.sample(
            3000,
            tune=1000,
            chains=4,
            target_accept=0.95,
            random_seed=2,
            nuts_sampler="nutpie",
            progressbar=False,
        )["posterior"].dataset
    names = list(tree.data_vars)
    draws = {n: tree[n].to_numpy().reshape(-1, *tree[n].shape[2:]) for n in names}
    rows = {n: v[::4] for n, v in draws.items()}
    shots = smoothed(rows, series, np.random.default_rng(0)).shot_sd
    draws["log_shot_sd"] = np.log(shots)
    for name, ours in draws.items():
        theirs = plain[name].to_numpy().reshape(-1, *plain[name].shape[2:])
        sd = theirs.std(axis=0)
        apart = (ours.mean(axis=0) - theirs.mean(axis=0)) / sd
        print(name, np.round(apart, 3), np.round(ours.std(axis=0) / sd, 3))
        np.testing.assert_allclose(apart, 0, atol=0.1, err_msg=name)
        np.testing.assert_allclose(ours.std(axis=0), sd, rtol=0.1, err_msg=name)
