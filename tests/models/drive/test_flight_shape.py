"""The coordinates of the flight's uncertain numbers, and the series of carry in them."""

from dataclasses import replace

import numpy as np

from models.drive.air import air_at
from models.drive.flight import fly
from models.drive.flight_shape import carry_series, shape_coordinates
from models.drive.impact import BallLaunch
from models.drive.parameters import default_parameters, shape_covariance

PARAMETERS = default_parameters()
SHAPE = PARAMETERS.flight_shape()
CONSTANTS = PARAMETERS.flight_constants()
AIR = air_at()


def ordinary_launches(n, seed=12):
    rng = np.random.default_rng(seed)
    return BallLaunch(
        rng.normal(68, 5, n),
        rng.normal(12, 2.5, n),
        rng.normal(2700, 500, n),
        rng.normal(0, 8, n),
        rng.normal(0, 3, n),
    )


def test_coordinates_are_standard_deviations_of_the_prior():
    frame = shape_coordinates()
    np.testing.assert_allclose(frame.u_of(SHAPE), 0.0, atol=1e-12)
    drawn = np.random.default_rng(2).multivariate_normal(SHAPE, shape_covariance(), 20_000)
    spread = np.cov(frame.u_of(drawn).T)
    np.testing.assert_allclose(np.diag(spread), 1.0, atol=0.12)
    np.testing.assert_allclose(frame.shape_of(frame.u_of(drawn[:50])), drawn[:50], rtol=1e-9)


def test_carry_series_follows_the_integrator():
    balls = ordinary_launches(40)
    series = carry_series(balls, AIR, CONSTANTS)
    changed = replace(PARAMETERS, drag_factor=1.02, lift_factor=0.97).flight_shape()
    exact = fly(balls, AIR, changed, CONSTANTS).carry_m
    u = shape_coordinates().u_of(changed)
    assert np.abs(series.at(u) - exact).max() < 0.15
    assert np.abs(series.carry_m - exact).max() > 3.0
