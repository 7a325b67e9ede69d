"""The hand-written density of a squad's balls against the PyMC model that states it."""

from dataclasses import replace

import numpy as np
import pytest

from models.calibration.data import (
    CONSTANTS,
    FLIGHT_CONSTANTS,
    IMPACT_CONSTANTS,
    OFFSET_SCALE,
    RESIDUAL_SCALE,
    CalibrationData,
    calibration_prior,
)
from models.calibration.target import calibration_target, constants_and_heads, whitening
from tests.reference.calibration_model import build_calibration_model

pytestmark = pytest.mark.filterwarnings("default")

ROWS, CARRIES, BIASES, SHOTS = 6, 4, 2, 40


@pytest.fixture(scope="module")
def data():
    rng = np.random.default_rng(5)
    centre, cov = calibration_prior()
    sd = np.sqrt(np.diag(cov))
    flights = len(FLIGHT_CONSTANTS)
    unit = RESIDUAL_SCALE[None, :, None]
    slope = unit * rng.normal(0, 1, (ROWS, 3, len(IMPACT_CONSTANTS))) / sd[flights:]
    shots = rng.normal(0, 1, (SHOTS, len(IMPACT_CONSTANTS) + BIASES))
    shots /= np.concatenate([sd[flights:], [0.4, 0.7]])
    shots[:, -1] = 0.0  # the second bias does not show within sessions
    return CalibrationData(
        players=("A", "B", "C", "D"),  # D has no ball
        centre=centre + 0.3 * sd,
        player=np.array([0, 0, 1, 1, 2, 2]),
        observed=RESIDUAL_SCALE * rng.normal(0, 2, (ROWS, 3)),
        predicted=RESIDUAL_SCALE * rng.normal(0, 1, (ROWS, 3)),
        known_variance=RESIDUAL_SCALE**2 * rng.uniform(0.2, 1, (ROWS, 3)),
        slope=slope,
        carry_observed=rng.normal(200, 3, CARRIES),
        carry_predicted=rng.normal(200, 3, CARRIES),
        carry_known_variance=rng.uniform(1, 4, CARRIES),
        carry_slope=rng.normal(0, 2, (CARRIES, flights)) / sd[:flights],
        bias_slope=unit * rng.normal(0, 1, (ROWS, 3, BIASES)),
        bias_sd=np.array([0.4, 0.7]),
        shots_precision=shots.T @ shots,
        shots_vector=shots.T @ rng.normal(0, 1, SHOTS),
    )


def unbiased(data):
    """The same squad read by methods without a bias to learn."""
    impacts = len(IMPACT_CONSTANTS)
    return replace(
        data,
        bias_slope=data.bias_slope[:, :, :0],
        bias_sd=data.bias_sd[:0],
        shots_precision=data.shots_precision[:impacts, :impacts],
        shots_vector=data.shots_vector[:impacts],
    )


def places(target, count=4):
    rng = np.random.default_rng(8)
    return [target.start + rng.normal(0, 0.7, target.size) for _ in range(count)]


def as_point(model, target, x):
    """An unconstrained vector as PyMC names it: every SD by its logarithm."""
    named = {**target.named(x)}
    named["offset_raw"] = named["head"] / named["offset_sd"]
    point = {}
    for variable in model.free_RVs:
        held = model.rvs_to_values[variable]
        logged = held.name.endswith("_log__")
        point[held.name] = np.log(named[variable.name]) if logged else named[variable.name]
    return point


def stretch(model, target, x):
    """Log of how much longer a step of ours is in PyMC's coordinates, in every direction."""
    names = [v.name for v in model.value_vars]

    def flat(at):
        point = as_point(model, target, at)
        return np.concatenate([np.ravel(point[name]) for name in names])

    steps = np.eye(target.size) * 1e-5
    jacobian = np.stack([(flat(x + h) - flat(x - h)) / 2e-5 for h in steps], axis=1)
    return np.linalg.slogdet(jacobian)[1]


@pytest.mark.parametrize("biases", [True, False], ids=["two biases", "no bias"])
def test_density_and_gradient_are_those_of_the_stated_model(data, biases):
    """Up to a constant, once the change of coordinates is allowed for."""
    data = data if biases else unbiased(data)
    target, model = calibration_target(data), build_calibration_model(data)
    stated = model.compile_fn(
        [model.logp(), model.dlogp()], inputs=model.value_vars, mode="FAST_COMPILE"
    )
    names = [v.name for v in model.value_vars]
    found, wanted = [], []
    for x in places(target):
        value, slope = target.log_density(x)
        exact, exact_slope = stated(as_point(model, target, x))
        found.append(value)
        wanted.append(float(exact) + stretch(model, target, x))
        for i in range(target.size):
            step = 1e-4 * np.eye(target.size)[i]
            ahead, behind = (as_point(model, target, x + s) for s in (step, -step))
            moved = np.concatenate([np.ravel(ahead[n] - behind[n]) for n in names]) / 2e-4
            wider = stretch(model, target, x + step) - stretch(model, target, x - step)
            along = exact_slope @ moved + wider / 2e-4
            assert slope[i] == pytest.approx(along, rel=1e-4, abs=1e-3)
    np.testing.assert_allclose(np.diff(found), np.diff(wanted), rtol=1e-6, atol=1e-5)


def test_gradient_matches_finite_differences(data):
    target = calibration_target(data)
    x, h = places(target)[0], 1e-6
    slope = target.log_density(x)[1]
    for i in range(target.size):
        up, down = x.copy(), x.copy()
        up[i] += h
        down[i] -= h
        step = (target.log_density(up)[0] - target.log_density(down)[0]) / (2 * h)
        assert slope[i] == pytest.approx(step, rel=1e-4, abs=1e-4)


def test_density_without_a_number_is_refused_and_not_followed(data):
    target = calibration_target(data)
    x = target.start.copy()
    x[0] = 1e200
    assert target.log_density(x)[0] == -np.inf


def test_names_and_shapes_of_what_is_sampled(data):
    target = calibration_target(data)
    named = target.named(np.stack(places(target)))
    assert named["white"].shape == (4, len(CONSTANTS) + BIASES)
    assert named["head"].shape == (4, 4, 2)
    assert np.all(named["offset_sd"] > 0)
    assert np.all(named["residual"] > 0)


def test_constants_and_heads_come_back_from_the_whitened_draws(data):
    target = calibration_target(data)
    draws = target.named(np.stack(places(target)))
    theta, head = constants_and_heads(data, draws)
    top, factor = whitening(data)
    np.testing.assert_allclose(theta[1], (top + factor @ draws["white"][1])[: len(CONSTANTS)])
    own = draws["head"][1] * OFFSET_SCALE
    np.testing.assert_allclose(head[1], own - own.mean(axis=0))
    np.testing.assert_allclose(head.sum(axis=1), 0.0, atol=1e-12)
