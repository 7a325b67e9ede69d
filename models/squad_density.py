"""Everything a squad's data say of the model's parameters, as one operation on one data vector.

One operation and one data variable, since the sampler's compiler spends seconds, in every process
and on any cache, on each array operation and about half a second on each data variable.
The packed vector may grow or shrink between fits (more sessions, other readings) on the same
compiled model, so long as players, traits, methods, effects and pairs stay as many.

Terms: session summaries (``models.squad_likelihood``), Fisher z of the shot correlations, and the
chance of shots that missed the readable face (both stated in ``models.tendency``). Derivatives
are worked by hand and checked against finite differences.
"""

from typing import Any

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray
from pytensor.graph.basic import Apply
from pytensor.link.numba.dispatch.basic import (
    numba_njit,
    register_funcify_default_op_cache_key,
)

from models.density_op import DensityOp
from models.squad_likelihood import squad_loglik

Floats = NDArray[np.float64]

HEADER = 3
_T5 = 8.0 / (3.0 * np.pi * np.sqrt(5.0))


def packed(
    *,
    count: Floats,
    mean: Floats,
    scatter: Floats,
    scatter_df: Floats,
    reading_sd: Floats,
    gap: Floats,
    started: Floats,
    by_effect: ArrayLike,
    free: ArrayLike,
    pair_z: Floats,
    pair_variance: Floats,
    missed: Floats,
    strike_mean: Floats,
    face: ArrayLike,
    least_chance: float,
) -> Floats:
    """Return the data of ``squad_density_op`` as one vector.

    ``by_effect`` (3, effect): player, trait and group of each logged effect; ``free`` (2, bias):
    method and trait of each bias to learn; ``face`` (4,): the two strike traits' places and the
    half-widths of the readable face in mm; the rest is as in ``models.tendency.TendencyData``.
    """
    methods, _, sessions, _ = count.shape
    parts = (
        count, mean, scatter, scatter_df, reading_sd, gap, started, by_effect, free, pair_z,
        pair_variance, missed, strike_mean, face,
    )  # fmt: skip
    head = np.array([methods, sessions, least_chance])
    return np.concatenate([head, *(np.asarray(a, dtype=np.float64).ravel() for a in parts)])


def _student5(t: float) -> float:
    """Return the Student t distribution function with 5 degrees of freedom.

    Closed form, Abramowitz & Stegun 26.7.3.
    """
    x = t / np.sqrt(5.0)
    tail = x / (1.0 + x * x) * (1.0 + 2.0 / (3.0 * (1.0 + x * x)))
    return float(0.5 + (np.arctan(x) + tail) / np.pi)


student5 = numba.njit(cache=True, nogil=True)(_student5)


