"""The integrator of flights: several balls in step, so that the processor does eight sums at once.

Classic Runge-Kutta of fourth order on position, velocity, spin and lift coefficient. The lift
coefficient is carried along by its own equation,

    dCL/dt = p CL / (1 + (S/Smax)^6) d(ln S)/dt,   d(ln S)/dt = k CD + g u_z / |u|^2 - SRD |u| / r

(k = rho |u| area / 2 mass), which spares four powers a step. A step is the shorter the faster the
ball, and at the landing the last one is cut to end on the ground.
"""

import math
from typing import Final

import numpy as np
from numba import njit

from models.arrays import Floats
from models.drive.ball import BALL_MASS_KG, BALL_RADIUS_M

GRAVITY_MPS2: Final = 9.80665

SUMS_IN_ANY_ORDER: Final = {"reassoc", "contract", "arcp", "nsz"}
"""What the compiler may do to speed sums up; it must still know a NaN when it meets one."""

START: Final = ("v_x", "v_y", "v_z", "spin", "axis_x", "axis_y", "axis_z")
"""What a flight starts with: m/s, rad/s, unit vector of the spin."""

ROW: Final = ("forward", "sideways", "apex", "hang", "v_x", "v_y", "v_z", "spin")
"""What a flight ends with, SI units, at the landing."""

type Triple = tuple[float, float, float]

_LANES: Final = 8
_MOST_STEPS_S: Final = 300.0
_AREA_OVER_MASS: Final = math.pi * BALL_RADIUS_M**2 / BALL_MASS_KG
_TINY: Final = 1e-12
_STEP_AT_MPS: Final = 60.0
_STEP_GROWS_MPS: Final = 30.0
"""A step lasts ``step`` (60 + 30) / (|u| + r spin + 30) seconds, speeds in m/s."""

