"""What the session summaries of one trait say of its parameters, with the gradient.

A player's sessions, changes and shot SD are integrated out here; the terms are stated in
``models.tendency.model``. Given a player's log shot SD x and which part of its mixture each logged
change is of, the series is linear and Gaussian (``models.tendency.jump_filter``). The parts are
summed, and x is integrated by Gauss-Hermite quadrature whose nodes lie where the player's scatter
and the squad's prior put x (adaptive quadrature: Naylor & Smith 1982, Appl. Stat. 31:214).
"""

from typing import Any, NamedTuple

import numba
import numpy as np

from models.arrays import Floats, Indices
from models.tendency.jump_filter import (
    OUT,
    ROWS,
    adjoint,
    change_mixture,
    filter_forward,
    slope_terms,
    sweep_back,
)

MU, SPREAD, DRIFT, DAY_SD, ALIKE, SHOT_MEAN, SHOT_SPREAD, EFFECT_SD, JUMP_SD, JUMP_RATE = range(10)
FIXED = 10
"""Entries of the parameter vector before the method biases and the drills' mean effects.

``SHOT_MEAN`` and ``SHOT_SPREAD`` are of log shot SDs; ``JUMP_RATE`` is per week."""

EFFECT_VARIANCES = (0.12, 0.6, 2.3)
"""Variances of what a change does to one player about its drill's mean, in units of the squared
effect SD, equally likely: some hardly answer, some answer twice over (estimate, no source)."""
MIXED = 3
"""A player's last changes of a trait whose parts are told apart; earlier ones are normal."""
LEAST_CHANCE = 1e-6
"""Chance of a miss that no scatter explains, such as a mistaken entry."""
NEGLIGIBLE = 16.0
"""A part this many log units below the best adds less than 1e-7 to a gradient."""
NODES = (1, 2, 3, 5, 7)
ENOUGH = (1000.0, 100.0, 30.0, 4.0)
"""Information on a log shot SD (about twice the degrees of freedom) from which that many nodes do:
over a posterior the log likelihood of a squad of 19 who are all just above a limit is then within
.04 (SD) of the integral, which moves no posterior mean by more than .04 of its SD."""

_T5 = 8.0 / (3.0 * np.pi * np.sqrt(5.0))
_PARTS = np.array(EFFECT_VARIANCES)
_MEAN_PART = float(np.mean(EFFECT_VARIANCES))
_PLACES = np.zeros((len(NODES), max(NODES)))
_WEIGHTS = np.zeros((len(NODES), max(NODES)))
for _row, _number in enumerate(NODES):
    _PLACES[_row, :_number], _weight = np.polynomial.hermite.hermgauss(_number)
    _WEIGHTS[_row, :_number] = np.log(_weight) + _PLACES[_row, :_number] ** 2
