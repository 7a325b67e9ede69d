"""Draws of what the density integrated out, given draws of its parameters.

A player's log shot SD is drawn from its own posterior (quadrature nodes for the sessions' part,
exact for the scatter's), then the part of each logged change, then whether, where and how large the
unlogged jump was, then levels and effects together by the disturbance smoother on a joint draw
(Durbin & Koopman 2002, Biometrika 89:603).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np

from models.arrays import Floats, Indices
from models.tendency.data import TraitSeries
from models.tendency.density import HALF_YEAR_WEEKS
from models.tendency.jump_filter import (
    JUMP_VARIANCES,
    ROWS,
    STEADY_WEEKS,
    Q,
    change_mixture,
    filter_forward,
    slope_terms,
    sweep_back,
)
from models.tendency.likelihood import (
    _NUMBERS,
    _PLACES,
    ALIKE,
    DAY_SD,
    DRIFT,
    EFFECT_SD,
    FIXED,
    JUMP_RATE,
    JUMP_SD,
    MU,
    SHOT_MEAN,
    SHOT_SPREAD,
    SPREAD,
    SquadRows,
    centre_and_scale,
    combinations,
    fill_steps,
    node_row,
    parts_of,
    pooled_sessions,
    scatter_terms,
)

GRID, REACH = 61, 5.0
"""Points of the grid on which a log shot SD is drawn, and how many SDs it spans each way."""
SMOOTH_ROW = 2
"""Rule with the fewest nodes that the sessions' part is interpolated from: three. The SD of a log
shot SD is then right to 1 %."""

_SIZES = np.array(JUMP_VARIANCES)


@dataclass(frozen=True, slots=True, eq=False)
class Smoothed:
    """Draws of one trait's hidden quantities; N draws, R sessions of all players, P, C."""

    level: Floats
    """(N, R) level at each session."""
    shot_sd: Floats
    """(N, P) shot-to-shot SD."""
    effect: Floats
    """(N, C) what each logged change did to its player."""
    jump_at: Indices
    """(N, P) session before which an unlogged jump came, a place among the player's own; 0 for a
    steady change, -1 for none."""
    jump: Floats
    """(N, P) the jump's size, or the steady change's slope a week; 0 where there is none."""


def parameter_rows(draws: Mapping[str, Floats], series: TraitSeries) -> Floats:
    """Return parameter draws in the order of ``likelihood``, (sample, parameter).

    What was not sampled is 0, which takes it out of the model.
    """
    some = next(iter(draws.values()))
    methods, drills = series.reading2.size, series.groups.size
    rows = np.zeros((len(some), FIXED + methods + drills))
    names = (
        "mu", "spread", "drift", "session_sd", "day_alike", "log_shot_mean", "log_shot_spread",
        "effect_sd", "jump_sd",
    )  # fmt: skip
    for i, name in enumerate(names):
        rows[:, i] = draws.get(name, 0.0)
    rows[:, JUMP_RATE] = -np.log1p(-np.asarray(draws.get("jump_chance", 0.0))) / HALF_YEAR_WEEKS
    if methods > 1:
        rows[:, FIXED + 1 : FIXED + methods] = draws["bias"]
    if drills:
        rows[:, FIXED + methods :] = draws["group_effect"]
    return rows


