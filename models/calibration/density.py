"""What the squad's balls say of the drive's constants, compiled.

The terms are stated in ``models.calibration.target``; derivatives are worked by hand and checked
against the same model in PyMC (``tests/reference``). ``log_density`` is the same with the priors of
everything sampled, on a vector without bounds: SDs as their logarithms.

With w the whitened constants (of the players' average head) and method biases, and
h[p] = offset_sd * offset_raw[p] what a player's head differs by, every session mean is linear:
mean = slope w + by_head (h[p] - mean h), its variance the known one plus the squared residual SD.
What else is known is standard normals: slope w + start - by_head mean h.
"""

import functools
from typing import Any

import numba
import numpy as np

from models.arrays import Floats, Indices
from models.sampling.packing import field, whole
from models.sampling.sampler import DENSITY_SIGNATURE, MachineCode, answered, asked

HEADER = 3


def packed_rows(
    *,
    prior_slope: Floats,
    prior_start: Floats,
    prior_by_head: Floats,
    player: Indices,
    ball: Floats,
    ball_variance: Floats,
    ball_slope: Floats,
    by_head: Floats,
    carry: Floats,
    carry_variance: Floats,
    carry_slope: Floats,
) -> Floats:
    """Return the data of ``calibration_density`` as one vector.

    ``prior_slope`` (G, D), ``prior_start`` (G,), ``prior_by_head`` (G, O): what is known apart from
    the session means; ``ball``, ``ball_variance`` (R, T): session means less their prediction at
    w = 0, in known units squared over the residual's; ``ball_slope`` (R, T, D); ``by_head``
    (R, T, O); ``carry``, ``carry_variance`` (S,), ``carry_slope`` (S, D) likewise; ``player`` (R,).
    """
    parts = (
        prior_slope, prior_start, prior_by_head, player, ball, ball_variance, ball_slope, by_head,
        carry, carry_variance, carry_slope,
    )  # fmt: skip
    head = np.array([len(ball), len(carry), len(prior_start)], dtype=np.float64)
    return np.concatenate([head, *(np.asarray(a, dtype=np.float64).ravel() for a in parts)])


@numba.njit(cache=True, nogil=True)
def calibration_density(
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
    rows, carries, normals = int(data[0]), int(data[1]), int(data[2])
    players = offset_raw.shape[0]
    at = HEADER
    prior_slope = data[at : at + normals * size].reshape((normals, size))
    at += normals * size
    prior_start = data[at : at + normals]
    at += normals
    prior_by_head = data[at : at + normals * offsets].reshape((normals, offsets))
    at += normals * offsets
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
    head, middle = np.empty((players, offsets)), np.zeros(offsets)
    d_head, d_middle = np.zeros((players, offsets)), np.zeros(offsets)
    for p in range(players):
        for o in range(offsets):
            head[p, o] = offset_sd[o] * offset_raw[p, o]
            middle[o] += head[p, o] / players
    total = 0.0
    for i in range(normals):
        normal = prior_start[i]
        for j in range(size):
            normal += prior_slope[i, j] * white[j]
        for o in range(offsets):
            normal -= prior_by_head[i, o] * middle[o]
        total -= 0.5 * normal * normal
        for j in range(size):
            d_white[j] -= normal * prior_slope[i, j]
        for o in range(offsets):
            d_middle[o] += normal * prior_by_head[i, o]
    for r in range(rows):
        p = player[r]
        for b in range(traits):
            away = ball[r, b]
            for j in range(size):
                away -= ball_slope[r, b, j] * white[j]
            for o in range(offsets):
                away -= by_head[r, b, o] * (head[p, o] - middle[o])
            v = ball_variance[r, b] + residual[b] * residual[b]
            pull = away / v
            total -= 0.5 * (np.log(v) + away * pull)
            d_residual[b] += residual[b] * (pull * pull - 1.0 / v)
            for j in range(size):
                d_white[j] += pull * ball_slope[r, b, j]
            for o in range(offsets):
                d_head[p, o] += pull * by_head[r, b, o]
                d_middle[o] -= pull * by_head[r, b, o]
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
    for p in range(players):
        for o in range(offsets):
            slope = d_head[p, o] + d_middle[o] / players
            d_sd[o] += slope * offset_raw[p, o]
            d_raw[p, o] = slope * offset_sd[o]
    return total, d_white, d_sd, d_raw, d_residual, d_carry


@numba.njit(cache=True, nogil=True)
def log_density(
    x: Floats, sizes: tuple[int, int, int], centred: Floats, data: Floats
) -> tuple[float, Floats]:
    """Return the log density and its gradient at an unconstrained vector.

    ``sizes`` counts whitened directions, offsets and ball traits. ``x`` holds ``white``, log
    ``offset_sd``, the heads by player, log ``residual`` and log ``carry_residual`` in turn. Heads
    stand there as offset_raw offset_sd^``centred``, where ``centred`` (P, O) lies between 0 and 1.
    The priors of the SDs are half-normals of scale 1, whose density per logarithm of the SD has the
    SD itself for a factor.
    """
    size, offsets, traits = sizes
    players = centred.shape[0]
    a = size + offsets
    b = a + players * offsets
    offset_sd, residual = np.exp(x[size:a]), np.exp(x[b : b + traits])
    carry_residual = np.exp(x[b + traits :])
    raw = x[a:b].copy().reshape((players, offsets))
    for p in range(players):
        for o in range(offsets):
            raw[p, o] *= np.exp(-centred[p, o] * x[size + o])
    total, d_white, d_sd, d_raw, d_residual, d_carry = calibration_density(
        x[:size], offset_sd, raw, residual, carry_residual, data
    )
    slope = np.empty(x.size)
    slope[:size] = d_white
    slope[size:a] = d_sd * offset_sd - offset_sd * offset_sd + 1.0
    slope[b : b + traits] = d_residual * residual - residual * residual + 1.0
    slope[b + traits :] = d_carry * carry_residual - carry_residual * carry_residual + 1.0
    for i in range(size, x.size):
        if i < a or i >= b:
            total += x[i] - 0.5 * np.exp(2.0 * x[i])
    for p in range(players):
        for o in range(offsets):
            total -= 0.5 * raw[p, o] * raw[p, o]
            down = d_raw[p, o] - raw[p, o]
            total -= centred[p, o] * x[size + o]
            slope[size + o] -= centred[p, o] * (down * raw[p, o] + 1.0)
            slope[a + p * offsets + o] = down * np.exp(-centred[p, o] * x[size + o])
    if not np.isfinite(total):
        return -np.inf, slope
    return total, slope


@numba.njit(cache=True, nogil=True)
def packed_log_density(x: Floats, data: Floats) -> Any:
    """Return ``log_density`` of what ``FIELDS`` were packed to."""
    sizes = whole(data, 0)
    return log_density(
        x,
        (sizes[0], sizes[1], sizes[2]),
        field(data, 1).reshape((-1, sizes[1])),
        field(data, 2),
    )


FIELDS = ("sizes", "centred", "rows")
"""The arguments of ``log_density`` after the vector, as they are packed for the sampler."""


def _answer(size: int, vector: Any, gradient: Any, value: Any, held: Any) -> Any:
    x, data = asked(size, vector, held)
    found, slope = packed_log_density(x, data)
    return answered(size, found, slope, held, gradient, value)


@functools.cache
def callback() -> MachineCode:
    """Return the density as the sampler calls it, compiled when first asked for."""
    code: MachineCode = numba.cfunc(DENSITY_SIGNATURE, cache=True)(_answer)
    return code
