"""Speed of flight, table and cloud on one core, against SciPy's DOP853 on the same equations.

The reference is `solve_ivp(method="DOP853", rtol=1e-10)` twice: with the right-hand side written
as vectors (`np.cross`, `np.linalg.norm`: how one writes it in Python), and with it written out
in plain floats, about four times faster. Ratios are printed for both; those asserted are the
ones for the vector form.
"""

import math
import time
from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.air import air_at
from models.drive import Delivery, drive_cloud
from models.drive_parameters import default_parameters, draw_parameters
from models.flight import fly, launch_rows
from models.flight_table import build_table, flight_table
from models.impact import BallLaunch

pytestmark = pytest.mark.bench

PARAMETERS = default_parameters()
SHAPE = PARAMETERS.flight_shape()
CONSTANTS = PARAMETERS.flight_constants()
AIR = air_at()
YARD_M = 0.9144
MASS, RADIUS = 0.04593, 0.021335
CD1, CD2, CD22, CD3, CL1, P = (float(v) for v in SHAPE)


def seconds(work: Callable[[], object], repeats: int = 5) -> float:
    work()
    best = math.inf
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def some_launches(n: int) -> BallLaunch:
    rng = np.random.default_rng(2)
    return BallLaunch(
        rng.normal(68, 5, n), rng.normal(12, 2.5, n), rng.normal(2700, 500, n),
        rng.normal(0, 8, n), rng.normal(0, 3, n),
    )  # fmt: skip


def vector_rates(_t, y, axis):
    velocity, spin = y[3:6], y[6]
    speed = np.linalg.norm(velocity)
    s = RADIUS * spin / speed
    q = np.clip((9e4 - AIR.density * speed * 2 * RADIUS / AIR.viscosity) / 2e5, -0.5, 0.5)
    drag = CD1 + CD2 * s + CD22 * s**2 + CD3 * np.sin(np.pi * q)
    lift = CL1 * (s / (1 + (s / 0.35) ** 6) ** (1 / 6)) ** P
    k = 0.5 * AIR.density * np.pi * RADIUS**2 / MASS * speed
    force = -k * drag * velocity + k * lift * np.cross(axis, velocity)
    force[2] -= 9.80665
    return np.concatenate([velocity, force, [-2e-5 * spin * speed / RADIUS]])


def plain_rates(_t, y, axis):
    _, _, _, vx, vy, vz, spin = y
    speed = math.sqrt(vx * vx + vy * vy + vz * vz)
    s = RADIUS * spin / speed
    q = min(max((9e4 - AIR.density * speed * 2 * RADIUS / AIR.viscosity) / 2e5, -0.5), 0.5)
    drag = CD1 + CD2 * s + CD22 * s * s + CD3 * math.sin(math.pi * q)
    lift = CL1 * (s / (1 + (s / 0.35) ** 6) ** (1 / 6)) ** P
    k = 0.5 * AIR.density * math.pi * RADIUS**2 / MASS * speed
    ax, ay, az = axis
    return [
        vx, vy, vz,
        -k * drag * vx + k * lift * (ay * vz - az * vy),
        -k * drag * vy + k * lift * (az * vx - ax * vz),
        -k * drag * vz + k * lift * (ax * vy - ay * vx) - 9.80665,
        -2e-5 * spin * speed / RADIUS,
    ]  # fmt: skip


def reference(balls: BallLaunch, count: int, rates) -> np.ndarray:
    """Return carries of the first flights by DOP853; side mirrored into a left-hander's axes."""

    def ground(t, y, _axis):
        return y[2] if t > 0.05 else 1.0

    ground.terminal, ground.direction = True, -1
    carries = np.empty(count)
    for i in range(count):
        up, side, tilt = (
            math.radians(v[i]) for v in (balls.launch_deg, balls.side_deg, balls.axis_deg)
        )
        forward = np.array(
            [math.cos(up) * math.cos(side), math.cos(up) * math.sin(side), math.sin(up)]
        )
        level = np.array([-math.sin(side), math.cos(side), 0.0])
        axis = -math.cos(tilt) * level + math.sin(tilt) * np.cross(forward, level)
        start = [0, 0, 0, *(balls.ball_speed_mps[i] * forward), balls.spin_rpm[i] * math.pi / 30]
        path = solve_ivp(
            rates, (0, 30), start, method="DOP853", rtol=1e-10, atol=1e-10, events=ground,
            args=(axis,),
        )  # fmt: skip
        carries[i] = math.hypot(path.y[0, -1], path.y[1, -1])
    return carries