_NUMBERS = np.array(NODES)
_ENOUGH = np.array(ENOUGH)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def student5(t: float) -> float:
    """Return the Student t distribution function with 5 degrees of freedom.

    Closed form, Abramowitz & Stegun 26.7.3.
    """
    x = t / np.sqrt(5.0)
    tail = x / (1.0 + x * x) * (1.0 + 2.0 / (3.0 * (1.0 + x * x)))
    return float(0.5 + (np.arctan(x) + tail) / np.pi)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def node_row(information: float) -> int:
    """Return which rule integrates a log shot SD known with some information."""
    for row in range(_ENOUGH.size):
        if information >= _ENOUGH[row]:
            return row
    return int(_ENOUGH.size)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def scatter_terms(
    x: float,
    scatter: Floats,
    scatter_df: Floats,
    reading2: Floats,
    missed: float,
    centre: float,
    half: float,
    other_inside: float,
) -> Any:
    """Return what scatter within sessions and missed faces say of a log shot SD, and the slope."""
    shot2 = np.exp(2.0 * x)
    total = slope = 0.0
    for m in range(scatter.size):
        df = scatter_df[m]
        if df > 0.0:
            v = shot2 + reading2[m]
            total -= 0.5 * (df * np.log(v) + scatter[m] / v)
            slope -= (df - scatter[m] / v) * shot2 / v
    if missed > 0.0:
        scale = np.exp(x) * np.sqrt(0.6)
        a, b = (half - centre) / scale, (-half - centre) / scale
        inside = student5(a) - student5(b)
        d_inside = -_T5 * (a / (1.0 + a * a / 5.0) ** 3 - b / (1.0 + b * b / 5.0) ** 3)
        chance = 1.0 - inside * other_inside + LEAST_CHANCE
        total += missed * np.log(chance)
        slope -= missed * other_inside * d_inside / chance
    return total, slope


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def pooled_sessions(
    x: float,
    bias: Floats,
    count: Floats,
    mean: Floats,
    reading2: Floats,
    pooled: Floats,
    var: Floats,
) -> float:
    """Fill session means with biases out and their variances; return the methods' disagreement."""
    shot2 = np.exp(2.0 * x)
    between = 0.0
    for s in range(pooled.size):
        w_sum = y_sum = squares = logs = 0.0
        several = 0
        for m in range(bias.size):
            if count[s, m] > 0.0:
                w = count[s, m] / (shot2 + reading2[m])
                y = mean[s, m] - bias[m]
                w_sum += w
                y_sum += w * y
                squares += w * y * y
                logs += np.log(w)
                several += 1
        pooled[s], var[s] = 0.0, np.inf
        if several:
            pooled[s], var[s] = y_sum / w_sum, 1.0 / w_sum
        if several > 1:
            between += 0.5 * (logs - np.log(w_sum) - squares + y_sum * y_sum / w_sum)
    return between


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def pooled_adjoint(
    x: float,
    bias: Floats,
    count: Floats,
    mean: Floats,
    reading2: Floats,
    pooled: Floats,
    var: Floats,
    d_pooled: Floats,
    d_var: Floats,
    d_bias: Floats,
) -> float:
    """Return the derivative by the log shot SD and add those by the biases to ``d_bias``."""
    shot2 = np.exp(2.0 * x)
    slope = 0.0
    for s in range(pooled.size):
        if not var[s] < np.inf:
            continue
        several = 0
        for m in range(bias.size):
            several += count[s, m] > 0.0
        for m in range(bias.size):
            if count[s, m] <= 0.0:
                continue
            v = shot2 + reading2[m]
            w = count[s, m] / v
            away = mean[s, m] - bias[m] - pooled[s]
            d_w = d_pooled[s] * away * var[s] - d_var[s] * var[s] * var[s]
            d_bias[m] -= d_pooled[s] * w * var[s]
            if several > 1:
                d_w += 0.5 * (1.0 / w - var[s] - away * away)
                d_bias[m] += w * away
            slope -= d_w * w * 2.0 * shot2 / v
    return slope


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def parts_of(combination: int, changes: int, parts: Floats) -> float:
    """Fill the variance of each change in one combination of parts; return its log chance."""
    mixed = min(changes, MIXED)
    for c in range(changes - mixed):
        parts[c] = _MEAN_PART
    rest = combination
    for c in range(changes - mixed, changes):
        parts[c] = _PARTS[rest % _PARTS.size]
        rest //= _PARTS.size
    return float(-mixed * np.log(_PARTS.size))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def combinations(changes: int) -> int:
    """Return how many combinations of parts some changes have."""
    return int(_PARTS.size ** min(changes, MIXED))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def fill_steps(
    par: Floats,
    biases: int,
    change_at: Indices,
    change_drill: Indices,
    parts: Floats,
    step_mean: Floats,
    step_var: Floats,
) -> None:
    """Fill the mean and variance that logged changes add to the level before each session."""
    step_mean[:] = 0.0
    step_var[:] = 0.0
    for c in range(change_at.size):
        step_mean[change_at[c]] += par[FIXED + biases + change_drill[c]]
        step_var[change_at[c]] += parts[c] * par[EFFECT_SD] ** 2


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def centre_and_scale(par: Floats, best: float, information: float) -> Any:
    """Return where a player's log shot SD lies and how well it is known."""
    prior2 = 1.0 / par[SHOT_SPREAD] ** 2
    scale2 = 1.0 / (prior2 + information)
    return (par[SHOT_MEAN] * prior2 + best * information) * scale2, np.sqrt(scale2)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def player_loglik(
    par: Floats,
    gap: Floats,
    count: Floats,
    mean: Floats,
    scatter: Floats,
    scatter_df: Floats,
    reading2: Floats,
    missed: float,
    centre: float,
    half: float,
    other_inside: float,
    best: float,
    information: float,
    change_at: Indices,
    change_drill: Indices,
    gradient: Floats,
) -> float:
    """Return one player's log likelihood and add its derivatives to ``gradient``."""
    size, biases = count.shape
    bias = par[FIXED : FIXED + biases]
    middle, scale = centre_and_scale(par, best, information)
    spread = par[SHOT_SPREAD]
    prior2 = 1.0 / (spread * spread)
    d_scale = scale**3 * prior2 / spread
    by_mean = scale * scale * prior2
    by_spread = 2.0 * by_mean * (middle - par[SHOT_MEAN]) / spread
    drift2, v0, day2 = par[DRIFT] ** 2, par[SPREAD] ** 2, par[DAY_SD] ** 2
    jump2 = par[JUMP_SD] ** 2
    pooled, var = np.empty(size), np.empty(size)
    step_mean, step_var = np.empty(size), np.empty(size)
    d_mean, d_var, d_step, d_step_var = (
        np.empty(size), np.empty(size), np.empty(size), np.empty(size),
    )  # fmt: skip
    work, out = np.zeros((ROWS, size)), np.empty(OUT)
    chance = np.empty((size, 3))
    parts = np.empty(change_at.size)
    own, total_slope = np.zeros(par.size), np.zeros(par.size)
    row = node_row(information)
    top, whole = -np.inf, 0.0
    for i in range(_NUMBERS[row]):
        z = np.sqrt(2.0) * _PLACES[row, i]
        x = middle + scale * z
        away = (x - par[SHOT_MEAN]) / spread
        seen, seen_slope = scatter_terms(
            x, scatter, scatter_df, reading2, missed, centre, half, other_inside
        )
        base = _WEIGHTS[row, i] + np.log(scale / spread) - 0.5 * away * away + seen
        base += pooled_sessions(x, bias, count, mean, reading2, pooled, var)
        for combination in range(combinations(change_at.size)):
            log_part = parts_of(combination, change_at.size, parts)
            fill_steps(par, biases, change_at, change_drill, parts, step_mean, step_var)
            value = (
                base
                + log_part
                + filter_forward(
                    pooled,
                    var,
                    gap,
                    step_mean,
                    step_var,
                    drift2,
                    par[MU],
                    v0,
                    day2,
                    par[ALIKE],
                    work,
                )
            )
            sweep_back(work, size)
            r, n = slope_terms(gap, work)
            value += change_mixture(gap, par[JUMP_RATE], jump2, r, n, work, chance)
            if value < top - NEGLIGIBLE:
                whole += np.exp(value - top)
                continue
            adjoint(
                gap, drift2, day2, par[ALIKE], par[JUMP_RATE], jump2, r, n, work, chance,
                d_mean, d_var, d_step, d_step_var, out,
            )  # fmt: skip
            own[:] = 0.0
            own[MU] = out[1]
            own[SPREAD] = 2.0 * par[SPREAD] * out[2]
            own[DRIFT] = 2.0 * par[DRIFT] * out[0]
            own[DAY_SD] = 2.0 * par[DAY_SD] * out[3]
            own[ALIKE] = out[4]
            own[JUMP_SD] = 2.0 * par[JUMP_SD] * out[5]
            own[JUMP_RATE] = out[6]
            for c in range(change_at.size):
                own[FIXED + biases + change_drill[c]] += d_step[change_at[c]]
                own[EFFECT_SD] += 2.0 * par[EFFECT_SD] * parts[c] * d_step_var[change_at[c]]
            slope = seen_slope - away / spread
            slope += pooled_adjoint(
                x, bias, count, mean, reading2, pooled, var, d_mean, d_var,
                own[FIXED : FIXED + biases],
            )  # fmt: skip
            own[SHOT_MEAN] = slope * by_mean + away / spread
            own[SHOT_SPREAD] = slope * (by_spread + z * d_scale)
            own[SHOT_SPREAD] += d_scale / scale + (away * away - 1.0) / spread
            if value > top:
                shrink = np.exp(top - value) if whole > 0.0 else 0.0
                whole *= shrink
                for j in range(par.size):
                    total_slope[j] *= shrink
                top = value
            weight = np.exp(value - top)
            whole += weight
            for j in range(par.size):
                total_slope[j] += weight * own[j]
    for j in range(par.size):
        gradient[j] += total_slope[j] / whole
    return float(top + np.log(whole))


