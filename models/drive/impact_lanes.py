"""The impact of ``models.drive.impact`` written out for many strikes at once.

The equations are the same, number for number; only here they are in plain sums without a branch,
so that the processor works out eight strikes in step. It is what clouds of drives and the
inference of missed readings use; the other form is for gradients and checks.
"""

import math
from typing import Final

import numpy as np
from numba import njit

from models.arrays import Floats
from models.drive.ball import BALL_MASS_KG, BALL_RADIUS_M, SPHERE
from models.drive.flight_lanes import START, SUMS_IN_ANY_ORDER

RULES_TEST_SPEED_MPS: Final = 48.77  # 160 ft/s, where the restitution of a head is rated
TOE_SCALE_M: Final = 0.018
UP_SCALE_M: Final = 0.012
LEAST_RESTITUTION: Final = 0.10
TINY: Final = 1e-12  # keeps gradients of square roots finite

STRIKE: Final = (
    "club_speed_mps",
    "attack_deg",
    "loft_deg",
    "path_deg",
    "face_deg",
    "strike_toe_mm",
    "strike_up_mm",
)
CONSTANTS: Final = (
    "restitution",
    "tangential_restitution",
    "gear_gain",
    "cg_height_m",
    "restitution_falloff",
    "closure_per_s",
    "pitch_per_s",
)
"""What a strike takes: a delivery, and the constants that differ from draw to draw."""

LEFT_FACE: Final = (*START, "cos_tilt", "sin_tilt")
"""What leaves the face: the start of a flight, and the tilt of its spin axis."""

type Triple = tuple[float, float, float]

