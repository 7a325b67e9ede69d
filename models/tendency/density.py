"""The posterior of one trait's parameters as the sampler takes it: priors, transforms, gradient.

Each parameter has a row of ``PRIORS``; the sampled vector holds the rows that the data can speak
of, unconstrained. What it is the posterior of is specified in ``models.tendency.model``, in words,
formulas and PyMC; tests compare the two.
"""

import functools
import math
from collections.abc import Mapping
from typing import Any

import numba
import numpy as np

from models.arrays import Floats, Indices
from models.sampling.packing import field, packed, whole
from models.sampling.sampler import (
    DENSITY_SIGNATURE,
    Compiled,
    LogDensity,
    MachineCode,
    answered,
    asked,
    peak,
)
from models.tendency.data import TraitSeries
from models.tendency.likelihood import EFFECT_SD, FIXED, JUMP_RATE, SquadRows, squad_loglik
from models.traits import Prior

NORMAL, HALF_NORMAL, SOFT, BETA, LOG_NORMAL, ABSENT = range(6)
"""Kinds of prior: Normal(a, b); HalfNormal(b), sampled on the log scale; the same, sampled as the
mean of the positive part of a normal; Beta(a, b); exp Normal(log a, b); not there.

An SD that may well be 0 is b E[max(w + Z, 0)], Z ~ Normal(0, 1), of the sampled w: w itself where
it is large, and so steep towards 0 that the prior of w has normal tails on both sides. The log
scale has a long tail there; the size of a normal has two mirrored halves, and paths that run from
one to the other leave the size as it was. Baselines are known far better than players differ, so
their spread has a wall towards 0, which the log scale moves away."""

HALF_YEAR_WEEKS = 26.0

LOG_SHOT_SD_MEAN_SD = 0.5
"""Prior SD of the squad's mean log shot SD around the trait table's value."""
LOG_SPREAD_SD = 0.5
"""Prior SD of the log of how far players differ in log shot SD. It keeps away from 0: players do
differ, and one cannot tell how much from a few."""
ALIKE_PRIOR = (2.0, 7.0)
"""Beta prior of the correlation of neighbouring days: mean .33, nine in ten below .68."""
JUMP_CHANCE_PRIOR = (9.0, 3.0)
"""Beta prior of the chance that a player's trait changes unlogged within half a year (estimate,
no source). A few months of a squad hardly tell it. Lower ones took a step of two session SDs for
noise; higher ones called a change likelier than not in every other player who stood still."""
JUMP_SD_OF_CHANGE, LOG_JUMP_SD = 1.7, 0.3
"""Prior median of the jump SD in units of the trait's change scale, and the SD of its log."""
DRILL_SCALE_OF_CHANGE, LOG_DRILL_SCALE = 0.7, 0.5
"""The same of the SD of drills' mean effects, which a drill that nobody has tried is drawn from."""
EFFECT_SD_OF_CHANGE = 0.5
"""Half-normal scale of how far players differ in what a drill does to them, likewise."""

WIDEST = 1.0
"""Largest variance that the curvature at the mode is believed: about a prior's. Where one player's
few sessions leave a flat mode, wider steps met the funnel behind it."""

NAMES = (
    "mu", "spread", "drift", "session_sd", "day_alike", "log_shot_mean", "log_shot_spread",
    "effect_sd", "jump_sd", "jump_chance",
)  # fmt: skip
"""Parameters before the biases and drills, in the order of ``models.tendency.likelihood``."""


FAR_BELOW = -12.0
"""Where the leading terms of a normal's tail are as good as ``erfc``: to 1e-3 and better."""
SQRT_2, SQRT_2PI = math.sqrt(2.0), math.sqrt(2.0 * math.pi)

type Row = tuple[int, float, float]


