"""Series whose neighbouring days resemble one another: likelihood, gradient, draws of the levels.

As in ``models.local_level``, but the days' effects u are autoregressive by order of session:

    level_s = m0 + walk: variance v0 at the first session, drift^2 a week after it
    mean_s  ~ Normal(level_s + u_s, var_s)        skipped where ``var_s`` is infinite
    Cov(u_i, u_j) = session_sd^2 * alike^|i - j|  i, j count the sessions that were read

The session means are jointly Normal with covariance C, so that with Q = C^-1 and a = Q (mean - m0)
the derivative by any number in C is the sum of (a a' - Q)/2 times the derivative of C (Rasmussen &
Williams 2006, Gaussian Processes for Machine Learning, eq. 5.9), and levels are drawn by
conditioning a joint draw (Hoffman & Ribak 1991, Astrophys. J. 380:L5). The cost grows with the cube
of the number of sessions of one player: use it where the days ask for it.
"""

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LOG_2PI = float(np.log(2 * np.pi))


def _invert(cov: Floats, inverse: Floats) -> float:
    """Fill the inverse of a covariance, which is overwritten; return its log determinant."""
    n = cov.shape[0]
    log_det = 0.0
    for j in range(n):
        for k in range(j):
            cov[j, j] -= cov[j, k] * cov[j, k]
        cov[j, j] = np.sqrt(cov[j, j])
        log_det += 2.0 * np.log(cov[j, j])
        for i in range(j + 1, n):
            for k in range(j):
                cov[i, j] -= cov[i, k] * cov[j, k]
            cov[i, j] /= cov[j, j]
    root = np.zeros((n, n))
    for j in range(n):
        root[j, j] = 1.0 / cov[j, j]
        for i in range(j + 1, n):
            total = 0.0
            for k in range(j, i):
                total -= cov[i, k] * root[k, j]
            root[i, j] = total / cov[i, i]
    for i in range(n):
        for j in range(i + 1):
            total = 0.0
            for k in range(i, n):
                total += root[k, i] * root[k, j]
            inverse[i, j] = inverse[j, i] = total
    return log_det


invert = numba.njit(cache=True, nogil=True)(_invert)


def _seen_weeks(var: Floats, gap: Floats) -> Any:
    """Return the places of the sessions that were read and the weeks of all since the first."""
    size = 0
    for s in range(var.size):
        size += var[s] < np.inf
    places = np.empty(size, dtype=np.int64)
    weeks = np.empty(var.size)
    now, i = 0.0, 0
    for s in range(var.size):
        now += gap[s]
        weeks[s] = now
        if var[s] < np.inf:
            places[i] = s
            i += 1
    return places, weeks


seen_weeks = numba.njit(cache=True, nogil=True)(_seen_weeks)


def _covariance(
    places: NDArray[np.int64],
    weeks: Floats,
    var: Floats,
    drift2: float,
    v0: float,
    session2: float,
    alike: float,
) -> Floats:
    """Return the covariance of the session means that were read."""
    n = places.size
    cov = np.empty((n, n))
    for i in range(n):
        for j in range(i + 1):
            walk = v0 + drift2 * weeks[places[j]]
            cov[i, j] = cov[j, i] = walk + session2 * alike ** (i - j)
        cov[i, i] += var[places[i]]
    return cov


covariance = numba.njit(cache=True, nogil=True)(_covariance)