_LANES: Final = 8
_INPUTS: Final = len(STRIKE) + len(CONSTANTS)
_DEG: Final = math.pi / 180.0


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _horner(y: float, low: tuple[float, ...], high: tuple[float, ...]) -> float:
    """Return 1 + c1 y + c2 y^2 + ... + c9 y^9."""
    c1, c2, c3, c4, c5 = low
    c6, c7, c8, c9 = high
    tail = c6 + y * (c7 + y * (c8 + y * c9))
    return 1.0 + y * (c1 + y * (c2 + y * (c3 + y * (c4 + y * (c5 + y * tail)))))


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _sine_and_cosine(x: float) -> tuple[float, float]:
    """Return sin and cos of any angle: Taylor series of the half angle, good to 2e-15."""
    y = 0.5 * (x - 2.0 * math.pi * math.floor(x / (2.0 * math.pi) + 0.5))
    y2 = y * y
    sine = y * _horner(
        y2,
        (-1 / 6, 1 / 120, -1 / 5040, 1 / 362880, -1 / 39916800),
        (1 / 6227020800, -1 / 1307674368000, 1 / 355687428096000, -1 / 121645100408832000),
    )
    cosine = _horner(
        y2,
        (-1 / 2, 1 / 24, -1 / 720, 1 / 40320, -1 / 3628800),
        (1 / 479001600, -1 / 87178291200, 1 / 20922789888000, -1 / 6402373705728000),
    )
    return 2.0 * sine * cosine, 1.0 - 2.0 * sine * sine


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _coupling(a: Triple, b: Triple, inverse_moi: Triple) -> float:
    """Return a I^-1 b, components along the head's own axes."""
    return (
        a[0] * inverse_moi[0] * b[0] + a[1] * inverse_moi[1] * b[1] + a[2] * inverse_moi[2] * b[2]
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _cross(a: Triple, b: Triple) -> Triple:
    """Return the vector product."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def _dot(a: Triple, b: Triple) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True)
def strike_rows(
    inputs: Floats, head: tuple[float, ...], held: tuple[float, ...], out: Floats
) -> None:
    """Fill ``out`` (n, 9), as ``LEFT_FACE``, from ``inputs`` (14, n), ``STRIKE`` + ``CONSTANTS``.

    ``head`` is mass with shaft, 1 / moment of inertia about face normal, heel-toe and vertical
    axis, depth and height of the centre of gravity, bulge, roll, rating less the limit; ``held``
    the restitution's slope and face friction.
    """
    mass, over_normal, over_heel_toe, over_vertical, depth, height, bulge, roll, rating = head
    slope, friction = held
    inverse_moi = (over_normal, over_heel_toe, over_vertical)
    rigid = 1.0 / mass
    rolling = (1.0 + 1.0 / SPHERE) / BALL_MASS_KG
    w = np.zeros((_INPUTS + len(LEFT_FACE)) * _LANES)
    for first in range(0, inputs.shape[1], _LANES):
        count = min(_LANES, inputs.shape[1] - first)
        for j in range(_INPUTS):
            for k in range(count):
                w[j * _LANES + k] = inputs[j, first + k]
        for k in range(_LANES):
            speed, toe, up = w[k], 1e-3 * w[5 * _LANES + k], 1e-3 * w[6 * _LANES + k]
            attack, loft = _DEG * w[_LANES + k], _DEG * w[2 * _LANES + k]
            path, face = _DEG * w[3 * _LANES + k], _DEG * w[4 * _LANES + k]
            sin_attack, cos_attack = _sine_and_cosine(attack)
            sin_path, cos_path = _sine_and_cosine(path)
            sl, cl = _sine_and_cosine(loft)
            sf, cf = _sine_and_cosine(face)
            normal0, toe0, up0 = (cl * cf, -cl * sf, sl), (-sf, -cf, 0.0), (-sl * cf, sl * sf, cl)
            sl, cl = _sine_and_cosine(loft + up / roll)
            sf, cf = _sine_and_cosine(face + toe / bulge)
            normal, toeward, upface = (
                (cl * cf, -cl * sf, sl), (-sf, -cf, 0.0), (-sl * cf, sl * sf, cl)
            )  # fmt: skip

            level = speed * cos_attack
            turning, pitching = w[12 * _LANES + k] * toe, w[13 * _LANES + k] * up
            closing = (
                level * cos_path - turning * toe0[1] + pitching * normal0[0],
                turning * toe0[0] - level * sin_path + pitching * normal0[1],
                speed * sin_attack + pitching * normal0[2],
            )
            low = up - height - w[10 * _LANES + k]
            arm = (
                depth * normal0[0] + toe * toe0[0] + low * up0[0],
                depth * normal0[1] + toe * toe0[1] + low * up0[1],
                depth * normal0[2] + low * up0[2],
            )
            turn_n, turn_t, turn_u = _cross(arm, normal), _cross(arm, toeward), _cross(arm, upface)
            part_n = (_dot(turn_n, normal0), _dot(turn_n, toe0), _dot(turn_n, up0))
            part_t = (_dot(turn_t, normal0), _dot(turn_t, toe0), _dot(turn_t, up0))
            part_u = (_dot(turn_u, normal0), _dot(turn_u, toe0), _dot(turn_u, up0))
            k_nn = _coupling(part_n, part_n, inverse_moi) + rigid + 1.0 / BALL_MASS_KG
            k_tt = _coupling(part_t, part_t, inverse_moi) + rigid + rolling
            k_uu = _coupling(part_u, part_u, inverse_moi) + rigid + rolling
            k_nt = _coupling(part_n, part_t, inverse_moi)
            k_nu = _coupling(part_n, part_u, inverse_moi)
            k_tu = _coupling(part_t, part_u, inverse_moi)

            v_n, v_t, v_u = _dot(closing, normal), _dot(closing, toeward), _dot(closing, upface)
            toe_part, up_part = toe / TOE_SCALE_M, up / UP_SCALE_M
            restitution = max(
                w[7 * _LANES + k]
                + rating
                + slope * (v_n - RULES_TEST_SPEED_MPS)
                - w[11 * _LANES + k] * (toe_part * toe_part + up_part * up_part),
                LEAST_RESTITUTION,
            )
            push = (1.0 + restitution) * v_n
            grip = 1.0 + w[8 * _LANES + k]
            over = 1.0 / (k_tt * k_uu - k_tu * k_tu)
            slip_t = grip * (k_uu * v_t - k_tu * v_u) * over
            slip_u = grip * (k_tt * v_u - k_tu * v_t) * over
            gain = w[9 * _LANES + k]
            gear_t = gain * (k_uu * k_nt - k_tu * k_nu) * over
            gear_u = gain * (k_tt * k_nu - k_tu * k_nt) * over
            j_n = (push - k_nt * slip_t - k_nu * slip_u) / (k_nn - k_nt * gear_t - k_nu * gear_u)
            j_t, j_u = slip_t - gear_t * j_n, slip_u - gear_u * j_n

            rub = math.sqrt(j_t * j_t + j_u * j_u + TINY * TINY)
            along_t, along_u = friction * j_t / rub, friction * j_u / rub
            slide_n = push / (k_nn + k_nt * along_t + k_nu * along_u)
            slips = rub > friction * j_n
            j_n = slide_n if slips else j_n
            j_t = along_t * slide_n if slips else j_t
            j_u = along_u * slide_n if slips else j_u
            impulse = (
                j_n * normal[0] + j_t * toeward[0] + j_u * upface[0],
                j_n * normal[1] + j_t * toeward[1] + j_u * upface[1],
                j_n * normal[2] + j_u * upface[2],
            )
            turn = _cross(normal, impulse)
            per = -1.0 / (SPHERE * BALL_MASS_KG * BALL_RADIUS_M)
            spin_x, spin_y, spin_z = per * turn[0], per * turn[1], per * turn[2]
            vx, vy, vz = (
                impulse[0] / BALL_MASS_KG, impulse[1] / BALL_MASS_KG, impulse[2] / BALL_MASS_KG
            )  # fmt: skip
            plane = math.sqrt(vx * vx + vy * vy + TINY * TINY)
            pace = math.sqrt(vx * vx + vy * vy + vz * vz + TINY * TINY)
            about_left = (vx * spin_y - vy * spin_x) / plane
            about_up = (plane * spin_z - vz * (vx * spin_x + vy * spin_y) / plane) / pace
            spin = math.sqrt(about_left * about_left + about_up * about_up + TINY * TINY)
            cos_tilt, sin_tilt = -about_left / spin, -about_up / spin
            # From here on y points to the open-face side, as in the flight.
            cos_side, sin_side = vx / plane, -vy / plane
            cos_up, sin_up = plane / pace, vz / pace
            at = _INPUTS * _LANES + k
            w[at] = vx
            w[at + _LANES] = -vy
            w[at + 2 * _LANES] = vz
            w[at + 3 * _LANES] = spin
            w[at + 4 * _LANES] = cos_tilt * sin_side - sin_tilt * sin_up * cos_side
            w[at + 5 * _LANES] = -cos_tilt * cos_side - sin_tilt * sin_up * sin_side
            w[at + 6 * _LANES] = sin_tilt * cos_up
            w[at + 7 * _LANES] = cos_tilt
            w[at + 8 * _LANES] = sin_tilt
        for k in range(count):
            for j in range(len(LEFT_FACE)):
                out[first + k, j] = w[(_INPUTS + j) * _LANES + k]
