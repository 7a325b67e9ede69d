"""What the squad's balls say of the drive's constants, as one operation on one data vector.

One operation, since the sampler's compiler spends seconds in every process on each array operation
of a model; the packed vector may grow or shrink on the same compiled model. The terms are stated
in ``models.calibration``; derivatives are worked by hand and checked against finite differences.

With w the whitened constants and method biases and h[p] = offset_sd * offset_raw[p] a player's
head, every session mean is linear: mean = slope w + by_head h[p], its variance the known one plus
the squared residual SD.
"""

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray
from pytensor.graph.basic import Apply
from pytensor.link.numba.dispatch.basic import (
    numba_njit,
    register_funcify_default_op_cache_key,
)

from models.density_op import DensityOp

Floats = NDArray[np.float64]

HEADER = 2


def packed_rows(
    *,
    prior_slope: Floats,
    prior_start: Floats,
    player: NDArray[np.int64],
    ball: Floats,
    ball_variance: Floats,
    ball_slope: Floats,
    by_head: Floats,
    carry: Floats,
    carry_variance: Floats,
    carry_slope: Floats,
) -> Floats:
    """Return the data of ``calibration_density_op`` as one vector.

    ``prior_slope`` (D, D) and ``prior_start`` (D,): the prior's standard normals are slope w +
    start; ``ball``, ``ball_variance`` (R, T): session means less their prediction at w = 0, in
    known units squared over the residual's; ``ball_slope`` (R, T, D); ``by_head`` (R, T, O);
    ``carry``, ``carry_variance`` (S,), ``carry_slope`` (S, D) likewise; ``player`` (R,).
    """
    parts = (
        prior_slope, prior_start, player, ball, ball_variance, ball_slope, by_head, carry,
        carry_variance, carry_slope,
    )  # fmt: skip
    head = np.array([len(ball), len(carry)], dtype=np.float64)
    return np.concatenate([head, *(np.asarray(a, dtype=np.float64).ravel() for a in parts)])


def _calibration_density(
    white: Floats,
    offset_sd: Floats,
    offset_raw: Floats,
    residual: Floats,
    carry_residual: Floats,
    data: Floats,
) -> Any:
    """Return the log density of the balls and the constants' prior, with derivatives.

    ``residual`` (T,) and ``carry_residual`` (1,) are in the units of the rows.
    """
    size, traits, offsets = white.size, residual.size, offset_sd.size
    rows, carries = int(data[0]), int(data[1])
    at = HEADER
    prior_slope = data[at : at + size * size].reshape((size, size))
    at += size * size
    prior_start = data[at : at + size]
    at += size
    player = data[at : at + rows].astype(np.int64)
    at += rows
    ball = data[at : at + rows * traits].reshape((rows, traits))
    at += rows * traits
    ball_variance = data[at : at + rows * traits].reshape((rows, traits))
    at += rows * traits
    ball_slope = data[at : at + rows * traits * size].reshape((rows, traits, size))
    at += rows * traits * size
    by_head = data[at : at + rows * traits * offsets].reshape((rows, traits, offsets))
    at += rows * traits * offsets
    carry = data[at : at + carries]
    at += carries
    carry_variance = data[at : at + carries]
    at += carries
    carry_slope = data[at : at + carries * size].reshape((carries, size))

    d_white, d_sd, d_raw = np.zeros(size), np.zeros(offsets), np.zeros(offset_raw.shape)
    d_residual, d_carry = np.zeros(traits), np.zeros(1)
    total = 0.0
    for i in range(size):
        normal = prior_start[i]
        for j in range(size):
            normal += prior_slope[i, j] * white[j]
        total -= 0.5 * normal * normal
        for j in range(size):
            d_white[j] -= normal * prior_slope[i, j]
    for r in range(rows):
        p = player[r]
        for b in range(traits):
            away = ball[r, b]
            for j in range(size):
                away -= ball_slope[r, b, j] * white[j]
            for o in range(offsets):
                away -= by_head[r, b, o] * offset_sd[o] * offset_raw[p, o]
            v = ball_variance[r, b] + residual[b] * residual[b]
            pull = away / v
            total -= 0.5 * (np.log(v) + away * pull)
            d_residual[b] += residual[b] * (pull * pull - 1.0 / v)
            for j in range(size):
                d_white[j] += pull * ball_slope[r, b, j]
            for o in range(offsets):
                d_sd[o] += pull * by_head[r, b, o] * offset_raw[p, o]
                d_raw[p, o] += pull * by_head[r, b, o] * offset_sd[o]
    for s in range(carries):
        away = carry[s]
        for j in range(size):
            away -= carry_slope[s, j] * white[j]
        v = carry_variance[s] + carry_residual[0] * carry_residual[0]
        pull = away / v
        total -= 0.5 * (np.log(v) + away * pull)
        d_carry[0] += carry_residual[0] * (pull * pull - 1.0 / v)
        for j in range(size):
            d_white[j] += pull * carry_slope[s, j]
    return total, d_white, d_sd, d_raw, d_residual, d_carry


calibration_density = numba.njit(cache=True, nogil=True)(_calibration_density)


class CalibrationDensity(DensityOp):
    """``calibration_density`` as an operation of a PyMC model."""

    parameters = 5
    core = staticmethod(calibration_density)


@register_funcify_default_op_cache_key(CalibrationDensity)
def _numba_calibration_density(op: CalibrationDensity, node: Apply, **kwargs: Any) -> Any:
    core = calibration_density

    @numba_njit
    def calibration_density_op(
        white: Any, offset_sd: Any, offset_raw: Any, residual: Any, carry_residual: Any, data: Any
    ) -> Any:
        total, d0, d1, d2, d3, d4 = core(
            white, offset_sd, offset_raw, residual, carry_residual, data
        )
        return np.asarray(total), d0, d1, d2, d3, d4

    return calibration_density_op


calibration_density_op = CalibrationDensity()