def _rows(prior: Prior) -> list[Row]:
    """Return kind, a and b of the parameters ``NAMES``, then of the drill scale."""
    change = prior.change_scale
    return [
        (NORMAL, prior.mean, prior.mean_sd),
        (HALF_NORMAL, 0.0, prior.between_scale),
        (SOFT, 0.0, prior.drift_scale),
        (SOFT, 0.0, prior.session_scale),
        (BETA, *ALIKE_PRIOR),
        (NORMAL, float(np.log(prior.shot_sd)), LOG_SHOT_SD_MEAN_SD),
        (LOG_NORMAL, prior.log_shot_sd_spread, LOG_SPREAD_SD),
        (SOFT, 0.0, EFFECT_SD_OF_CHANGE * change),
        (LOG_NORMAL, JUMP_SD_OF_CHANGE * change, LOG_JUMP_SD),
        (BETA, *JUMP_CHANCE_PRIOR),
        (LOG_NORMAL, DRILL_SCALE_OF_CHANGE * change, LOG_DRILL_SCALE),
    ]


def prior_rows(
    prior: Prior, series: TraitSeries, without: frozenset[str] = frozenset()
) -> tuple[Indices, Floats, Floats]:
    """Return kind, a and b of every parameter: ``NAMES``, biases, drills' means, drill scale.

    What the data cannot speak of is absent: nobody with two sessions cannot show a drift, a trait
    without logged changes has no drills. ``without`` names those of ``NAMES`` that are left out
    besides and are 0, which makes a plainer model.
    """
    *rows, drill_scale = _rows(prior)
    absent = (ABSENT, 0.0, 0.0)
    if not series.moving:
        for name in ("drift", "day_alike", "jump_sd", "jump_chance"):
            rows[NAMES.index(name)] = absent
        # a player's one session cannot tell baseline from day: both may be 0, not their sum
        rows[NAMES.index("spread")] = (SOFT, 0.0, prior.between_scale)
    if not series.groups.size:
        rows[EFFECT_SD] = drill_scale = absent
    rows = [absent if n in without else row for n, row in zip(NAMES, rows, strict=True)]
    biases = [(NORMAL, 0.0, prior.bias_scale)] * (series.reading2.size - 1)
    drills = [(NORMAL, 0.0, 1.0)] * series.groups.size
    kinds, a, b = zip(*rows, absent, *biases, *drills, drill_scale, strict=True)
    return np.array(kinds, dtype=np.int64), np.array(a), np.array(b)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def positive_part(v: float) -> Any:
    """Return E[max(v + Z, 0)] of a standard normal Z, its slope P(Z < v), and the slope's log's.

    The distribution function is erfc; far below 0 the leading terms of its tail (Abramowitz &
    Stegun 26.2.12) stand in for what erfc can no longer tell apart from 0.
    """
    density = np.exp(-0.5 * v * v) / SQRT_2PI
    if v > FAR_BELOW:
        below = 0.5 * math.erfc(-v / SQRT_2)
        return v * below + density, below, density / below
    far = 1.0 / (v * v)
    below = -density / v * (1.0 - far + 3.0 * far * far)
    return density * far * (1.0 - 3.0 * far), below, -v - (1.0 - 2.0 * far) / v


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def natural(
    x: Floats, place: Indices, kind: Indices, a: Floats, b: Floats, par: Floats, slope: Floats
) -> Any:
    """Fill parameters and their derivatives by ``x``; return log prior with its derivative.

    The log prior is of the unconstrained vector, up to a constant.
    """
    total, d_prior = 0.0, np.empty(x.size)
    par[:] = 0.0
    for i in range(x.size):
        j = place[i]
        v = x[i]
        if kind[j] == NORMAL:
            par[j], slope[i] = a[j] + b[j] * v, b[j]
            total -= 0.5 * v * v
            d_prior[i] = -v
        elif kind[j] == HALF_NORMAL:
            e = np.exp(v)
            par[j], slope[i] = b[j] * e, b[j] * e
            total += v - 0.5 * e * e
            d_prior[i] = 1.0 - e * e
        elif kind[j] == SOFT:
            size, below, pull = positive_part(v)
            par[j], slope[i] = b[j] * size, b[j] * below
            total += np.log(below) - 0.5 * size * size
            d_prior[i] = pull - size * below
        elif kind[j] == LOG_NORMAL:
            par[j] = a[j] * np.exp(b[j] * v)
            slope[i] = b[j] * par[j]
            total -= 0.5 * v * v
            d_prior[i] = -v
        else:
            share = 1.0 / (1.0 + np.exp(-v))
            par[j], slope[i] = share, share * (1.0 - share)
            total -= a[j] * np.log1p(np.exp(-v)) + b[j] * np.log1p(np.exp(v))
            d_prior[i] = a[j] * (1.0 - share) - b[j] * share
    return total, d_prior


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def log_posterior(
    x: Floats,
    place: Indices,
    kind: Indices,
    a: Floats,
    b: Floats,
    drills: int,
    squad: SquadRows,
) -> Any:
    """Return the log posterior of the unconstrained vector and its gradient."""
    gradient = np.zeros(x.size)
    for i in range(x.size):
        if not abs(x[i]) < 40.0:
            return -np.inf, gradient
    par, slope = np.zeros(kind.size), np.empty(x.size)
    total, gradient = natural(x, place, kind, a, b, par, slope)
    last = kind.size - 1
    raw = par[last - drills : last].copy()
    chance = par[JUMP_RATE]
    left = max(1.0 - chance, 1e-12)  # a chance is 1 in floating point from an unconstrained 37 on
    par[JUMP_RATE] = -np.log1p(-min(chance, 1.0 - 1e-12)) / HALF_YEAR_WEEKS
    for g in range(drills):
        par[last - drills + g] = par[last] * raw[g]
    value, d_par = squad_loglik(par[:last], squad)
    by_scale = 0.0
    for g in range(drills):
        by_scale += d_par[last - drills + g] * raw[g]
        d_par[last - drills + g] *= par[last]
    d_par[JUMP_RATE] /= left * HALF_YEAR_WEEKS
    for i in range(x.size):
        j = place[i]
        gradient[i] += slope[i] * (by_scale if j == last else d_par[j])
    if not np.isfinite(value):
        return -np.inf, np.zeros(x.size)
    return total + value, gradient


