from dataclasses import replace

import numpy as np
import pytest

from models.calibration.data import (
    CONSTANTS,
    FLIGHT_CONSTANTS,
    IMPACT_CONSTANTS,
    CalibrationData,
    calibration_prior,
    mode,
)
from models.drive.parameters import CG_HEIGHT_SD_M, draw_parameters

ROWS = 400


def rows(truth, noise=0.05, seed=0, bias=0.0, bias_sd=()):
    """Rows that answer linearly to the constants, with slopes that tell them apart."""
    rng = np.random.default_rng(seed)
    middle, covariance = calibration_prior()
    scale = np.sqrt(np.diag(covariance))
    flights = len(FLIGHT_CONSTANTS)
    slope = rng.normal(size=(ROWS, 3, len(IMPACT_CONSTANTS))) / scale[flights:]
    carry_slope = rng.normal(size=(ROWS, flights)) / scale[:flights]
    away = truth - middle
    biases = np.full((ROWS, 3, len(bias_sd)), 1.0)
    biases[: ROWS // 2] = 0.0
    observed = slope @ away[flights:] + biases @ np.full(len(bias_sd), bias)
    return CalibrationData(
        players=("Ann",),
        centre=middle,
        player=np.zeros(ROWS, dtype=np.int64),
        observed=observed + rng.normal(0, noise, (ROWS, 3)) * [0.5, 0.5, 150.0],
        predicted=np.zeros((ROWS, 3)),
        known_variance=np.full((ROWS, 3), 1e-4),
        slope=slope,
        carry_observed=carry_slope @ away[:flights] + rng.normal(0, noise, ROWS),
        carry_predicted=np.zeros(ROWS),
        carry_known_variance=np.full(ROWS, 1e-4),
        carry_slope=carry_slope,
        bias_slope=biases,
        bias_sd=np.array(bias_sd, dtype=np.float64),
        shots_precision=np.zeros((len(IMPACT_CONSTANTS) + len(bias_sd),) * 2),
        shots_vector=np.zeros(len(IMPACT_CONSTANTS) + len(bias_sd)),
    )


def planted():
    middle, covariance = calibration_prior()
    signs = np.where(np.arange(middle.size) % 2, 1.0, -1.0)
    return middle + signs * np.sqrt(np.diag(covariance))


def test_the_mode_is_at_the_planted_constants():
    found, covariance = mode(rows(planted()))
    sd = np.sqrt(np.diag(covariance))
    assert np.all(np.abs(found - planted()) < 4 * sd)
    assert np.all(sd < 0.8 * np.sqrt(np.diag(calibration_prior()[1])))


def test_without_rows_the_mode_is_the_prior():
    middle, covariance = calibration_prior()
    data = rows(planted())
    empty = CalibrationData(
        players=data.players, centre=middle, player=data.player[:0], observed=data.observed[:0],
        predicted=data.predicted[:0], known_variance=data.known_variance[:0],
        slope=data.slope[:0], carry_observed=data.carry_observed[:0],
        carry_predicted=data.carry_predicted[:0],
        carry_known_variance=data.carry_known_variance[:0], carry_slope=data.carry_slope[:0],
        bias_slope=data.bias_slope[:0], bias_sd=data.bias_sd,
        shots_precision=data.shots_precision, shots_vector=data.shots_vector,
    )  # fmt: skip
    found, spread = mode(empty)
    np.testing.assert_allclose(found, middle, rtol=1e-9)
    np.testing.assert_allclose(spread, covariance, rtol=1e-6, atol=1e-12)


def test_an_uncertain_method_bias_is_found_and_widens_nothing_it_does_not_touch():
    found, _ = mode(rows(planted(), bias=1.5, bias_sd=(2.0,)))
    assert found[len(CONSTANTS)] == pytest.approx(1.5, abs=0.1)


def test_the_prior_is_the_drive_prior_with_drag_lift_and_cg_beside_it():
    middle, covariance = calibration_prior()
    drawn = draw_parameters(20_000, np.random.default_rng(3))
    for i, name in enumerate(CONSTANTS):
        if name in ("drag_factor", "lift_factor"):
            continue
        values = np.asarray(getattr(drawn, name))
        assert values.mean() == pytest.approx(middle[i], abs=0.05 * covariance[i, i] ** 0.5)
        assert values.std() == pytest.approx(covariance[i, i] ** 0.5, rel=0.05)
    # estimates of ours, no source: drag 1 +- .025, lift 1 +- .05, CG height 0 +- 3 mm
    sd = dict(zip(CONSTANTS, np.sqrt(np.diag(covariance)), strict=True))
    assert sd["drag_factor"] == pytest.approx(0.025)
    assert sd["lift_factor"] == pytest.approx(0.05)
    assert sd["cg_height_m"] == pytest.approx(CG_HEIGHT_SD_M) == pytest.approx(0.003)
    # the strike's own: closure 55 +- 15 1/s, pitch -10 +- 10 1/s, fall-off .03 +- 30 %
    assert sd["closure_per_s"] == pytest.approx(15.0)
    assert sd["pitch_per_s"] == pytest.approx(10.0)
    assert sd["restitution_falloff"] == pytest.approx(0.3 * 0.03)


def test_what_shots_tell_within_sessions_counts_like_rows_would():
    """A thousand shots that tell of the impact alone, as sums, give least squares' answer."""
    rng = np.random.default_rng(4)
    middle, covariance = calibration_prior()
    flights = len(FLIGHT_CONSTANTS)
    scale = np.sqrt(np.diag(covariance))[flights:]
    steep = rng.normal(size=(1000, scale.size)) / scale
    told = steep @ (0.7 * scale) + rng.normal(0, 1, 1000)
    data = replace(
        rows(planted()), observed=np.zeros((0, 3)), predicted=np.zeros((0, 3)),
        known_variance=np.zeros((0, 3)), slope=np.zeros((0, 3, scale.size)),
        bias_slope=np.zeros((0, 3, 0)), shots_precision=steep.T @ steep,
        shots_vector=steep.T @ told,
    )  # fmt: skip
    found, _ = mode(data)
    least = np.linalg.lstsq(steep, told, rcond=None)[0]
    np.testing.assert_allclose((found - middle)[flights:] / scale, least / scale, atol=0.01)
