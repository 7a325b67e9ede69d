"""The layout of the flight table and the look-up in it, row by row.

    landing(launch, shape) = T0 + sum_i u_i T_i + 1/2 sum_ij u_i u_j T_ij

T0 is a tensor-product cubic B-spline over ball speed, launch angle (log) and spin (square
root), cubic in 1 - cos(axis tilt); sideways entries carry a factor sin(tilt). T_i (at two
tilts) and T_ij come from a coarser grid, by straight lines between nodes; ``u`` as in
``models.flight_shape``.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from models.flight_lanes import ROW, SUMS_IN_ANY_ORDER

type Floats = NDArray[np.float64]
type Singles = NDArray[np.float32]

LAUNCH_OFFSET_DEG: Final = 3.0
"""The launch coordinate is log(launch + offset): low launches need the closest nodes."""

LOW: Final = (35.0, math.log(1.5 + LAUNCH_OFFSET_DEG), math.sqrt(500.0))
"""Least ball speed in m/s, log of launch and offset in degrees, square root of spin in rpm."""

HIGH: Final = (90.0, math.log(30.0 + LAUNCH_OFFSET_DEG), math.sqrt(9_000.0))
FINE: Final = (23, 21, 18)
COARSE: Final = (12, 11, 10)
MOST_TILT: Final = math.radians(50.0)
TILTS: Final = 4

FARTHEST_U: Final = 15.0
"""Shapes with any coordinate beyond this are not served."""

N_OUT: Final = len(ROW)
N_SHAPE: Final = 6
PAIRS: Final = tuple((i, j) for i in range(N_SHAPE) for j in range(i, N_SHAPE))
BASE: Final = TILTS * N_OUT
FIRST: Final = 2 * N_SHAPE * N_OUT
"""First-order terms: constant and slope in 1 - cos(tilt), each (shape number, entry)."""

SERIES: Final = FIRST + len(PAIRS) * N_OUT

_N_PAIRS: Final = len(PAIRS)
_RPM: Final = math.pi / 30.0


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def _cubic_weights(f: np.float32, weights: Singles) -> None:
    """Fill the four weights of a uniform cubic B-spline at the fraction ``f`` of a cell."""
    one, sixth = np.float32(1.0), np.float32(1.0 / 6.0)
    g = one - f
    weights[0] = g * g * g * sixth
    weights[1] = (np.float32(4.0) - np.float32(6.0) * f * f + np.float32(3.0) * f * f * f) * sixth
    weights[2] = (np.float32(4.0) - np.float32(6.0) * g * g + np.float32(3.0) * g * g * g) * sixth
    weights[3] = f * f * f * sixth


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, nogil=True)
def look_up(
    launch: Floats,
    u: Floats,
    rows_per_u: int,
    low: Floats,
    fine_per_unit: Floats,
    coarse_per_unit: Floats,
    good: NDArray[np.bool_],
    base: Singles,
    series: Singles,
    out: Floats,
    missed: NDArray[np.bool_],
) -> None:
    """Fill ``out`` (rows as ``ROW``) from the table; mark the rows it cannot serve.

    ``base`` is (speed, launch, spin, BASE), ``series`` (speed, launch, spin, SERIES).
    """
    w0, w1, w2 = np.empty(4, np.float32), np.empty(4, np.float32), np.empty(4, np.float32)
    acc = np.empty(BASE, np.float32)
    more = np.empty(SERIES, np.float32)
    factor = np.empty(N_SHAPE + _N_PAIRS, np.float32)
    position = np.empty(3)
    cell = np.empty(3, np.int64)
    for i in range(launch.shape[0]):
        position[0] = launch[i, 0]
        position[1] = math.log(max(launch[i, 1] * (180.0 / math.pi) + LAUNCH_OFFSET_DEG, 1e-9))
        position[2] = math.sqrt(max(launch[i, 3], 0.0) / _RPM)
        tilt = launch[i, 4]
        inside = abs(tilt) <= MOST_TILT
        for d in range(3):
            position[d] = (position[d] - low[d]) * fine_per_unit[d]
            if not 0.0 <= position[d] <= good.shape[d]:  # written so that NaN is outside
                inside = False
        row = i // rows_per_u
        far = 0.0
        for k in range(N_SHAPE):
            far = max(far, abs(u[row, k]))
        if not inside or far > FARTHEST_U:
            missed[i] = True
            continue
        for d in range(3):
            cell[d] = min(int(position[d]), good.shape[d] - 1)
        if not good[cell[0], cell[1], cell[2]]:
            missed[i] = True
            continue
        missed[i] = False

        _cubic_weights(np.float32(position[0] - cell[0]), w0)
        _cubic_weights(np.float32(position[1] - cell[1]), w1)
        _cubic_weights(np.float32(position[2] - cell[2]), w2)
        for o in range(BASE):
            acc[o] = np.float32(0.0)
        for a in range(4):
            for b in range(4):
                w01 = w0[a] * w1[b]
                first = base[cell[0] + a, cell[1] + b, cell[2]]
                second = base[cell[0] + a, cell[1] + b, cell[2] + 1]
                third = base[cell[0] + a, cell[1] + b, cell[2] + 2]
                fourth = base[cell[0] + a, cell[1] + b, cell[2] + 3]
                v0, v1, v2, v3 = w01 * w2[0], w01 * w2[1], w01 * w2[2], w01 * w2[3]
                # Four nodes to a pass, so that a sum is stored a quarter as often.
                for o in range(BASE):
                    acc[o] += v0 * first[o] + v1 * second[o] + v2 * third[o] + v3 * fourth[o]
        bend = np.float32(1.0 - math.cos(tilt))
        for o in range(N_OUT):
            acc[o] += bend * (
                acc[N_OUT + o] + bend * (acc[2 * N_OUT + o] + bend * acc[3 * N_OUT + o])
            )

        if far > 0.0:
            for d in range(3):
                position[d] *= coarse_per_unit[d] / fine_per_unit[d]
                cell[d] = min(int(position[d]), COARSE[d] - 2)
                position[d] -= cell[d]
            for o in range(SERIES):
                more[o] = np.float32(0.0)
            for a in range(2):
                wa = position[0] if a else 1.0 - position[0]
                for b in range(2):
                    wb = wa * (position[1] if b else 1.0 - position[1])
                    s0 = np.float32(wb * (1.0 - position[2]))
                    s1 = np.float32(wb * position[2])
                    this = series[cell[0] + a, cell[1] + b, cell[2]]
                    next_ = series[cell[0] + a, cell[1] + b, cell[2] + 1]
                    for o in range(SERIES):
                        more[o] += s0 * this[o] + s1 * next_[o]
            p = 0
            for k in range(N_SHAPE):
                factor[k] = np.float32(u[row, k])
                for m in range(k, N_SHAPE):
                    factor[N_SHAPE + p] = np.float32(u[row, k] * u[row, m])
                    p += 1
            half = N_SHAPE * N_OUT
            for k in range(N_SHAPE):
                for o in range(N_OUT):
                    at = k * N_OUT + o
                    acc[o] += factor[k] * (more[at] + bend * more[half + at])
            for p in range(_N_PAIRS):
                for o in range(N_OUT):
                    acc[o] += factor[N_SHAPE + p] * more[FIRST + p * N_OUT + o]

        sine, cosine = math.sin(launch[i, 2]), math.cos(launch[i, 2])
        sin_tilt = math.sin(tilt)
        x, y = acc[0], acc[1] * sin_tilt
        vx, vy = acc[4], acc[5] * sin_tilt
        out[i, 0] = cosine * x - sine * y
        out[i, 1] = sine * x + cosine * y
        out[i, 2] = acc[2]
        out[i, 3] = acc[3]
        out[i, 4] = cosine * vx - sine * vy
        out[i, 5] = sine * vx + cosine * vy
        out[i, 6] = acc[6]
        out[i, 7] = acc[7]
