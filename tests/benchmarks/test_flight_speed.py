"""Speed of impact, flight, run and clouds on one core, against SciPy and JAX on the same equations.

The reference is `solve_ivp(method="DOP853", rtol=1e-10)` twice: with the right-hand side written
as vectors (`np.cross`, `np.linalg.norm`: how one writes it in Python), and with it written out
in plain floats, about three times faster. Ratios are printed and asserted for both.

With ``DRIVE_PROGRESS_JAX_PYTHON`` naming an interpreter that has jax and diffrax, the same flights
are run there too (Tsit5 with an event at the ground, vmapped and compiled, one core).
"""

import json
import math
import os
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.drive.air import air_at
from models.drive.drive import Delivery, drive_cloud
from models.drive.flight import STEP_S, fly, launch_rows, start_rows
from models.drive.flight_lanes import ROW, fly_starts
from models.drive.ground import run_rows
from models.drive.heads import STANDARD
from models.drive.impact import BallLaunch, impact, left_face_rows
from models.drive.parameters import default_parameters, draw_parameters
from tests.reference.impact import ball_after, strike

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


CALM = (0.0, 0.0, 0.0)
FLIGHTS = 40_000


def some_of(balls: BallLaunch, count: int) -> BallLaunch:
    names = ("ball_speed_mps", "launch_deg", "spin_rpm", "axis_deg", "side_deg")
    return BallLaunch(*(getattr(balls, name)[:count] for name in names))


def landings(start: np.ndarray, shapes: np.ndarray, step: float = STEP_S) -> np.ndarray:
    rows = np.empty((len(start), len(ROW)))
    per_shape = len(start) // len(shapes)
    fly_starts(start, shapes, per_shape, CONSTANTS, AIR.density, AIR.viscosity, CALM, step, rows)
    return rows


def test_integrator_against_dop853(capsys):
    balls = some_launches(FLIGHTS)
    few = some_of(balls, 60)
    exact = reference(balls, 60, plain_rates)
    plain_rate = 60 / seconds(lambda: reference(balls, 60, plain_rates), 2)
    vector_rate = 40 / seconds(lambda: reference(balls, 40, vector_rates), 2)
    start = start_rows(launch_rows(balls, (FLIGHTS,)))
    shapes = draw_parameters(200, np.random.default_rng(1)).flight_shape()
    lines = [f"DOP853, rtol 1e-10: {vector_rate:.0f} flights/s (vectors), {plain_rate:.0f} (plain)"]
    found = {}
    for step in (0.1, STEP_S, 0.4):
        rate = FLIGHTS / seconds(lambda step=step: landings(start, SHAPE[None], step))
        error = np.abs(fly(few, AIR, SHAPE, CONSTANTS, step_s=step).carry_m - exact).max() / YARD_M
        found[step] = rate, error
        lines.append(
            f"integrator, step {step} s: {rate:,.0f}/s = {rate / vector_rate:,.0f} x vectors, "
            f"{rate / plain_rate:,.0f} x plain; largest carry error {error:.1e} yd"
        )
    drawn = FLIGHTS / seconds(lambda: landings(start, shapes))
    wide, fine = (np.hypot(*landings(start, shapes, s)[:, :2].T) for s in (STEP_S, 0.01))
    drawn_error = np.abs(wide - fine).max() / YARD_M
    lines.append(
        f"integrator, 200 drawn shapes: {drawn:,.0f}/s; largest carry error against .01 s steps "
        f"{drawn_error:.1e} yd"
    )
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    rate, error = found[STEP_S]
    assert error <= 0.002
    assert drawn_error <= 0.01
    assert rate >= 10_000 * vector_rate
    assert rate >= 3_000 * plain_rate
    assert drawn >= 0.8 * rate


def test_clouds_of_drives(capsys):
    rng = np.random.default_rng(5)
    size = (400, 64)
    delivery = Delivery(
        rng.normal(45, 1, size), rng.normal(-1, 1.5, size), rng.normal(13.5, 1.3, size),
        rng.normal(0, 2, size), rng.normal(0, 2, size), rng.normal(0, 9, size),
        rng.normal(0, 6, size),
    )  # fmt: skip
    column = draw_parameters(400, np.random.default_rng(1)).as_column()
    n = math.prod(size)
    left = left_face_rows(delivery, column, STANDARD, size)
    rows = landings(left, column.flight_shape().reshape(-1, 6))
    landing = np.stack([np.hypot(rows[:, 4], rows[:, 5]), -rows[:, 6], rows[:, 7]], axis=-1)
    run, ground = np.empty(n), np.array([[0.27, 0.35]])
    took = {
        "impact, as vectors": seconds(lambda: ball_after(strike(delivery, column, STANDARD))),
        "impact, with launch angles": seconds(lambda: impact(delivery, column, STANDARD)),
        "impact, to the start of a flight": seconds(
            lambda: left_face_rows(delivery, column, STANDARD, size)
        ),
        "flight": seconds(lambda: landings(left, column.flight_shape().reshape(-1, 6))),
        "run": seconds(lambda: run_rows(landing, ground, 0.4, run)),
        "drive_cloud to rest": seconds(lambda: drive_cloud(delivery, column)),
        "drive_cloud to the landing": seconds(lambda: drive_cloud(delivery, column, run=False)),
    }
    with capsys.disabled():
        print(f"\n{size[0]} draws x {size[1]} shots:")
        for name, time_s in took.items():
            print(f"{name}: {1e3 * time_s:.1f} ms = {n / time_s:,.0f}/s")
    assert n / took["drive_cloud to rest"] >= 700_000
    assert n / took["drive_cloud to the landing"] >= 900_000
    assert took["impact, as vectors"] >= 2.0 * took["impact, with launch angles"]


def test_integrator_against_jax(capsys):
    python = os.environ.get("DRIVE_PROGRESS_JAX_PYTHON")
    if not python:
        pytest.skip("DRIVE_PROGRESS_JAX_PYTHON names no interpreter with jax and diffrax")
    balls = some_launches(2_000)
    start = start_rows(launch_rows(balls, (2_000,)))
    tolerances = [1e-3, 1e-4, 1e-5, 1e-6]
    given = {
        "shape": SHAPE.tolist(), "constants": CONSTANTS, "density": AIR.density,
        "viscosity": AIR.viscosity, "start": start.tolist(), "rtol": tolerances,
    }  # fmt: skip
    script = Path(__file__).with_name("jax_flight.py")
    run = subprocess.run(
        [python, str(script)], input=json.dumps(given), capture_output=True, text=True
    )
    if "ModuleNotFoundError" in run.stderr:
        pytest.skip(f"{python} has no jax or diffrax")
    assert run.returncode == 0, run.stderr
    answer = json.loads(run.stdout)
    exact = fly(balls, AIR, SHAPE, CONSTANTS, step_s=0.01).carry_m
    ours = 2_000 / seconds(lambda: landings(start, SHAPE[None]))
    good = []
    with capsys.disabled():
        print(f"\njax {answer['jax']}, diffrax {answer['diffrax']}, one core; here {ours:,.0f}/s")
        for one in answer["runs"]:
            error = np.abs(np.array(one["carry_m"]) - exact).max() / YARD_M
            print(
                f"rtol {one['rtol']:g}: {one['per_s']:,.0f}/s, largest carry error {error:.1e} yd; "
                f"here {ours / one['per_s']:.0f} x faster"
            )
            if error <= 0.01:
                good.append(one["per_s"])
    assert good  # both solve the same equations
    assert ours >= 5.0 * max(good)