FIELDS = ("place", "kind", "a", "b", "drills", *SquadRows._fields)
"""What ``log_posterior`` takes after the vector, in order, as it is packed for the sampler."""
(
    AT_PLACE, AT_KIND, AT_A, AT_B, AT_DRILLS, AT_FIRST, AT_GAP, AT_COUNT, AT_MEAN, AT_SCATTER,
    AT_SCATTER_DF, AT_READING2, AT_MISSED, AT_CENTRE, AT_HALF, AT_OTHER_INSIDE, AT_BEST,
    AT_INFORMATION, AT_CHANGE_FIRST, AT_CHANGE_AT, AT_CHANGE_GROUP,
) = range(len(FIELDS))  # fmt: skip


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def packed_log_posterior(x: Floats, data: Floats) -> Any:
    """Return ``log_posterior`` of what ``FIELDS`` were packed to."""
    reading2 = field(data, AT_READING2)
    methods = reading2.size
    squad = SquadRows(
        whole(data, AT_FIRST),
        field(data, AT_GAP),
        field(data, AT_COUNT).reshape((-1, methods)),
        field(data, AT_MEAN).reshape((-1, methods)),
        field(data, AT_SCATTER).reshape((-1, methods)),
        field(data, AT_SCATTER_DF).reshape((-1, methods)),
        reading2,
        field(data, AT_MISSED),
        field(data, AT_CENTRE),
        field(data, AT_HALF)[0],
        field(data, AT_OTHER_INSIDE),
        field(data, AT_BEST),
        field(data, AT_INFORMATION),
        whole(data, AT_CHANGE_FIRST),
        whole(data, AT_CHANGE_AT),
        whole(data, AT_CHANGE_GROUP),
    )
    return log_posterior(
        x,
        whole(data, AT_PLACE),
        whole(data, AT_KIND),
        field(data, AT_A),
        field(data, AT_B),
        int(field(data, AT_DRILLS)[0]),
        squad,
    )