class SquadRows(NamedTuple):
    """A squad's readings of one trait as the compiled sweeps take them: see ``TraitSeries``."""

    first: Indices
    gap: Floats
    count: Floats  # type: ignore[assignment]  # in the place of a tuple's own count
    mean: Floats
    scatter: Floats
    scatter_df: Floats
    reading2: Floats
    missed: Floats
    centre: Floats
    half: float
    other_inside: Floats
    best: Floats
    information: Floats
    change_first: Indices
    change_at: Indices
    change_group: Indices


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def squad_loglik(par: Floats, squad: SquadRows) -> Any:
    """Return the log likelihood of a squad's readings of one trait, and its gradient."""
    gradient = np.zeros(par.size)
    total = 0.0
    for p in range(squad.first.size - 1):
        mine, to = squad.first[p], squad.first[p + 1]
        own, until = squad.change_first[p], squad.change_first[p + 1]
        total += player_loglik(
            par, squad.gap[mine:to], squad.count[mine:to], squad.mean[mine:to], squad.scatter[p],
            squad.scatter_df[p], squad.reading2, squad.missed[p], squad.centre[p], squad.half,
            squad.other_inside[p], squad.best[p], squad.information[p], squad.change_at[own:until],
            squad.change_group[own:until], gradient,
        )  # fmt: skip
    return total, gradient