def test_flight_table_and_cloud_rates(capsys):
    balls = some_launches(40_000)
    few = BallLaunch(*(
        v[:40]
        for v in (balls.ball_speed_mps, balls.launch_deg, balls.spin_rpm, balls.axis_deg,
                  balls.side_deg)
    ))  # fmt: skip
    exact = reference(balls, 40, vector_rates)
    vector_rate = 40 / seconds(lambda: reference(balls, 40, vector_rates), 2)
    plain_rate = 40 / seconds(lambda: reference(balls, 40, plain_rates), 2)

    rates, errors = {}, {}
    some = BallLaunch(*(
        v[:4_000]
        for v in (balls.ball_speed_mps, balls.launch_deg, balls.spin_rpm, balls.axis_deg,
                  balls.side_deg)
    ))  # fmt: skip
    for step in (0.05, 0.2):
        name = f"integrator, step {step} s"
        rates[name] = 4_000 / seconds(
            lambda step=step: fly(some, AIR, SHAPE, CONSTANTS, step_s=step)
        )
        carry = fly(few, AIR, SHAPE, CONSTANTS, step_s=step).carry_m
        errors[name] = np.abs(carry - exact).max() / YARD_M

    table = flight_table(AIR, CONSTANTS)
    launch = launch_rows(balls, (40_000,))
    rates["table, default shape"] = 40_000 / seconds(
        lambda: table.rows(launch, SHAPE[None], 40_000)
    )
    errors["table, default shape"] = np.abs(table.fly(few, SHAPE).carry_m - exact).max() / YARD_M
    draws = draw_parameters(200, np.random.default_rng(1))
    shapes = draws.flight_shape()
    rates["table, 200 drawn shapes"] = 40_000 / seconds(lambda: table.rows(launch, shapes, 200))
    close = table.rows(launch, shapes, 200)
    true = fly(balls, AIR, np.repeat(shapes, 200, axis=0), CONSTANTS, step_s=0.2).carry_m
    drawn_error = np.hypot(close[:, 0], close[:, 1]) - true
    errors["table, 200 drawn shapes"] = np.sqrt(np.mean(drawn_error**2)) / YARD_M

    build_s = seconds(lambda: build_table(AIR.density, AIR.viscosity, CONSTANTS), 2)
    rng = np.random.default_rng(5)
    size = (200, 250)
    delivery = Delivery(
        rng.normal(45, 1, size), rng.normal(-1, 1.5, size), rng.normal(13.5, 1.3, size),
        rng.normal(0, 2, size), rng.normal(0, 2, size), rng.normal(0, 9, size),
        rng.normal(0, 6, size),
    )  # fmt: skip
    column = draws.as_column()
    cloud_rate = delivery.loft_deg.size / seconds(lambda: drive_cloud(delivery, column))

    with capsys.disabled():
        print(f"\nDOP853, rtol 1e-10: {vector_rate:.0f} flights/s (vectors), "
              f"{plain_rate:.0f} (plain floats)")  # fmt: skip
        for name, rate in rates.items():
            kind = "RMS" if "drawn" in name else "largest"
            print(
                f"{name}: {rate:,.0f}/s = {rate / vector_rate:,.0f} x vectors, "
                f"{rate / plain_rate:,.0f} x plain; {kind} carry error {errors[name]:.2g} yd"
            )
        print(f"table of one air built in {build_s:.2f} s; drive_cloud {cloud_rate:,.0f} drives/s")

    assert errors["integrator, step 0.05 s"] <= 1e-4
    assert errors["integrator, step 0.2 s"] <= 0.01
    assert errors["table, default shape"] <= 0.1
    assert errors["table, 200 drawn shapes"] <= 0.5
    assert rates["integrator, step 0.2 s"] >= 1_000 * vector_rate
    assert rates["table, default shape"] >= 10_000 * vector_rate
    assert cloud_rate >= 300_000
    assert build_s <= 2.0