def _alike_series(
    mean: Floats,
    var: Floats,
    gap: Floats,
    drift2: float,
    m0: float,
    v0: float,
    session2: float,
    alike: float,
    d_mean: Floats,
    d_var: Floats,
) -> Any:
    """Return the log likelihood of one series and its derivatives by the five numbers.

    ``mean``, ``var`` (of shots and readings alone) and ``gap`` have shape ``(session,)``. Fills
    ``d_mean`` and ``d_var``, 0 where nothing was observed.
    """
    places, weeks = seen_weeks(var, gap)
    n = places.size
    for s in range(mean.size):
        d_mean[s] = d_var[s] = 0.0
    if n == 0:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    inverse = np.empty((n, n))
    log_det = invert(covariance(places, weeks, var, drift2, v0, session2, alike), inverse)
    total = -0.5 * (n * _LOG_2PI + log_det)
    pull = np.zeros(n)
    for i in range(n):
        for j in range(n):
            pull[i] += inverse[i, j] * (mean[places[j]] - m0)
        total -= 0.5 * pull[i] * (mean[places[i]] - m0)
    d_drift2, d_m0, d_v0, d_session2, d_alike = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        d_m0 += pull[i]
        d_mean[places[i]] = -pull[i]
        for j in range(n):
            g = 0.5 * (pull[i] * pull[j] - inverse[i, j])
            lag = abs(i - j)
            d_v0 += g
            d_drift2 += g * weeks[places[min(i, j)]]
            d_session2 += g * alike**lag
            if lag > 0:
                d_alike += g * session2 * lag * alike ** (lag - 1)
            else:
                d_var[places[i]] = g
    return total, d_drift2, d_m0, d_v0, d_session2, d_alike


alike_series = numba.njit(cache=True, nogil=True)(_alike_series)


def _held_out_series(
    mean: Floats,
    var: Floats,
    gap: Floats,
    drift2: float,
    m0: float,
    v0: float,
    session2: float,
    alike: float,
) -> Floats:
    """Return each session's log density given all the other sessions, NaN where nothing was read.

    Row i of C^-1 holds the regression of session i on the others (Sundararajan & Keerthi 2001,
    Neural Comput. 13:1103): its residual is a_i / Q_ii and its variance 1 / Q_ii.
    """
    places, weeks = seen_weeks(var, gap)
    n = places.size
    found = np.full(mean.size, np.nan)
    inverse = np.empty((n, n))
    invert(covariance(places, weeks, var, drift2, v0, session2, alike), inverse)
    for i in range(n):
        pull = 0.0
        for j in range(n):
            pull += inverse[i, j] * (mean[places[j]] - m0)
        q = inverse[i, i]
        found[places[i]] = 0.5 * (np.log(q) - _LOG_2PI - pull * pull / q)
    return found


held_out_series = numba.njit(cache=True, nogil=True)(_held_out_series)


def _draw_alike_levels(
    mean: Floats,
    var: Floats,
    gap: Floats,
    drift2: Floats,
    m0: Floats,
    v0: Floats,
    session2: Floats,
    alike: Floats,
    noise: Floats,
) -> Floats:
    """Draw the hidden levels of one player and trait.

    One set of parameters a draw: ``mean`` and ``var`` have shape ``(sample, session)``, the
    numbers ``(sample,)``; ``noise`` holds standard normal draws, ``(3, sample, session)``.
    Sessions that were read are the same in every draw. Returns levels ``(sample, session)``.
    """
    samples, sessions = mean.shape
    places, weeks = seen_weeks(var[0], gap)
    n = places.size
    level = np.empty((samples, sessions))
    inverse, wrong, pull = np.empty((n, n)), np.empty(n), np.empty(n)
    for d in range(samples):
        value = m0[d] + np.sqrt(v0[d] + drift2[d] * gap[0]) * noise[0, d, 0]
        level[d, 0] = value
        for s in range(1, sessions):
            value += np.sqrt(drift2[d] * gap[s]) * noise[0, d, s]
            level[d, s] = value
        day, fresh = 0.0, 1.0
        for i in range(n):
            s = places[i]
            day = alike[d] * day + fresh * np.sqrt(session2[d]) * noise[1, d, s]
            fresh = np.sqrt(1.0 - alike[d] * alike[d])
            wrong[i] = mean[d, s] - level[d, s] - day - np.sqrt(var[d, s]) * noise[2, d, s]
        cov = covariance(places, weeks, var[d], drift2[d], v0[d], session2[d], alike[d])
        invert(cov, inverse)
        for i in range(n):
            pull[i] = 0.0
            for j in range(n):
                pull[i] += inverse[i, j] * wrong[j]
        for s in range(sessions):
            for i in range(n):
                walk = v0[d] + drift2[d] * min(weeks[s], weeks[places[i]])
                level[d, s] += walk * pull[i]
    return level


draw_alike_levels = numba.njit(cache=True, nogil=True)(_draw_alike_levels)
