"""The compiled sweep behind the surrogate: many seasons, each look weighed in turn.

What is computed is stated in ``models.tendency.surrogate``, in its letters: C combinations of
parts, J draws, S sessions, Y seasons, L looks.
"""

import math

import numba
import numpy as np
from scipy.special import ndtr

from models.arrays import Floats, Indices

NEGLIGIBLE = 1e-6
"""A component of less weight adds nothing to a chance."""
FAR, FINE = 8.0, 256.0
"""Where the table of the normal distribution function ends, and its steps per unit."""
_NORMAL = ndtr(np.arange(-FAR, FAR + 0.5 / FINE, 1 / FINE))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _above(z: float) -> float:
    """Return the standard normal distribution function, read off a table to 5e-7."""
    place = (z + FAR) * FINE
    if place <= 0.0:
        return 0.0
    if place >= _NORMAL.size - 1:
        return 1.0
    low = int(place)
    share = place - low
    return float(_NORMAL[low] + share * (_NORMAL[low + 1] - _NORMAL[low]))


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def _log_weights(
    score: Floats, none: float, front: Floats, shrink: Floats, weight: Floats, upto: int
) -> float:
    """Fill the shares of the components, that of no unlogged change last.

    Returns the log of the likelihood ratio that they bring.
    """
    sessions, sizes = front.shape
    top = 0.0
    for x in range(upto):
        if front[x, sizes - 1] > 0.0:  # what cannot be does not set the scale
            top = max(top, 0.5 * score[x] * score[x] * shrink[x, sizes - 1])
    total = weight[sessions, 0] = none * math.exp(-top)
    for x in range(upto):
        half = 0.5 * score[x] * score[x]
        for v in range(sizes):
            weight[x, v] = 0.0
            if front[x, v] > 0.0:
                weight[x, v] = front[x, v] * math.exp(half * shrink[x, v] - top)
                total += weight[x, v]
    weight[sessions, 0] /= total
    for x in range(upto):
        for v in range(sizes):
            weight[x, v] /= total
    return top + math.log(total)


@numba.njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def judge_looks(
    means: Floats,
    read_mean: Floats,
    whiten: Floats,
    turned: Floats,
    log_size: Floats,
    uptos: Indices,
    given: int,
    base: Floats,
    base_var: Floats,
    pull: Floats,
    reach: Floats,
    none: Floats,
    front: Floats,
    shrink: Floats,
    edges: Floats,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return the fields of ``surrogate.Posterior`` for seasons of session means.

    ``means`` (Y, S), ``uptos`` (L,), ``edges`` (edge,). Of the season itself ``read_mean``,
    ``whiten``, ``turned`` and ``log_size`` are fields of ``surrogate.Season``. By look, and last
    for the first ``given`` sessions: ``none`` (L + 1, J), ``front`` and ``shrink``
    (L + 1, C, J, S, size). By look alone: ``base`` (L, J), ``base_var`` (L, C, J), ``pull`` and
    ``reach`` (L, C, J, S).
    """
    seasons, sessions = means.shape
    combinations, draws = log_size.shape[:2]
    looks, sizes = uptos.size, front.shape[4]
    above = np.zeros((seasons, looks, edges.size))
    mean, variance = np.zeros((seasons, looks)), np.zeros((seasons, looks))
    unlogged = np.zeros((seasons, looks, sessions))
    evidence = np.empty((seasons, looks, combinations, draws))
    z = np.empty((combinations, draws, sessions))
    weight = np.zeros((combinations, draws, sessions + 1, sizes))
    score = np.empty((combinations, draws, sessions))
    base_told = np.empty((combinations, draws))
    earlier = np.zeros(draws)
    lead, wide = np.zeros(front[:looks].shape), np.ones(front[:looks].shape)
    for place in range(looks):  # what is the same of every season
        for c in range(combinations):
            for j in range(draws):
                for x in range(uptos[place]):
                    h = reach[place, c, j, x]
                    for v in range(sizes):
                        lead[place, c, j, x, v] = h * shrink[place, c, j, x, v]
                        wide[place, c, j, x, v] = (
                            base_var[place, c, j] + h * lead[place, c, j, x, v]
                        )
    per_sd = 1.0 / np.sqrt(wide)
    last = max(given, uptos[-1])  # looks come in the order of their sessions
    for y in range(seasons):
        for c in range(combinations):
            for j in range(draws):
                for s in range(last):
                    total = 0.0
                    for t in range(s + 1):
                        total += whiten[c, j, s, t] * (means[y, t] - read_mean[j, t])
                    z[c, j, s] = total
        score[:] = 0.0
        base_told[:] = 0.0
        done = 0
        for place in range(-1 if given > 0 else 0, looks):
            chosen = looks if place < 0 else place
            upto = given if place < 0 else uptos[place]
            top = -np.inf
            for c in range(combinations):
                for j in range(draws):
                    for s in range(done, upto):
                        value = z[c, j, s]
                        base_told[c, j] += log_size[c, j, s] - 0.5 * value * value
                        for x in range(s + 1):
                            score[c, j, x] += turned[c, j, s, x] * value
                    told = base_told[c, j] + _log_weights(
                        score[c, j], none[chosen, j], front[chosen, c, j], shrink[chosen, c, j],
                        weight[c, j], upto,
                    )  # fmt: skip
                    if place < 0:
                        evidence[y, 0, c, j] = told
                    else:
                        evidence[y, place, c, j] = told
                        top = max(top, told - earlier[j])
            done = upto
            if place < 0:
                for j in range(draws):
                    best, total = -np.inf, 0.0
                    for c in range(combinations):
                        best = max(best, evidence[y, 0, c, j])
                    for c in range(combinations):
                        total += math.exp(evidence[y, 0, c, j] - best)
                    earlier[j] = best + math.log(total)
                continue
            whole = 0.0
            for c in range(combinations):
                for j in range(draws):
                    whole += math.exp(evidence[y, place, c, j] - earlier[j] - top)
            first = second = 0.0
            for c in range(combinations):
                for j in range(draws):
                    share = math.exp(evidence[y, place, c, j] - earlier[j] - top) / whole
                    if share < NEGLIGIBLE:
                        continue
                    centre, var = base[place, j], base_var[place, c, j]
                    for s in range(upto):
                        centre += pull[place, c, j, s] * z[c, j, s]
                    part = share * weight[c, j, sessions, 0]
                    sd = math.sqrt(var)
                    for e in range(edges.size):
                        above[y, place, e] += part * _above((centre - edges[e]) / sd)
                    first += part * centre
                    second += part * (centre * centre + var)
                    for x in range(upto):
                        for v in range(sizes):
                            part = share * weight[c, j, x, v]
                            unlogged[y, place, x] += part
                            if weight[c, j, x, v] < NEGLIGIBLE:
                                continue
                            moved = centre + lead[place, c, j, x, v] * score[c, j, x]
                            scale = per_sd[place, c, j, x, v]
                            for e in range(edges.size):
                                above[y, place, e] += part * _above((moved - edges[e]) * scale)
                            first += part * moved
                            second += part * (moved * moved + wide[place, c, j, x, v])
            mean[y, place] = first
            variance[y, place] = second - first * first
    return above, mean, variance, unlogged, evidence
