"""The marginal likelihood of a squad's session summaries with its gradient, in one sweep.

One compiled function in place of some hundred array operations: the sampler's compile time falls
by tens of seconds and a gradient costs two passes over the sessions. The equations are those of
``models.tendency``; the derivatives are worked by hand and checked against finite differences.
"""

from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

from models.alike_days import alike_series
from models.local_level import adjoint_series, filter_series

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


def _squad_loglik(
    mu: Floats,
    spread: Floats,
    drift: Floats,
    session_sd: Floats,
    log_shot_sd: Floats,
    bias: Floats,
    effect: Floats,
    alike: Floats,
    count: Floats,
    mean: Floats,
    scatter: Floats,
    scatter_df: Floats,
    reading_sd: Floats,
    gap: Floats,
    effect_player: Indices,
    effect_trait: Indices,
    started: Floats,
) -> Any:
    """Return the log likelihood and its derivatives by the first eight arguments.

    Shapes: mu, spread, drift, session_sd (trait,); log_shot_sd (player, trait); bias and
    reading_sd (method, trait); effect (effect,); alike (trait,), the correlation of neighbouring
    sessions' effects, 0 where days have nothing to do with one another; count and mean
    (method, player, session, trait); scatter and scatter_df (method, player, trait); gap
    (player, session); started (effect, session), 1 once the change has started.
    """
    methods, players, sessions, traits = count.shape
    d_mu, d_spread = np.zeros(traits), np.zeros(traits)
    d_drift, d_session = np.zeros(traits), np.zeros(traits)
    d_log_shot = np.zeros((players, traits))
    d_bias = np.zeros((methods, traits))
    d_effect = np.zeros(effect.size)
    d_alike = np.zeros(traits)
    pooled, var = np.empty(sessions), np.empty(sessions)
    error, precision, gain = np.zeros(sessions), np.zeros(sessions), np.zeros(sessions)
    d_pooled, d_var = np.empty(sessions), np.empty(sessions)
    weight_sum, mean_sum = np.empty(sessions), np.empty(sessions)
    one_shot, d_one_shot = np.empty(methods), np.empty(methods)
    total = 0.0
    for p in range(players):
        for k in range(traits):
            shot2 = np.exp(2.0 * log_shot_sd[p, k])
            day2 = session_sd[k] ** 2
            own_day2 = 0.0 if alike[k] > 0.0 else day2
            for m in range(methods):
                v = shot2 + reading_sd[m, k] ** 2
                one_shot[m], d_one_shot[m] = v, 0.0
                df = scatter_df[m, p, k]
                if df > 0.0:
                    total -= 0.5 * (df * np.log(v) + scatter[m, p, k] / v)
                    d_one_shot[m] = -0.5 * (df - scatter[m, p, k] / v) / v
            for s in range(sessions):
                w_sum, y_sum = 0.0, 0.0
                for m in range(methods):
                    if count[m, p, s, k] > 0.0:
                        w = count[m, p, s, k] / one_shot[m]
                        w_sum += w
                        y_sum += w * (mean[m, p, s, k] - bias[m, k])
                weight_sum[s], mean_sum[s] = w_sum, 0.0
                pooled[s], var[s] = 0.0, np.inf
                if w_sum > 0.0:
                    mean_sum[s] = y_sum / w_sum
                    pooled[s] = mean_sum[s]
                    var[s] = 1.0 / w_sum + own_day2
            for i in range(effect.size):
                if effect_player[i] == p and effect_trait[i] == k:
                    for s in range(sessions):
                        pooled[s] -= effect[i] * started[i, s]
            drift2, spread2 = drift[k] ** 2, spread[k] ** 2
            if alike[k] > 0.0:
                found = alike_series(
                    pooled, var, gap[p], drift2, mu[k], spread2, day2, alike[k], d_pooled, d_var
                )
                loglik, by_drift2, by_mu, by_spread2, by_day2, by_alike = found
                total += loglik
                d_session[k] += 2.0 * session_sd[k] * by_day2
                d_alike[k] += by_alike
            else:
                total += filter_series(
                    pooled, var, gap[p], drift2, mu[k], spread2, error, precision, gain
                )
                by_drift2, by_mu, by_spread2 = adjoint_series(
                    gap[p], error, precision, gain, d_pooled, d_var
                )
                d_session[k] += 2.0 * session_sd[k] * d_var.sum()
            d_mu[k] += by_mu
            d_spread[k] += 2.0 * spread[k] * by_spread2
            d_drift[k] += 2.0 * drift[k] * by_drift2
            for i in range(effect.size):
                if effect_player[i] == p and effect_trait[i] == k:
                    for s in range(sessions):
                        d_effect[i] -= d_pooled[s] * started[i, s]
            for s in range(sessions):
                w_sum = weight_sum[s]
                if w_sum <= 0.0:
                    continue
                several = 0
                for m in range(methods):
                    several += count[m, p, s, k] > 0.0
                if several > 1:
                    total -= 0.5 * np.log(w_sum)
                for m in range(methods):
                    if count[m, p, s, k] <= 0.0:
                        continue
                    w = count[m, p, s, k] / one_shot[m]
                    apart = mean[m, p, s, k] - bias[m, k] - mean_sum[s]
                    d_w = d_pooled[s] * apart / w_sum - d_var[s] / (w_sum * w_sum)
                    d_bias[m, k] -= d_pooled[s] * w / w_sum
                    if several > 1:
                        total += 0.5 * (np.log(w) - w * apart * apart)
                        d_w += 0.5 * (1.0 / w - 1.0 / w_sum - apart * apart)
                        d_bias[m, k] += w * apart
                    d_one_shot[m] -= d_w * w / one_shot[m]
            for m in range(methods):
                d_log_shot[p, k] += 2.0 * shot2 * d_one_shot[m]
    return total, d_mu, d_spread, d_drift, d_session, d_log_shot, d_bias, d_effect, d_alike


squad_loglik = numba.njit(cache=True, nogil=True)(_squad_loglik)
