"""The density of a squad's balls against SciPy's normals, and every derivative."""

import numpy as np
import pytest
from scipy import stats

from models.calibration import constants_and_heads, packed_calibration
from models.calibration_data import (
    CARRY_RESIDUAL_SCALE,
    CONSTANTS,
    FLIGHT_CONSTANTS,
    IMPACT_CONSTANTS,
    OFFSET_SCALE,
    OFFSETS,
    RESIDUAL_SCALE,
    CalibrationData,
    calibration_prior,
    mode,
)
from models.calibration_density import calibration_density

ROWS, CARRIES, PLAYERS, BIASES, ROOM = 6, 4, 3, 2, 3


@pytest.fixture(scope="module")
def data():
    rng = np.random.default_rng(5)
    centre, cov = calibration_prior()
    sd = np.sqrt(np.diag(cov))
    flights = len(FLIGHT_CONSTANTS)
    unit = RESIDUAL_SCALE[None, :, None]
    slope = unit * rng.normal(0, 1, (ROWS, 3, len(IMPACT_CONSTANTS))) / sd[flights:]
    return CalibrationData(
        players=("A", "B", "C"),
        centre=centre,
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
    )


def parameters(seed):
    rng = np.random.default_rng(seed)
    return [
        rng.normal(0, 1, len(CONSTANTS) + ROOM),
        rng.uniform(0.4, 1.5, len(OFFSETS)),
        rng.normal(0, 1, (PLAYERS, len(OFFSETS))),
        rng.uniform(0.4, 1.5, 3),
        rng.uniform(0.4, 1.5, 1),
    ]


def by_hand(data, values):
    """Return the log density as ``models.calibration`` states it, from SciPy's normals."""
    white, offset_sd, offset_raw, residual, carry_residual = values
    top, covariance = mode(data)
    known = len(CONSTANTS) + BIASES
    found = top + np.linalg.cholesky(covariance) @ white[:known]
    theta, bias = found[: len(CONSTANTS)], found[len(CONSTANTS) :]
    middle, prior = calibration_prior()
    total = stats.multivariate_normal(middle, prior).logpdf(theta)
    total += stats.norm(0, data.bias_sd).logpdf(bias).sum()
    total += stats.norm.logpdf(white[known:]).sum()
    flights = len(FLIGHT_CONSTANTS)
    away = theta - data.centre
    head = np.zeros((PLAYERS, len(IMPACT_CONSTANTS)))
    for o, name in enumerate(OFFSETS):
        own = IMPACT_CONSTANTS.index(name)
        head[:, own] = offset_sd[o] * offset_raw[:, o] * OFFSET_SCALE[o]
    for r in range(ROWS):
        moved = away[flights:] + head[data.player[r]]
        mean = data.predicted[r] + data.slope[r] @ moved + data.bias_slope[r] @ bias
        sd = np.sqrt(data.known_variance[r] + (residual * RESIDUAL_SCALE) ** 2)
        total += stats.norm(mean, sd).logpdf(data.observed[r]).sum()
    carry = data.carry_predicted + data.carry_slope @ away[:flights]
    sd = np.sqrt(data.carry_known_variance + (carry_residual * CARRY_RESIDUAL_SCALE) ** 2)
    return total + stats.norm(carry, sd).logpdf(data.carry_observed).sum()


def test_density_is_that_of_the_normals(data):
    rows = packed_calibration(data, ROOM)
    first, second, third = (parameters(seed) for seed in (1, 2, 3))
    ours = [calibration_density(*v, rows)[0] for v in (first, second, third)]
    exact = [by_hand(data, v) for v in (first, second, third)]
    np.testing.assert_allclose(np.diff(ours), np.diff(exact), rtol=1e-8)


@pytest.mark.parametrize("which", range(5))
def test_every_derivative_matches_finite_differences(data, which):
    rows = packed_calibration(data, ROOM)
    values = parameters(4)
    found = calibration_density(*values, rows)[1 + which]
    h = 1e-6
    for place in np.ndindex(values[which].shape):
        up, down = ([v.copy() for v in values] for _ in range(2))
        up[which][place] += h
        down[which][place] -= h
        slope = (calibration_density(*up, rows)[0] - calibration_density(*down, rows)[0]) / (2 * h)
        assert found[place] == pytest.approx(slope, rel=1e-5, abs=1e-5)


def test_constants_and_heads_come_back_from_the_whitened_draws(data):
    values = parameters(6)
    names = ("white", "offset_sd", "offset_raw")
    draws = {name: value[None] for name, value in zip(names, values, strict=False)}
    theta, head = constants_and_heads(data, draws)
    top, covariance = mode(data)
    known = len(CONSTANTS) + BIASES
    expected = (top + np.linalg.cholesky(covariance) @ values[0][:known])[: len(CONSTANTS)]
    np.testing.assert_allclose(theta[0], expected)
    np.testing.assert_allclose(head[0], values[1] * values[2] * OFFSET_SCALE)


def test_more_biases_than_room_are_refused(data):
    with pytest.raises(ValueError, match="room for 1 method biases, but the rows have 2"):
        packed_calibration(data, 1)