# Places in the one work array of a kernel; one array, so that the compiler sees that no two
# lanes share an entry.
_X, _Y, _Z, _VX, _VY, _VZ, _SPIN, _LIFT = (_LANES * i for i in range(8))
_AX, _AY, _AZ = (_LANES * i for i in range(8, 11))
_CD1, _CD2, _CD22, _CD3, _POWER = (_LANES * i for i in range(11, 16))
_TIME, _APEX, _FLYING, _CUT = (_LANES * i for i in range(16, 20))
_WORK: Final = 20 * _LANES


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _rates(
    velocity: Triple, spin: float, lift: float, axis: Triple, law: tuple[float, ...]
) -> tuple[float, float, float, float, float]:
    """Return the rates of velocity, spin and lift coefficient; ``velocity`` is through the air."""
    ux, uy, uz = velocity
    ax, ay, az = axis
    cd1, cd2, cd22, cd3, power, turn_at_rest, turn_per_speed, cap, decay, half_rho_area = law
    square = ux * ux + uy * uy + uz * uz + _TINY * _TINY
    inverse = 1.0 / math.sqrt(square)
    speed = square * inverse
    s = BALL_RADIUS_M * spin * inverse
    # sin(pi q) by its Taylor series: |pi q| <= pi/2, error below 6e-8.
    angle = min(max(turn_at_rest - turn_per_speed * speed, -0.5 * math.pi), 0.5 * math.pi)
    y = angle * angle
    sine = angle * (
        1.0
        + y
        * (
            -1.0 / 6.0
            + y * (1.0 / 120.0 + y * (-1.0 / 5040.0 + y * (1.0 / 362880.0 - y / 39916800.0)))
        )
    )
    beyond = max(s - 1.0, 0.0)
    drag = cd1 + s * cd2 + (s * s - beyond * beyond) * cd22 + cd3 * sine
    k = half_rho_area * speed
    back = k * drag
    turn = k * lift
    slowing = decay * speed
    s2 = s * s
    growth = back + GRAVITY_MPS2 * uz * inverse * inverse - slowing
    return (
        turn * (ay * uz - az * uy) - back * ux,
        turn * (az * ux - ax * uz) - back * uy,
        turn * (ax * uy - ay * ux) - back * uz - GRAVITY_MPS2,
        -slowing * spin,
        power * lift * growth / (1.0 + s2 * s2 * s2 * cap),
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _step(
    velocity: Triple,
    spin: float,
    lift: float,
    axis: Triple,
    law: tuple[float, ...],
    wind: Triple,
    h: float,
) -> tuple[float, float, float, float, float, float, float, float]:
    """Return by how much position, velocity, spin and lift coefficient move in ``h`` seconds."""
    vx, vy, vz = velocity
    wx, wy, wz = wind
    half = 0.5 * h
    a1, b1, c1, d1, e1 = _rates((vx - wx, vy - wy, vz - wz), spin, lift, axis, law)
    vx2, vy2, vz2 = vx + half * a1, vy + half * b1, vz + half * c1
    a2, b2, c2, d2, e2 = _rates(
        (vx2 - wx, vy2 - wy, vz2 - wz), spin + half * d1, lift + half * e1, axis, law
    )
    vx3, vy3, vz3 = vx + half * a2, vy + half * b2, vz + half * c2
    a3, b3, c3, d3, e3 = _rates(
        (vx3 - wx, vy3 - wy, vz3 - wz), spin + half * d2, lift + half * e2, axis, law
    )
    vx4, vy4, vz4 = vx + h * a3, vy + h * b3, vz + h * c3
    a4, b4, c4, d4, e4 = _rates(
        (vx4 - wx, vy4 - wy, vz4 - wz), spin + h * d3, lift + h * e3, axis, law
    )
    sixth = h / 6.0
    return (
        sixth * (vx + 2.0 * (vx2 + vx3) + vx4),
        sixth * (vy + 2.0 * (vy2 + vy3) + vy4),
        sixth * (vz + 2.0 * (vz2 + vz3) + vz4),
        sixth * (a1 + 2.0 * (a2 + a3) + a4),
        sixth * (b1 + 2.0 * (b2 + b3) + b4),
        sixth * (c1 + 2.0 * (c2 + c3) + c4),
        sixth * (d1 + 2.0 * (d2 + d3) + d4),
        sixth * (e1 + 2.0 * (e2 + e3) + e4),
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True)
def fly_starts(
    start: Floats,
    shape: Floats,
    rows_per_shape: int,
    constants: tuple[float, float, float, float],
    density: float,
    viscosity: float,
    wind: Triple,
    step: float,
    out: Floats,
) -> None:
    """Integrate each flight; ``start`` rows are as ``START``, ``out`` rows as ``ROW``.

    ``shape`` has one row for each ``rows_per_shape`` flights in turn; ``step`` in s at 60 m/s.
    A ball that leaves downward lands where it starts.
    """
    onset, width, most_spin, decay = constants
    turn_at_rest = math.pi * onset / width
    turn_per_speed = math.pi * density * 2.0 * BALL_RADIUS_M / (viscosity * width)
    cap = 1.0 / most_spin**6
    fade = decay / BALL_RADIUS_M
    half_rho_area = 0.5 * density * _AREA_OVER_MASS
    wx, wy, wz = wind
    most_steps = int(_MOST_STEPS_S / step)
    stretch = step * (_STEP_AT_MPS + _STEP_GROWS_MPS)
    w = np.zeros(_WORK)
    for first in range(0, start.shape[0], _LANES):
        count = min(_LANES, start.shape[0] - first)
        for k in range(count):
            i = first + k
            row = i // rows_per_shape
            vx, vy, vz, spin = start[i, 0], start[i, 1], start[i, 2], start[i, 3]
            w[_X + k] = w[_Y + k] = w[_Z + k] = 0.0
            w[_VX + k], w[_VY + k], w[_VZ + k], w[_SPIN + k] = vx, vy, vz, spin
            w[_AX + k], w[_AY + k], w[_AZ + k] = start[i, 4], start[i, 5], start[i, 6]
            w[_CD1 + k], w[_CD2 + k], w[_CD22 + k] = shape[row, 0], shape[row, 1], shape[row, 2]
            w[_CD3 + k], w[_POWER + k] = shape[row, 3], shape[row, 5]
            through_air = (vx - wx) ** 2 + (vy - wy) ** 2 + (vz - wz) ** 2 + _TINY * _TINY
            s2 = (BALL_RADIUS_M * spin) ** 2 / through_air
            s6 = s2 * s2 * s2
            lift = 0.0
            if s6 > 0.0:
                lift = shape[row, 4] * math.exp(
                    shape[row, 5] / 6.0 * math.log(s6 / (1.0 + s6 * cap))
                )
            w[_LIFT + k] = lift
            w[_TIME + k] = w[_APEX + k] = w[_CUT + k] = 0.0
            w[_FLYING + k] = 1.0 if vz > 0.0 else 0.0
        for k in range(count, _LANES):
            w[_FLYING + k] = 0.0

        for _ in range(most_steps):
            left = 0.0
            for k in range(_LANES):
                vx, vy, vz, z = w[_VX + k], w[_VY + k], w[_VZ + k], w[_Z + k]
                spin, lift = w[_SPIN + k], w[_LIFT + k]
                axis = (w[_AX + k], w[_AY + k], w[_AZ + k])
                law = (
                    w[_CD1 + k], w[_CD2 + k], w[_CD22 + k], w[_CD3 + k], w[_POWER + k],
                    turn_at_rest, turn_per_speed, cap, fade, half_rho_area,
                )  # fmt: skip
                ux, uy, uz = vx - wx, vy - wy, vz - wz
                pace = math.sqrt(ux * ux + uy * uy + uz * uz) + BALL_RADIUS_M * spin
                h = stretch / (pace + _STEP_GROWS_MPS)
                dx, dy, dz, dvx, dvy, dvz, dspin, dlift = _step(
                    (vx, vy, vz), spin, lift, axis, law, wind, h
                )
                flying = w[_FLYING + k]
                # Written so that a NaN lands at once.
                lands = 0.0 if (z + dz > 0.0 or vz + dvz >= 0.0) else flying
                goes = flying - lands
                # Height where the climb ends, on the cubic through the step's ends.
                f = vz / max(-dvz, _TINY)
                g = 1.0 - f
                top = z + f * f * (3.0 - 2.0 * f) * dz + f * g * h * (g * vz - f * (vz + dvz))
                top = flying * top if (vz > 0.0 and vz + dvz <= 0.0) else 0.0
                w[_APEX + k] = max(w[_APEX + k], top)
                w[_CUT + k] = h if lands > 0.0 else w[_CUT + k]
                w[_X + k] += goes * dx
                w[_Y + k] += goes * dy
                w[_Z + k] += goes * dz
                w[_VX + k] += goes * dvx
                w[_VY + k] += goes * dvy
                w[_VZ + k] += goes * dvz
                w[_SPIN + k] += goes * dspin
                w[_LIFT + k] += goes * dlift
                w[_TIME + k] += goes * h
                w[_FLYING + k] = goes
                left += goes
            if left == 0.0:
                break

        for k in range(_LANES):
            vx, vy, vz, z = w[_VX + k], w[_VY + k], w[_VZ + k], w[_Z + k]
            spin, lift, h = w[_SPIN + k], w[_LIFT + k], w[_CUT + k]
            axis = (w[_AX + k], w[_AY + k], w[_AZ + k])
            law = (
                w[_CD1 + k], w[_CD2 + k], w[_CD22 + k], w[_CD3 + k], w[_POWER + k],
                turn_at_rest, turn_per_speed, cap, fade, half_rho_area,
            )  # fmt: skip
            _, _, dz, _, _, dvz, _, _ = _step((vx, vy, vz), spin, lift, axis, law, wind, h)
            # Where the cubic through the step's ends comes down: from the far end Newton's steps
            # run to the later root (at the first step the tee itself is a root too). More than nine
            # the compiler would not unroll, and then not run in lanes either.
            f = 1.0
            for _ in range(9):
                g = 1.0 - f
                height = z + f * f * (3.0 - 2.0 * f) * dz + f * g * h * (g * vz - f * (vz + dvz))
                slope = 6.0 * f * g * dz + h * (
                    g * (1.0 - 3.0 * f) * vz + f * (3.0 * f - 2.0) * (vz + dvz)
                )
                f = min(max(f - height / min(slope, -_TINY), 0.0), 1.0)
            cut = f * h
            dx, dy, dz, dvx, dvy, dvz, dspin, _ = _step(
                (vx, vy, vz), spin, lift, axis, law, wind, cut
            )
            # The little height that is left, at the landing's own speed and mean acceleration.
            fall, share = -(vz + dvz), 1.0 / max(cut, _TINY)
            under = max(fall * fall - 2.0 * share * dvz * (z + dz), 0.0)
            rest = 2.0 * (z + dz) / max(fall + math.sqrt(under), _TINY)
            rest = min(max(rest, -0.1 * cut), 0.1 * cut)
            share *= rest
            w[_X + k] += dx + rest * (vx + (1.0 + 0.5 * share) * dvx)
            w[_Y + k] += dy + rest * (vy + (1.0 + 0.5 * share) * dvy)
            w[_VX + k] = vx + dvx * (1.0 + share)
            w[_VY + k] = vy + dvy * (1.0 + share)
            w[_VZ + k] = vz + dvz * (1.0 + share)
            w[_SPIN + k] = spin + dspin * (1.0 + share)
            w[_TIME + k] += cut + rest

        for k in range(count):
            i = first + k
            out[i, 0], out[i, 1] = w[_X + k], w[_Y + k]
            out[i, 2], out[i, 3] = w[_APEX + k], w[_TIME + k]
            out[i, 4], out[i, 5], out[i, 6] = w[_VX + k], w[_VY + k], w[_VZ + k]
            out[i, 7] = w[_SPIN + k]