def smoothed(
    draws: Mapping[str, Floats], series: TraitSeries, rng: np.random.Generator
) -> Smoothed:
    """Return one trait's levels, shot SDs, effects and jumps for each draw of its parameters."""
    rows = parameter_rows(draws, series)
    players = series.first.size - 1
    sessions, changes = series.gap.size, series.change_at.size
    return Smoothed(
        *_smooth(
            rows,
            series.rows(),
            rng.random((len(rows), players, 3)),
            rng.standard_normal((len(rows), sessions, 3)),
            rng.standard_normal((len(rows), changes)),
            rng.standard_normal((len(rows), players)),
        )
    )


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _interpolated(x: float, places: Floats, values: Floats, number: int) -> float:
    """Return the polynomial through the nodes (Lagrange's form)."""
    total = 0.0
    for i in range(number):
        basis = 1.0
        for j in range(number):
            if j != i:
                basis *= (x - places[j]) / (places[i] - places[j])
        total += basis * values[i]
    return total


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _pick(weights: Floats, total: float, uniform: float) -> int:
    """Return the place that a uniform number picks."""
    left = uniform * total
    for i in range(weights.size):
        left -= weights[i]
        if left < 0.0:
            return i
    return int(np.argmax(weights))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _smooth(
    parameters: Floats,
    squad: SquadRows,
    uniform: Floats,
    noise: Floats,
    effect_noise: Floats,
    jump_noise: Floats,
) -> Any:
    samples, players = len(parameters), squad.first.size - 1
    level = np.empty((samples, squad.gap.size))
    shot_sd = np.empty((samples, players))
    effect = np.empty((samples, squad.change_at.size))
    jump_at = np.full((samples, players), -1)
    jump = np.zeros((samples, players))
    biases = squad.count.shape[1]
    grid, ladder = np.empty(GRID), np.empty(GRID)
    places, values = np.empty(_PLACES.shape[1]), np.empty(_PLACES.shape[1])
    for p in range(players):
        mine, to = squad.first[p], squad.first[p + 1]
        size = to - mine
        own, until = squad.change_first[p], squad.change_first[p + 1]
        at, group = squad.change_at[own:until], squad.change_group[own:until]
        weeks, count, mean = squad.gap[mine:to], squad.count[mine:to], squad.mean[mine:to]
        work, chance = np.zeros((ROWS, size)), np.empty((size, _SIZES.size))
        pooled, var = np.empty(size), np.empty(size)
        step_mean, step_var = np.empty(size), np.empty(size)
        plus, drawn = np.empty(size), np.empty(size)
        parts = np.empty(at.size)
        log_parts = np.empty(combinations(at.size))
        row = max(node_row(squad.information[p]), SMOOTH_ROW)
        number = _NUMBERS[row]
        read = False
        for s in range(size):
            for m in range(biases):
                read = read or count[s, m] > 0.0
        for d in range(samples):
            par = parameters[d]
            bias = par[FIXED : FIXED + biases]
            drift2, v0, day2 = par[DRIFT] ** 2, par[SPREAD] ** 2, par[DAY_SD] ** 2
            jump2 = par[JUMP_SD] ** 2
            middle, scale = centre_and_scale(par, squad.best[p], squad.information[p])
            if not read:
                number = 1
            for i in range(number):
                places[i] = middle + np.sqrt(2.0) * scale * _PLACES[row, i] if read else middle
                values[i] = 0.0
                if number == 1:
                    continue
                base = pooled_sessions(places[i], bias, count, mean, squad.reading2, pooled, var)
                top, whole = -np.inf, 0.0
                for c in range(log_parts.size):
                    value = base + parts_of(c, at.size, parts)
                    fill_steps(par, biases, at, group, parts, step_mean, step_var)
                    value += filter_forward(
                        pooled, var, weeks, step_mean, step_var, drift2, par[MU], v0, day2,
                        par[ALIKE], work,
                    )  # fmt: skip
                    sweep_back(work, size)
                    r, n = slope_terms(weeks, work)
                    value += change_mixture(weeks, par[JUMP_RATE], jump2, r, n, work, chance)
                    if value > top:
                        whole = whole * np.exp(top - value) if whole > 0.0 else 0.0
                        top = value
                    whole += np.exp(value - top)
                values[i] = top + np.log(whole)
            # the log shot SD, on a grid
            top = -np.inf
            for i in range(GRID):
                grid[i] = middle + scale * REACH * (2.0 * i / (GRID - 1.0) - 1.0)
                away = (grid[i] - par[SHOT_MEAN]) / par[SHOT_SPREAD]
                seen, _ = scatter_terms(
                    grid[i], squad.scatter[p], squad.scatter_df[p], squad.reading2,
                    squad.missed[p], squad.centre[p], squad.half, squad.other_inside[p],
                )  # fmt: skip
                ladder[i] = seen - 0.5 * away * away
                ladder[i] += _interpolated(grid[i], places, values, number)
                top = max(top, ladder[i])
            total = 0.0
            for i in range(GRID):
                ladder[i] = np.exp(ladder[i] - top)
                total += ladder[i]
            chosen = _pick(ladder, total, uniform[d, p, 0])
            # within its cell the draw is even: the fraction of the uniform number left over
            before = 0.0
            for i in range(chosen):
                before += ladder[i]
            share = (uniform[d, p, 0] * total - before) / ladder[chosen]
            step = grid[1] - grid[0]
            x = grid[chosen] + step * (min(max(share, 0.0), 1.0) - 0.5)
            shot_sd[d, p] = np.exp(x)
            pooled_sessions(x, bias, count, mean, squad.reading2, pooled, var)
            # the parts of the changes
            top = -np.inf
            for c in range(log_parts.size):
                log_parts[c] = parts_of(c, at.size, parts)
                fill_steps(par, biases, at, group, parts, step_mean, step_var)
                log_parts[c] += filter_forward(
                    pooled, var, weeks, step_mean, step_var, drift2, par[MU], v0, day2, par[ALIKE],
                    work,
                )  # fmt: skip
                sweep_back(work, size)
                r, n = slope_terms(weeks, work)
                log_parts[c] += change_mixture(weeks, par[JUMP_RATE], jump2, r, n, work, chance)
                top = max(top, log_parts[c])
            total = 0.0
            for c in range(log_parts.size):
                log_parts[c] = np.exp(log_parts[c] - top)
                total += log_parts[c]
            chosen = _pick(log_parts, total, uniform[d, p, 1])
            parts_of(chosen, at.size, parts)
            fill_steps(par, biases, at, group, parts, step_mean, step_var)
            # the jump: its place and size
            filter_forward(
                pooled, var, weeks, step_mean, step_var, drift2, par[MU], v0, day2, par[ALIKE], work
            )
            sweep_back(work, size)
            r, n = slope_terms(weeks, work)
            change_mixture(weeks, par[JUMP_RATE], jump2, r, n, work, chance)
            left = uniform[d, p, 2]
            when, jump_var = -1, 0.0
            for s in range(size):
                for j in range(_SIZES.size):
                    if when < 0 and chance[s, j] > 0.0:
                        left -= chance[s, j]
                        if left < 0.0:
                            when, jump_var = s, jump2 * _SIZES[j]
            slope = 0.0
            if when == 0:  # a steady change: its slope first, the rest given it
                v = jump_var / STEADY_WEEKS**2
                grown = 1.0 + v * n
                slope = v * r / grown + np.sqrt(v / grown) * jump_noise[d, p]
                jump[d, p] = slope
            elif when > 0:
                step_var[when] += jump_var
            # a joint draw of everything, then what the readings add to it
            value = par[MU] + np.sqrt(v0) * noise[d, mine, 0]
            day = np.sqrt(day2) * noise[d, mine, 1]
            begun = False
            for s in range(size):
                if s > 0:
                    value += np.sqrt(drift2 * weeks[s]) * noise[d, mine + s, 0]
                    value += slope * weeks[s]
                for c in range(at.size):
                    if at[c] == s:
                        drawn_effect = (
                            par[FIXED + biases + group[c]]
                            + par[EFFECT_SD] * np.sqrt(parts[c]) * effect_noise[d, own + c]
                        )
                        effect[d, own + c] = drawn_effect
                        value += drawn_effect
                if s == when and s > 0:
                    jump[d, p] = np.sqrt(jump_var) * jump_noise[d, p]
                    value += jump[d, p]
                plus[s] = value
                drawn[s] = 0.0
                if var[s] < np.inf:
                    if begun:
                        fresh = np.sqrt(day2 * (1.0 - par[ALIKE] ** 2))
                        day = par[ALIKE] * day + fresh * noise[d, mine + s, 1]
                    begun = True
                    drawn[s] = pooled[s] - value - day - np.sqrt(var[s]) * noise[d, mine + s, 2]
            for s in range(size):
                step_mean[s] = 0.0
            filter_forward(
                drawn, var, weeks, step_mean, step_var, drift2, 0.0, v0, day2, par[ALIKE], work
            )
            sweep_back(work, size)
            moved = v0 * work[Q, 0]
            for s in range(size):
                moved += step_var[s] * work[Q, s]
                if s > 0:
                    moved += drift2 * weeks[s] * work[Q, s]
                level[d, mine + s] = plus[s] + moved
                for c in range(at.size):
                    if at[c] == s:
                        effect[d, own + c] += par[EFFECT_SD] ** 2 * parts[c] * work[Q, s]
                if s == when and s > 0:
                    jump[d, p] += jump_var * work[Q, s]
            jump_at[d, p] = when
    return level, shot_sd, effect, jump_at, jump
