"""The local-level filter of a series: log likelihood, its gradient, draws of the hidden levels.

For a series with times t_1 < t_2 < ...:

    level_1 ~ Normal(m0, v0)
    level_s ~ Normal(level_{s-1}, drift^2 * (t_s - t_{s-1}))
    mean_s  ~ Normal(level_s, var_s)        skipped where ``var_s`` is infinite

The Kalman recursions are those of Durbin & Koopman 2012, Time Series Analysis by State Space
Methods (2nd ed.), ch. 2; the gradient is their adjoint, worked by hand, so that one sweep forward
and one back give the likelihood and all derivatives in time linear in the number of sessions.

``gap`` is weeks since the player's previous session, 0 for the first one and for padding.
"""

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LOG_2PI = float(np.log(2 * np.pi))


def _filter_series(
    mean: Floats,
    var: Floats,
    gap: Floats,
    drift2: float,
    m0: float,
    v0: float,
    error: Floats,
    precision: Floats,
    gain: Floats,
) -> float:
    """Return the log likelihood of one series and fill what its adjoint needs.

    ``mean``, ``var``, ``gap`` have shape ``(session,)``. Fills ``error`` (one-step prediction
    errors), ``precision`` (of the prediction; 0 where nothing was observed) and ``gain``.
    """
    m, v, total = m0, v0, 0.0
    for s in range(mean.size):
        v += drift2 * gap[s]
        precision[s] = 0.0
        if var[s] < np.inf:
            inverse = 1.0 / (v + var[s])
            e = mean[s] - m
            g = v * inverse
            total -= 0.5 * (_LOG_2PI - np.log(inverse) + e * e * inverse)
            error[s], precision[s], gain[s] = e, inverse, g
            m += g * e
            v = g * var[s]
    return total


def _adjoint_series(
    gap: Floats,
    error: Floats,
    precision: Floats,
    gain: Floats,
    d_mean: Floats,
    d_var: Floats,
) -> tuple[float, float, float]:
    """Return derivatives of the log likelihood by ``drift2``, ``m0``, ``v0``.

    Fills ``d_mean`` and ``d_var``, 0 where nothing was observed.
    """
    m_bar, v_bar, d_drift2 = 0.0, 0.0, 0.0
    for s in range(gap.size - 1, -1, -1):
        d_mean[s] = d_var[s] = 0.0
        inverse = precision[s]
        if inverse > 0.0:
            e, g = error[s] * inverse, gain[s]
            miss = 1.0 - g
            f_bar = 0.5 * (e * e - inverse) - g * (m_bar * e + v_bar * miss)
            d_var[s] = v_bar * g + f_bar
            v_bar = m_bar * e + v_bar * miss + f_bar
            d_mean[s] = m_bar * g - e
            m_bar -= d_mean[s]
        d_drift2 += v_bar * gap[s]
    return d_drift2, m_bar, v_bar


def _draw_levels(
    mean: Floats,
    var: Floats,
    gap: Floats,
    drift2: Floats,
    m0: Floats,
    v0: Floats,
    noise: Floats,
) -> Any:
    """Draw the hidden levels of one player by forward filtering and backward sampling.

    One set of parameters a draw: ``mean`` and ``var`` have shape ``(sample, session, trait)``,
    ``drift2``, ``m0``, ``v0`` ``(sample, trait)``; ``gap`` ``(session,)``; ``noise`` holds
    standard normal draws of the shape of ``mean``. Returns levels of that shape.
    """
    samples, sessions, traits = mean.shape
    level = np.empty((samples, sessions, traits))
    filtered_m = np.empty(sessions)
    filtered_v = np.empty(sessions)
    for i in range(samples):
        for k in range(traits):
            m, v = m0[i, k], v0[i, k]
            for s in range(sessions):
                v += drift2[i, k] * gap[s]
                if var[i, s, k] < np.inf:
                    f = v + var[i, s, k]
                    m += v / f * (mean[i, s, k] - m)
                    v = v * var[i, s, k] / f
                filtered_m[s], filtered_v[s] = m, v
            last = sessions - 1
            value = filtered_m[last] + np.sqrt(filtered_v[last]) * noise[i, last, k]
            level[i, last, k] = value
            for s in range(sessions - 2, -1, -1):
                q = drift2[i, k] * gap[s + 1]
                if q <= 0.0:
                    level[i, s, k] = value
                    continue
                back = filtered_v[s] / (filtered_v[s] + q)
                centre = filtered_m[s] + back * (value - filtered_m[s])
                spread = np.sqrt(filtered_v[s] * q / (filtered_v[s] + q))
                value = centre + spread * noise[i, s, k]
                level[i, s, k] = value
    return level


filter_series = numba.njit(cache=True, nogil=True)(_filter_series)
adjoint_series = numba.njit(cache=True, nogil=True)(_adjoint_series)
draw_levels = numba.njit(cache=True, nogil=True)(_draw_levels)