def _squad_density(
    mu: Floats,
    spread: Floats,
    drift: Floats,
    session_sd: Floats,
    log_shot_sd: Floats,
    free_bias: Floats,
    group_effect: Floats,
    group_spread: Floats,
    effect_raw: Floats,
    alike: Floats,
    pair_mean: Floats,
    pair_spread: Floats,
    data: Floats,
) -> Any:
    """Return the log density of the data and its derivatives by the twelve parameters."""
    players, traits = log_shot_sd.shape
    methods, sessions, least_chance = int(data[0]), int(data[1]), data[2]
    effects, biases, pairs = effect_raw.size, free_bias.size, pair_mean.size
    at = HEADER
    cells, owners = methods * players * sessions * traits, methods * players * traits
    by_cell = (methods, players, sessions, traits)
    by_owner = (methods, players, traits)
    count = data[at : at + cells].reshape(by_cell)
    at += cells
    mean = data[at : at + cells].reshape(by_cell)
    at += cells
    scatter = data[at : at + owners].reshape(by_owner)
    at += owners
    scatter_df = data[at : at + owners].reshape(by_owner)
    at += owners
    reading_sd = data[at : at + methods * traits].reshape((methods, traits))
    at += methods * traits
    gap = data[at : at + players * sessions].reshape((players, sessions))
    at += players * sessions
    started = data[at : at + effects * sessions].reshape((effects, sessions))
    at += effects * sessions
    by_effect = data[at : at + 3 * effects].reshape((3, effects)).astype(np.int64)
    at += 3 * effects
    free = data[at : at + 2 * biases].reshape((2, biases)).astype(np.int64)
    at += 2 * biases
    pair_z = data[at : at + players * pairs].reshape((players, pairs))
    at += players * pairs
    pair_variance = data[at : at + players * pairs].reshape((players, pairs))
    at += players * pairs
    missed = data[at : at + players]
    at += players
    strike_mean = data[at : at + 2 * players].reshape((players, 2))
    at += 2 * players
    face = data[at : at + 4]

    bias = np.zeros((methods, traits))
    for i in range(biases):
        bias[free[0, i], free[1, i]] = free_bias[i]
    effect = np.empty(effects)
    for i in range(effects):
        g = by_effect[2, i]
        effect[i] = group_effect[g] + group_spread[g] * effect_raw[i]
    total, d_mu, d_spread, d_drift, d_session, d_log_shot, d_bias, d_effect, d_alike = squad_loglik(
        mu, spread, drift, session_sd, log_shot_sd, bias, effect, alike, count, mean, scatter,
        scatter_df, reading_sd, gap, by_effect[0], by_effect[1], started,
    )  # fmt: skip
    d_free = np.empty(biases)
    for i in range(biases):
        d_free[i] = d_bias[free[0, i], free[1, i]]
    d_group, d_group_spread = np.zeros(group_effect.size), np.zeros(group_effect.size)
    d_raw = np.empty(effects)
    for i in range(effects):
        g = by_effect[2, i]
        d_group[g] += d_effect[i]
        d_group_spread[g] += d_effect[i] * effect_raw[i]
        d_raw[i] = d_effect[i] * group_spread[g]

    d_pair_mean, d_pair_spread = np.zeros(pairs), np.zeros(pairs)
    for p in range(players):
        for j in range(pairs):
            v = pair_spread[j] ** 2 + pair_variance[p, j]
            away = pair_z[p, j] - pair_mean[j]
            total -= 0.5 * (np.log(v) + away * away / v)
            d_pair_mean[j] += away / v
            d_pair_spread[j] += pair_spread[j] * (away * away / v - 1.0) / v

    inside, d_inside = np.empty(2), np.empty(2)
    for p in range(players):
        if missed[p] <= 0.0:
            continue
        for j in range(2):
            scale = np.exp(log_shot_sd[p, int(face[j])]) * np.sqrt(0.6)
            a = (face[2 + j] - strike_mean[p, j]) / scale
            b = (-face[2 + j] - strike_mean[p, j]) / scale
            inside[j] = student5(a) - student5(b)
            d_inside[j] = -_T5 * (a / (1.0 + a * a / 5.0) ** 3 - b / (1.0 + b * b / 5.0) ** 3)
        chance = 1.0 - inside[0] * inside[1] + least_chance
        total += missed[p] * np.log(chance)
        d_log_shot[p, int(face[0])] -= missed[p] / chance * inside[1] * d_inside[0]
        d_log_shot[p, int(face[1])] -= missed[p] / chance * inside[0] * d_inside[1]
    return (
        total, d_mu, d_spread, d_drift, d_session, d_log_shot, d_free, d_group, d_group_spread,
        d_raw, d_alike, d_pair_mean, d_pair_spread,
    )  # fmt: skip


squad_density = numba.njit(cache=True, nogil=True)(_squad_density)


class SquadDensity(DensityOp):
    """``squad_density`` as an operation of a PyMC model."""

    parameters = 12
    core = staticmethod(squad_density)


@register_funcify_default_op_cache_key(SquadDensity)
def _numba_squad_density(op: SquadDensity, node: Apply, **kwargs: Any) -> Any:
    core = squad_density

    @numba_njit
    def squad_density_op(
        mu: Any, spread: Any, drift: Any, session_sd: Any, log_shot_sd: Any, free_bias: Any,
        group_effect: Any, group_spread: Any, effect_raw: Any, alike: Any, pair_mean: Any,
        pair_spread: Any, data: Any,
    ) -> Any:  # fmt: skip
        total, d0, d1, d2, d3, d4, d5, d6, d7, d8, d9, d10, d11 = core(
            mu, spread, drift, session_sd, log_shot_sd, free_bias, group_effect, group_spread,
            effect_raw, alike, pair_mean, pair_spread, data,
        )  # fmt: skip
        return np.asarray(total), d0, d1, d2, d3, d4, d5, d6, d7, d8, d9, d10, d11

    return squad_density_op


squad_density_op = SquadDensity()