def _answer(size: int, vector: Any, gradient: Any, log_density: Any, held: Any) -> Any:
    x, data = asked(size, vector, held)
    value, slope = packed_log_posterior(x, data)
    return answered(size, value, slope, held, gradient, log_density)


@functools.cache
def _callback() -> MachineCode:
    """Return the posterior as the sampler calls it, compiled when first asked for."""
    code: MachineCode = numba.cfunc(DENSITY_SIGNATURE, cache=True)(_answer)
    return code


def tendency_target(
    series: TraitSeries, prior: Prior, without: frozenset[str] = frozenset()
) -> LogDensity:
    """Return the posterior of one trait's parameters; of those alone that the data speak of.

    ``without`` names parameters to leave out, as ``prior_rows`` takes them: for comparisons with
    plainer models, not for fits.

    It is sampled around its mode along the axes of the curvature there, in units of their SDs, none
    wider than a prior, so that the sampler has little left to adapt to.

    Named: ``NAMES``, ``bias`` (method,), ``group_effect`` (group,), the mean effect of each group
    of changes, and ``drill_scale``; what is not there is left out.
    """
    kind, a, b = prior_rows(prior, series, without)
    place = np.flatnonzero(kind != ABSENT)
    drills, methods = series.groups.size, series.reading2.size
    squad = series.rows()

    def log_density(x: Floats) -> tuple[float, Floats]:
        value, gradient = log_posterior(x, place, kind, a, b, drills, squad)
        return value, gradient

    def named(x: Floats) -> Mapping[str, Floats]:
        flat = np.ascontiguousarray(x).reshape(-1, place.size)
        rows = np.empty((len(flat), kind.size))
        slope = np.empty(place.size)
        for row, one in zip(rows, flat, strict=True):
            natural(one, place, kind, a, b, row, slope)
        rows = rows.reshape(*np.shape(x)[:-1], kind.size)
        found = {n: rows[..., i] for i, n in enumerate(NAMES) if kind[i] != ABSENT}
        if methods > 1:
            found["bias"] = rows[..., FIXED + 1 : FIXED + methods]
        if drills:
            found["drill_scale"] = rows[..., -1]
            found["group_effect"] = rows[..., -1:] * rows[..., -1 - drills : -1]
        return found

    plain = LogDensity(place.size, log_density, named, _start(series, kind, place, a, b))
    top = peak(plain)
    values = (place, kind, a, b, drills, *squad)
    return LogDensity(
        plain.size,
        log_density,
        named,
        top.point,
        top.axes(WIDEST),
        Compiled(_callback(), packed(FIELDS, dict(zip(FIELDS, values, strict=True)))),
    )


def _start(series: TraitSeries, kind: Indices, place: Indices, a: Floats, b: Floats) -> Floats:
    """Return a plain start: the readings' mean, the scatter's SD, SDs below their prior scales."""
    full = np.where(kind == SOFT, 0.5, np.where(kind == HALF_NORMAL, -0.5, 0.0))
    full[kind == BETA] = -1.0
    seen = series.count.sum()
    if seen:
        full[0] = np.clip(((series.count * series.mean).sum() / seen - a[0]) / b[0], -5, 5)
    df = series.scatter_df.sum()
    if df:
        sd = np.sqrt(max(series.scatter.sum() / df, 1e-6))
        full[NAMES.index("log_shot_mean")] = np.clip((np.log(sd) - a[5]) / b[5], -5, 5)
    return np.asarray(full[place], dtype=np.float64)


def prior_draws(prior: Prior, number: int, rng: np.random.Generator) -> Mapping[str, Floats]:
    """Return prior draws of ``NAMES`` and ``drill_scale``, each (number,)."""
    found = {}
    for name, (kind, a, b) in zip((*NAMES, "drill_scale"), _rows(prior), strict=True):
        if kind == NORMAL:
            found[name] = rng.normal(a, b, number)
        elif kind in (HALF_NORMAL, SOFT):
            found[name] = np.abs(rng.normal(0, b, number))
        elif kind == LOG_NORMAL:
            found[name] = a * np.exp(b * rng.standard_normal(number))
        else:
            found[name] = rng.beta(a, b, number)
    return found
