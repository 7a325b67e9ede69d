"""Flight against closed forms, SciPy's DOP853 and the symmetries of the equations."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.drive.air import air_at
from models.drive.flight import STEP_S, fly
from models.drive.impact import BallLaunch
from models.drive.parameters import default_parameters

PARAMETERS = default_parameters()
SHAPE = PARAMETERS.flight_shape()
CONSTANTS = PARAMETERS.flight_constants()
AIR = air_at()
VACUUM = np.zeros(6)
YARD_M = 0.9144


def reference_landing(ball, wind=(0.0, 0.0, 0.0)):
    """Return landing point, time, spin of one flight by DOP853, in a right-hander's own axes.

    Written apart from the model: x target, y left, z up; spin as a vector in space.
    """
    mass, radius = 0.04593, 0.021335
    area = math.pi * radius**2
    cd1, cd2, cd22, cd3, cl1, p = SHAPE
    up, side, tilt = (math.radians(v) for v in (ball.launch_deg, ball.side_deg, ball.axis_deg))
    forward = np.array(
        [math.cos(up) * math.cos(side), -math.cos(up) * math.sin(side), math.sin(up)]
    )
    left = np.array([math.sin(side), math.cos(side), 0.0])
    above = np.cross(forward, left)
    axis = -math.cos(tilt) * left - math.sin(tilt) * above
    drift = np.array([wind[0], -wind[1], wind[2]])

    def rates(_t, y):
        velocity, spin = y[3:6], y[6]
        u = velocity - drift
        speed = np.linalg.norm(u)
        s = radius * spin / speed
        reynolds = AIR.density * speed * 2 * radius / AIR.viscosity
        q = min(max((9e4 - reynolds) / 2e5, -0.5), 0.5)
        square = s**2 if s <= 1.0 else 2.0 * s - 1.0
        drag = cd1 + cd2 * s + cd22 * square + cd3 * math.sin(math.pi * q)
        lift = cl1 * (s / (1 + (s / 0.35) ** 6) ** (1 / 6)) ** p
        k = 0.5 * AIR.density * area * speed / mass
        force = -k * drag * u + k * lift * np.cross(axis, u) - np.array([0, 0, 9.80665])
        return np.concatenate([velocity, force, [-2e-5 * spin * speed / radius]])

    def ground(t, y):
        return y[2] if t > 0.05 else 1.0

    ground.terminal, ground.direction = True, -1
    start = np.concatenate(
        [np.zeros(3), ball.ball_speed_mps * forward, [ball.spin_rpm * np.pi / 30]]
    )
    path = solve_ivp(rates, (0, 30), start, method="DOP853", rtol=1e-10, atol=1e-10, events=ground)
    return path.y[:, -1], path.t[-1]


@pytest.mark.parametrize(
    ("speed", "launch", "carry_m"),
    # v^2 sin(2 a) / g, worked by hand for 60 m/s at 20 degrees: 3600 x .6427876097 / 9.80665.
    [(60.0, 20.0, 235.9659410), (75.0, 10.0, 75.0**2 * math.sin(math.radians(20)) / 9.80665)],
)
def test_range_in_vacuum_is_exact(speed, launch, carry_m):
    flight = fly(BallLaunch(speed, launch, 3000.0), AIR, VACUUM, (9e4, 2e5, 0.35, 0.0))
    assert flight.carry_m == pytest.approx(carry_m, rel=1e-8)
    assert flight.land_speed_mps == pytest.approx(speed, rel=1e-9)
    assert flight.land_angle_deg == pytest.approx(launch, rel=1e-8)
    assert flight.hang_s == pytest.approx(2 * speed * math.sin(math.radians(launch)) / 9.80665)
    assert flight.apex_m == pytest.approx(
        (speed * math.sin(math.radians(launch))) ** 2 / (2 * 9.80665), rel=1e-6
    )


BALLS = {
    "tour": BallLaunch(74.8, 10.8, 2600.0),
    "fade": BallLaunch(62.0, 14.0, 3400.0, 12.0, -3.0),
    "low draw": BallLaunch(80.0, 3.0, 1500.0, -25.0, 4.0),
    "skied": BallLaunch(46.0, 22.0, 7800.0, 38.0, 0.0),
}


@pytest.mark.parametrize("ball", BALLS.values(), ids=BALLS.keys())
def test_landing_agrees_with_dop853(ball):
    flight = fly(ball, AIR, SHAPE, CONSTANTS, step_s=0.05)
    end, seconds = reference_landing(ball)
    assert flight.carry_m == pytest.approx(math.hypot(end[0], end[1]), abs=1e-4 * YARD_M)
    assert flight.side_m == pytest.approx(-end[1], abs=1e-4)
    assert flight.hang_s == pytest.approx(seconds, abs=1e-5)
    assert flight.land_spin_rpm == pytest.approx(end[6] * 30 / math.pi, rel=1e-6)
    assert flight.land_speed_mps == pytest.approx(np.linalg.norm(end[3:6]), rel=1e-5)


@pytest.mark.parametrize("ball", BALLS.values(), ids=BALLS.keys())
def test_default_step_is_good_to_a_hundredth_of_a_yard(ball):
    flight = fly(ball, AIR, SHAPE, CONSTANTS)
    end, seconds = reference_landing(ball)
    assert flight.carry_m == pytest.approx(math.hypot(end[0], end[1]), abs=0.005 * YARD_M)
    assert flight.side_m == pytest.approx(-end[1], abs=0.005)
    assert flight.hang_s == pytest.approx(seconds, abs=5e-4)
    assert flight.land_spin_rpm == pytest.approx(end[6] * 30 / math.pi, rel=1e-5)
    assert flight.land_speed_mps == pytest.approx(np.linalg.norm(end[3:6]), rel=1e-4)


def test_any_launch_the_physics_takes_is_within_a_hundredth_of_a_yard_of_fine_steps():
    rng = np.random.default_rng(17)
    n = 4_000
    balls = BallLaunch(
        rng.uniform(10, 105, n), rng.uniform(0.1, 48, n), rng.uniform(0, 14_000, n),
        rng.uniform(-80, 80, n), rng.uniform(-20, 20, n),
    )  # fmt: skip
    wide, fine = (fly(balls, AIR, SHAPE, CONSTANTS, step_s=s) for s in (STEP_S, 0.01))
    assert np.abs(wide.carry_m - fine.carry_m).max() <= 0.01 * YARD_M
    assert np.abs(wide.side_m - fine.side_m).max() <= 0.01 * YARD_M
    assert np.abs(wide.apex_m - fine.apex_m).max() <= 0.01
    assert np.all(fine.hang_s < 30.0)  # nothing floats


def test_a_flight_does_not_depend_on_the_flights_beside_it():
    rng = np.random.default_rng(18)
    n = 61
    balls = BallLaunch(rng.uniform(20, 90, n), rng.uniform(-5, 45, n), rng.uniform(0, 9_000, n))
    together = fly(balls, AIR, SHAPE, CONSTANTS)
    for i in (0, 7, 8, 30, 60):
        one = BallLaunch(balls.ball_speed_mps[i], balls.launch_deg[i], balls.spin_rpm[i])
        alone = fly(one, AIR, SHAPE, CONSTANTS)
        assert alone.carry_m == pytest.approx(together.carry_m[i], rel=1e-13)
        assert alone.hang_s == pytest.approx(together.hang_s[i], rel=1e-13)


def test_a_gap_in_one_launch_stays_a_gap_and_leaves_the_others_alone():
    speed = np.array([70.0, np.nan, 70.0])
    carry = fly(BallLaunch(speed, 12.0, 2500.0), AIR, SHAPE, CONSTANTS).carry_m
    assert np.isnan(carry[1])
    assert carry[0] == carry[2] > 200.0


def test_wind_agrees_with_dop853():
    ball, wind = BallLaunch(70.0, 12.0, 2700.0, 5.0, 1.0), (-4.0, 6.0, 0.0)
    flight = fly(ball, AIR, SHAPE, CONSTANTS, wind_mps=wind, step_s=0.05)
    end, _ = reference_landing(ball, wind)
    assert flight.side_m == pytest.approx(-end[1], abs=1e-4)
    assert flight.carry_m == pytest.approx(math.hypot(end[0], end[1]), abs=1e-4)


def test_wind_is_a_moving_frame():
    # Seen from air that moves at 5 m/s toward the target, the ball leaves 5 m/s slower there.
    speed, launch, wind = 70.0, math.radians(12.0), 5.0
    level, rise = speed * math.cos(launch) - wind, speed * math.sin(launch)
    blown = fly(BallLaunch(speed, 12.0, 2700.0), AIR, SHAPE, CONSTANTS, wind_mps=(wind, 0.0, 0.0))
    still = fly(
        BallLaunch(math.hypot(level, rise), math.degrees(math.atan2(rise, level)), 2700.0),
        AIR, SHAPE, CONSTANTS,
    )  # fmt: skip
    assert blown.hang_s == pytest.approx(still.hang_s, rel=1e-9)
    assert blown.carry_m == pytest.approx(still.carry_m + wind * still.hang_s, rel=1e-9)


def test_mirrored_launch_lands_in_the_mirror():
    axis, side = np.array([-30.0, -8.0, 15.0]), np.array([2.0, -3.0, 0.5])
    one = fly(BallLaunch(68.0, 12.0, 2900.0, axis, side), AIR, SHAPE, CONSTANTS)
    other = fly(BallLaunch(68.0, 12.0, 2900.0, -axis, -side), AIR, SHAPE, CONSTANTS)
    np.testing.assert_allclose(one.carry_m, other.carry_m, rtol=1e-12)
    np.testing.assert_allclose(one.side_m, -other.side_m, rtol=1e-12)


def test_axis_and_crosswind_push_toward_the_side_they_name():
    ball = BallLaunch(68.0, 12.0, 2900.0, np.array([0.0, 10.0]))
    still = fly(ball, AIR, SHAPE, CONSTANTS)
    assert still.side_m[0] == pytest.approx(0.0, abs=1e-12)
    assert still.side_m[1] > 10.0
    assert fly(ball, AIR, SHAPE, CONSTANTS, wind_mps=(0.0, 3.0, 0.0)).side_m[0] > 3.0


def test_turning_the_launch_turns_the_whole_flight():
    straight = fly(BallLaunch(68.0, 12.0, 2900.0, 10.0, 0.0), AIR, SHAPE, CONSTANTS)
    turned = fly(BallLaunch(68.0, 12.0, 2900.0, 10.0, 7.0), AIR, SHAPE, CONSTANTS)
    assert turned.carry_m == pytest.approx(straight.carry_m, rel=1e-12)
    assert turned.land_heading_deg - straight.land_heading_deg == pytest.approx(7.0, abs=1e-9)


def test_error_falls_with_the_fourth_power_of_the_step():
    # Slow enough that drag's clipped term never switches, where the order would drop.
    ball = BallLaunch(45.0, 15.0, 4000.0)
    fine = fly(ball, AIR, SHAPE, CONSTANTS, step_s=0.005).carry_m
    coarse = abs(fly(ball, AIR, SHAPE, CONSTANTS, step_s=0.2).carry_m - fine)
    half = abs(fly(ball, AIR, SHAPE, CONSTANTS, step_s=0.1).carry_m - fine)
    assert half < coarse / 8
    assert half < 1e-4


@pytest.mark.parametrize("launch", [-5.0, 0.0])
def test_ball_driven_into_the_ground_carries_nothing(launch):
    flight = fly(BallLaunch(50.0, launch, 0.0), AIR, SHAPE, CONSTANTS)
    assert flight.carry_m == pytest.approx(0.0, abs=1e-6)
    assert flight.apex_m == 0.0


def test_each_flight_takes_its_own_shape():
    thick = replace(PARAMETERS, drag_factor=np.array([1.0, 1.05]))
    both = fly(BallLaunch(70.0, 12.0, 2600.0), AIR, thick.flight_shape(), CONSTANTS).carry_m
    alone = replace(PARAMETERS, drag_factor=1.05).flight_shape()
    assert both[0] == pytest.approx(
        fly(BallLaunch(70.0, 12.0, 2600.0), AIR, SHAPE, CONSTANTS).carry_m
    )
    assert both[1] == pytest.approx(
        fly(BallLaunch(70.0, 12.0, 2600.0), AIR, alone, CONSTANTS).carry_m
    )
    assert both[1] < both[0] - 3.0
