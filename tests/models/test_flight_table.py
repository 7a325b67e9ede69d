"""The table against the integrator, over everything a driver does to a ball."""

from dataclasses import replace

import numpy as np
import pytest

from models.air import air_at
from models.drive_parameters import default_parameters, draw_parameters, shape_covariance
from models.flight import fly
from models.flight_shape import carry_series, shape_coordinates
from models.flight_table import flight_table
from models.impact import BallLaunch

PARAMETERS = default_parameters()
SHAPE = PARAMETERS.flight_shape()
CONSTANTS = PARAMETERS.flight_constants()
AIR = air_at()
YARD_M = 0.9144


def scattered_launches(n, seed=11):
    rng = np.random.default_rng(seed)
    return BallLaunch(
        rng.uniform(45, 85, n),
        rng.uniform(0, 25, n),
        rng.uniform(800, 8000, n),
        rng.uniform(-40, 40, n),
        rng.normal(0, 3, n),
    )


def ordinary_launches(n, seed=12):
    rng = np.random.default_rng(seed)
    return BallLaunch(
        rng.normal(68, 5, n),
        rng.normal(12, 2.5, n),
        rng.normal(2700, 500, n),
        rng.normal(0, 8, n),
        rng.normal(0, 3, n),
    )


@pytest.fixture(scope="module")
def table():
    return flight_table(AIR, CONSTANTS)


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def test_default_landings_are_within_a_tenth_of_a_yard(table):
    balls = scattered_launches(12_000)
    looked_up, exact = table.fly(balls, SHAPE), fly(balls, AIR, SHAPE, CONSTANTS)
    assert np.abs(looked_up.carry_m - exact.carry_m).max() <= 0.1 * YARD_M
    assert np.abs(looked_up.side_m - exact.side_m).max() <= 0.1 * YARD_M
    assert rms(looked_up.carry_m - exact.carry_m) <= 0.01 * YARD_M
    assert np.abs(looked_up.apex_m - exact.apex_m).max() <= 0.02
    assert np.abs(looked_up.hang_s - exact.hang_s).max() <= 0.01
    assert np.abs(looked_up.land_angle_deg - exact.land_angle_deg).max() <= 0.1
    assert np.abs(looked_up.land_speed_mps - exact.land_speed_mps).max() <= 0.1
    assert np.abs(looked_up.land_spin_rpm - exact.land_spin_rpm).max() <= 2.0


@pytest.mark.parametrize("launches", [scattered_launches, ordinary_launches])
def test_drawn_shapes_stay_within_half_a_yard_rms(table, launches):
    n = 6_000
    rng = np.random.default_rng(13)
    drawn = replace(
        draw_parameters(n, rng),
        drag_factor=rng.normal(1.0, 0.025, n),
        lift_factor=rng.normal(1.0, 0.05, n),
    )
    balls, shape = launches(n), drawn.flight_shape()
    looked_up, exact = table.fly(balls, shape), fly(balls, AIR, shape, CONSTANTS)
    assert rms(looked_up.carry_m - exact.carry_m) <= 0.5 * YARD_M
    # The draws themselves move carry by far more than that.
    plain = fly(balls, AIR, SHAPE, CONSTANTS).carry_m
    assert rms(exact.carry_m - plain) > 4.0


def test_launches_the_table_cannot_serve_are_integrated(table):
    odd = BallLaunch(
        np.array([20.0, 70.0, 70.0, 70.0, 95.0]),
        np.array([10.0, 40.0, -1.0, 12.0, 10.0]),
        np.array([2500.0, 2500.0, 2500.0, 2500.0, 2500.0]),
        np.array([0.0, 5.0, 0.0, 70.0, 0.0]),
    )
    looked_up, exact = table.fly(odd, SHAPE), fly(odd, AIR, SHAPE, CONSTANTS)
    np.testing.assert_allclose(looked_up.carry_m, exact.carry_m, rtol=1e-12)
    np.testing.assert_allclose(looked_up.side_m, exact.side_m, rtol=1e-12)


def test_gap_in_a_launch_stays_a_gap(table):
    speed = np.array([70.0, np.nan, 70.0])
    carry = table.fly(BallLaunch(speed, 12.0, 2500.0), SHAPE).carry_m
    assert np.isnan(carry[1])
    assert carry[0] == carry[2] > 200.0


def test_shapes_far_from_the_prior_are_integrated(table):
    heavy = replace(PARAMETERS, drag_factor=2.0).flight_shape()
    balls = ordinary_launches(50)
    np.testing.assert_allclose(
        table.fly(balls, heavy).carry_m, fly(balls, AIR, heavy, CONSTANTS).carry_m, rtol=1e-12
    )


def test_ordinary_drives_hardly_ever_need_the_integrator(table):
    balls = ordinary_launches(20_000)
    launch = np.stack(
        [
            balls.ball_speed_mps,
            np.radians(balls.launch_deg),
            np.radians(balls.side_deg),
            balls.spin_rpm * np.pi / 30,
            np.radians(balls.axis_deg),
        ],
        axis=-1,
    )
    _, missed = table.interpolated(launch, SHAPE[None, :], len(launch))
    assert missed.mean() < 0.005


def test_thin_air_has_a_table_of_its_own():
    mountain = air_at(15.0, 2_000.0, 0.3)
    balls = scattered_launches(2_000)
    looked_up = flight_table(mountain, CONSTANTS).fly(balls, SHAPE)
    exact = fly(balls, mountain, SHAPE, CONSTANTS)
    assert np.abs(looked_up.carry_m - exact.carry_m).max() <= 0.1 * YARD_M


def test_table_is_built_once_for_an_air():
    assert flight_table(air_at(), CONSTANTS) is flight_table(air_at(), CONSTANTS)


def test_one_shape_for_several_launches_equals_the_shape_repeated(table):
    shapes = draw_parameters(7, np.random.default_rng(1)).flight_shape()
    balls = ordinary_launches(7 * 30)
    launch = np.stack(
        [
            balls.ball_speed_mps,
            np.radians(balls.launch_deg),
            np.radians(balls.side_deg),
            balls.spin_rpm * np.pi / 30,
            np.radians(balls.axis_deg),
        ],
        axis=-1,
    )
    np.testing.assert_allclose(
        table.rows(launch, shapes, 30), table.rows(launch, np.repeat(shapes, 30, axis=0)), rtol=1e-6
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
