"""The flight of a spinning ball: drag, lift and spin decay, integrated to the landing.

    S = r w / |u|,  Re = rho |u| d / mu,  u = velocity through the air
    CD = CD1 + CD2 S + CD22 S^2 + CD3 sin(pi q),  q = clip((A1 - Re) / A2, -1/2, 1/2)
    CL = CL1 Sc^p,  Sc = S / (1 + (S / Smax)^6)^(1/6),  dw/dt = -SRD w |u| / r

after Smits & Smith 1994 (Science and Golf II); the S^2 term and the smooth cap of lift are ours,
needed at the spin of poor strikes. Drag acts along -u, lift along (spin axis) x u.

Axes here: x target, y toward the open-face side, z up: right-handed for a left-hander. A
right-hander's flight is its mirror image, so one set of code serves either hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from models.air import Air
from models.impact import BALL_MASS_KG, BALL_RADIUS_M, BallLaunch

GRAVITY_MPS2: Final = 9.80665
STEP_S: Final = 0.05
"""RK4 step: error about 5e-6 yd of carry; 0.2 s still gives 5e-4 yd, at four times the speed."""

ROW: Final = ("forward", "sideways", "apex", "hang", "v_x", "v_y", "v_z", "spin")
"""What the kernel returns for a flight, SI units, at the landing."""

SUMS_IN_ANY_ORDER: Final = {"reassoc", "contract", "arcp", "nsz"}
"""What the compiler may do to speed sums up; it must still know a NaN when it meets one."""

_LONGEST_FLIGHT_S: Final = 60.0
_AREA_OVER_MASS: Final = math.pi * BALL_RADIUS_M**2 / BALL_MASS_KG
_DEG: Final = math.pi / 180.0
_RPM: Final = math.pi / 30.0

type Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """Where and how each ball lands; ``side_m`` is + toward the open-face side.

    ``carry_m`` is the level distance from the tee to the landing point, ``land_angle_deg`` the
    angle of the landing path to the ground, ``land_heading_deg`` its direction on the ground.
    """

    carry_m: Floats
    side_m: Floats
    apex_m: Floats
    hang_s: Floats
    land_angle_deg: Floats
    land_heading_deg: Floats
    land_speed_mps: Floats
    land_spin_rpm: Floats


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def _sine_of_half_turns(q: float) -> float:
    """Return sin(pi q) for |q| <= 1/2 (Taylor series, error below 6e-8)."""
    x = math.pi * q
    y = x * x
    return x * (
        1.0
        + y
        * (
            -1.0 / 6.0
            + y
            * (1.0 / 120.0 + y * (-1.0 / 5040.0 + y * (1.0 / 362880.0 - y * (1.0 / 39916800.0))))
        )
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def _acceleration(
    velocity: tuple[float, float, float],
    spin: float,
    axis: tuple[float, float, float],
    law: tuple[float, ...],
) -> tuple[float, float, float, float]:
    """Return acceleration and spin's rate of change; ``velocity`` is through the air."""
    ux, uy, uz = velocity
    ax, ay, az = axis
    cd1, cd2, cd22, cd3, cl1, exponent, onset, width, cap, decay, half_rho_area, re_per_speed = law
    speed = math.sqrt(ux * ux + uy * uy + uz * uz) + 1e-12
    s = BALL_RADIUS_M * spin / speed
    q = (onset - re_per_speed * speed) / width
    q = min(max(q, -0.5), 0.5)
    drag = cd1 + s * (cd2 + s * cd22) + cd3 * _sine_of_half_turns(q)
    lift = 0.0
    if s > 0.0:
        # cl1 Sc^p in one logarithm: Sc^p = (S^6 / (1 + (S/cap)^6))^(p/6)
        s2 = s * s
        s6 = s2 * s2 * s2
        c2 = cap * cap
        lift = cl1 * math.exp(exponent / 6.0 * math.log(s6 / (1.0 + s6 / (c2 * c2 * c2))))
    k = half_rho_area * speed
    back = -k * drag
    turn = k * lift
    return (
        back * ux + turn * (ay * uz - az * uy),
        back * uy + turn * (az * ux - ax * uz),
        back * uz + turn * (ax * uy - ay * ux) - GRAVITY_MPS2,
        -decay * spin * speed / BALL_RADIUS_M,
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def _hermite(f: float, step: float, a: float, slope_a: float, b: float, slope_b: float) -> float:
    """Return the cubic through two values and slopes at the fraction ``f`` of the step."""
    g = 1.0 - f
    return (
        (1.0 + 2.0 * f) * g * g * a
        + f * g * g * step * slope_a
        + f * f * (3.0 - 2.0 * f) * b
        - f * f * g * step * slope_b
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def _hermite_slope(
    f: float, step: float, a: float, slope_a: float, b: float, slope_b: float
) -> float:
    """Return the derivative of that cubic by ``f``."""
    g = 1.0 - f
    return (
        6.0 * f * g * (b - a)
        + g * (1.0 - 3.0 * f) * step * slope_a
        + f * (3.0 * f - 2.0) * step * slope_b
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
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
    onset, width, cap, decay = constants
    half_rho_area = 0.5 * density * _AREA_OVER_MASS
    re_per_speed = density * 2.0 * BALL_RADIUS_M / viscosity
    wx, wy, wz = wind
    last_shape = shape.shape[0] - 1
    half = 0.5 * step
    sixth = step / 6.0
    most_steps = int(_LONGEST_FLIGHT_S / step)
    for i in range(launch.shape[0]):
        row = min(i, last_shape)
        law = (
            shape[row, 0],
            shape[row, 1],
            shape[row, 2],
            shape[row, 3],
            shape[row, 4],
            shape[row, 5],
            onset,
            width,
            cap,
            decay,
            half_rho_area,
            re_per_speed,
        )
        speed, up, side = launch[i, 0], launch[i, 1], launch[i, 2]
        spin, tilt = launch[i, 3], launch[i, 4]
        sin_up, cos_up = math.sin(up), math.cos(up)
        sin_side, cos_side = math.sin(side), math.cos(side)
        sin_tilt, cos_tilt = math.sin(tilt), math.cos(tilt)
        vx, vy, vz = speed * cos_up * cos_side, speed * cos_up * sin_side, speed * sin_up
        axis = (
            cos_tilt * sin_side - sin_tilt * sin_up * cos_side,
            -cos_tilt * cos_side - sin_tilt * sin_up * sin_side,
            sin_tilt * cos_up,
        )
        x = y = z = apex = t = 0.0
        f = 1.0
        for _ in range(most_steps):
            a1, b1, c1, d1 = _acceleration((vx - wx, vy - wy, vz - wz), spin, axis, law)
            vx2, vy2, vz2 = vx + half * a1, vy + half * b1, vz + half * c1
            a2, b2, c2, d2 = _acceleration(
                (vx2 - wx, vy2 - wy, vz2 - wz), spin + half * d1, axis, law
            )
            vx3, vy3, vz3 = vx + half * a2, vy + half * b2, vz + half * c2
            a3, b3, c3, d3 = _acceleration(
                (vx3 - wx, vy3 - wy, vz3 - wz), spin + half * d2, axis, law
            )
            vx4, vy4, vz4 = vx + step * a3, vy + step * b3, vz + step * c3
            a4, b4, c4, d4 = _acceleration(
                (vx4 - wx, vy4 - wy, vz4 - wz), spin + step * d3, axis, law
            )
            x_next = x + sixth * (vx + 2.0 * (vx2 + vx3) + vx4)
            y_next = y + sixth * (vy + 2.0 * (vy2 + vy3) + vy4)
            z_next = z + sixth * (vz + 2.0 * (vz2 + vz3) + vz4)
            vx_next = vx + sixth * (a1 + 2.0 * (a2 + a3) + a4)
            vy_next = vy + sixth * (b1 + 2.0 * (b2 + b3) + b4)
            vz_next = vz + sixth * (c1 + 2.0 * (c2 + c3) + c4)
            spin_next = spin + sixth * (d1 + 2.0 * (d2 + d3) + d4)
            if vz > 0.0 >= vz_next:
                top = vz / (vz - vz_next)
                apex = max(apex, _hermite(top, step, z, vz, z_next, vz_next))
            if z_next <= 0.0 and vz_next < 0.0:
                # From the far end Newton's steps run down to the later root: at the first step
                # the tee itself is a root too.
                for _newton in range(60):
                    height = _hermite(f, step, z, vz, z_next, vz_next)
                    slope = _hermite_slope(f, step, z, vz, z_next, vz_next)
                    move = height / slope if slope != 0.0 else 0.0
                    f = min(max(f - move, 0.0), 1.0)
                    if abs(move) < 1e-13:
                        break
                break
            x, y, z, vx, vy, vz, spin = (
                x_next, y_next, z_next, vx_next, vy_next, vz_next, spin_next,
            )  # fmt: skip
            t += step
        out[i, 0] = _hermite(f, step, x, vx, x_next, vx_next)
        out[i, 1] = _hermite(f, step, y, vy, y_next, vy_next)
        out[i, 2] = apex
        out[i, 3] = t + f * step
        out[i, 4] = _hermite(f, step, vx, a1, vx_next, a4)
        out[i, 5] = _hermite(f, step, vy, b1, vy_next, b4)
        out[i, 6] = _hermite(f, step, vz, c1, vz_next, c4)
        out[i, 7] = _hermite(f, step, spin, d1, spin_next, d4)


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
