"""The flight of a spinning ball: drag, lift and spin decay, integrated to the landing.

    S = r w / |u|,  Re = rho |u| d / mu,  u = velocity through the air
    CD = CD1 + CD2 S + CD22 S^2 + CD3 sin(pi q),  q = clip((A1 - Re) / A2, -1/2, 1/2)
    CL = CL1 Sc^p,  Sc = S / (1 + (S / Smax)^6)^(1/6),  dw/dt = -SRD w |u| / r

after Smits & Smith 1994 (Science and Golf II); the S^2 term and the smooth cap of lift are ours,
needed at the spin of poor strikes. Beyond S = 1 the drag goes on along its tangent (2 S - 1 for
S^2): nobody has measured there, and the square would hold a slow, fast-spinning ball up for good.
Drag acts along -u, lift along (spin axis) x u.

Axes here: x target, y toward the open-face side, z up: right-handed for a left-hander. A
right-hander's flight is its mirror image, so one set of code serves either hand.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from models.arrays import Floats
from models.drive.air import Air
from models.drive.flight_lanes import ROW as ROW
from models.drive.flight_lanes import START, fly_starts
from models.drive.impact import BallLaunch

STEP_S: Final = 0.25
"""Step at 60 m/s. Carry errs by at most .002 yd on ordinary drives and .01 yd on any flight."""

_DEG: Final = math.pi / 180.0
_RPM: Final = math.pi / 30.0


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """Where and how each ball lands."""

    carry_m: Floats
    """The level distance from the tee to the landing point."""
    side_m: Floats
    """+ toward the open-face side."""
    apex_m: Floats
    hang_s: Floats
    land_angle_deg: Floats
    """Of the landing path to the ground."""
    land_heading_deg: Floats
    """Its direction on the ground."""
    land_speed_mps: Floats
    land_spin_rpm: Floats


def start_rows(launch: Floats) -> Floats:
    """Return velocity, spin and spin axis, as rows for the integrator, of launches as rows."""
    speed, up, side, spin, tilt = launch.T
    sin_up, cos_up = np.sin(up), np.cos(up)
    sin_side, cos_side = np.sin(side), np.cos(side)
    sin_tilt, cos_tilt = np.sin(tilt), np.cos(tilt)
    rows = np.empty((len(launch), len(START)))
    rows[:, 0] = speed * cos_up * cos_side
    rows[:, 1] = speed * cos_up * sin_side
    rows[:, 2] = speed * sin_up
    rows[:, 3] = spin
    rows[:, 4] = cos_tilt * sin_side - sin_tilt * sin_up * cos_side
    rows[:, 5] = -cos_tilt * cos_side - sin_tilt * sin_up * sin_side
    rows[:, 6] = sin_tilt * cos_up
    return rows


def fly_rows(
    launch: Floats,
    shape: Floats,
    constants: tuple[float, float, float, float],
    density: float,
    viscosity: float,
    wind: tuple[float, float, float],
    step: float,
    out: Floats,
) -> None:
    """Integrate each flight; ``launch`` rows are speed, launch, side, spin, axis in SI.

    ``shape`` has one row for all flights, or one a flight; ``out`` rows are as ``ROW``.
    """
    per_shape = max(len(launch), 1) if len(shape) == 1 else 1
    fly_starts(start_rows(launch), shape, per_shape, constants, density, viscosity, wind, step, out)


def launch_rows(ball: BallLaunch, outer: tuple[int, ...]) -> Floats:
    """Return the launches, broadcast to the shape ``outer``, as rows for the kernel."""
    rows = np.empty((math.prod(outer), 5))
    for k, (value, unit) in enumerate(
        (
            (ball.ball_speed_mps, 1.0),
            (ball.launch_deg, _DEG),
            (ball.side_deg, _DEG),
            (ball.spin_rpm, _RPM),
            (ball.axis_deg, _DEG),
        )
    ):
        rows[:, k] = np.multiply(np.broadcast_to(value, outer), unit).ravel()
    return rows


def launch_shape(ball: BallLaunch) -> tuple[int, ...]:
    """Return the shape that the launch's entries broadcast to."""
    return np.broadcast_shapes(
        np.shape(ball.ball_speed_mps),
        np.shape(ball.launch_deg),
        np.shape(ball.side_deg),
        np.shape(ball.spin_rpm),
        np.shape(ball.axis_deg),
    )


def shape_rows(shape: Floats, outer: tuple[int, ...]) -> Floats:
    """Return flight shapes (..., 6) as rows that match launches of the shape ``outer``."""
    if shape.ndim == 1:
        return shape[None, :]
    return np.broadcast_to(shape, (*outer, shape.shape[-1])).reshape(-1, shape.shape[-1])


def flight_of_rows(rows: Floats, outer: tuple[int, ...]) -> Flight:
    """Return the landing quantities of kernel rows, with the launches' own shape."""
    x, y, apex, hang, vx, vy, vz, spin = (rows[:, k].reshape(outer) for k in range(len(ROW)))
    level = np.hypot(vx, vy)
    return Flight(
        carry_m=np.hypot(x, y),
        side_m=y,
        apex_m=apex,
        hang_s=hang,
        land_angle_deg=np.degrees(np.arctan2(-vz, level)),
        land_heading_deg=np.degrees(np.arctan2(vy, vx)),
        land_speed_mps=np.hypot(level, vz),
        land_spin_rpm=spin / _RPM,
    )


def fly(
    ball: BallLaunch,
    air: Air,
    shape: Floats,
    constants: tuple[float, float, float, float],
    wind_mps: tuple[float, float, float] = (0.0, 0.0, 0.0),
    step_s: float = STEP_S,
) -> Flight:
    """Integrate every launch to its landing.

    ``shape`` (..., 6) and ``constants`` are as ``DriveParameters.flight_shape`` and
    ``flight_constants`` give them; ``wind_mps`` blows toward (target, open-face side, up).
    """
    outer = np.broadcast_shapes(launch_shape(ball), shape.shape[:-1])
    rows = np.empty((math.prod(outer), len(ROW)))
    fly_rows(
        launch_rows(ball, outer),
        shape_rows(shape, outer),
        constants,
        air.density,
        air.viscosity,
        wind_mps,
        step_s,
        rows,
    )
    return flight_of_rows(rows, outer)
