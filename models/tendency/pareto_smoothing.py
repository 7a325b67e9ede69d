"""Pareto smoothed importance weights, and how far they can be trusted.

The largest importance ratios are replaced by the expected order statistics of a generalised Pareto
distribution fitted to them; its shape k-hat says whether the weighted draws can stand in for draws
of the new posterior (Vehtari, Simpson, Gelman, Yao & Gabry 2024, J. Mach. Learn. Res. 25:72). The
shape is fitted by the empirical Bayes estimate of Zhang & Stephens 2009 (Technometrics 51:316),
with the weak prior of the former paper that draws it to 0.5.
"""

import numpy as np
from scipy.special import logsumexp

from models.arrays import Floats

MOST_K = 0.7
"""Largest shape at which the weighted draws are usable (Vehtari et al. 2024, section 3)."""

LEAST_TAIL = 5
PRIOR_DRAWS, PRIOR_SHAPE = 10, 0.5


def smoothed_log_weights(log_ratio: Floats) -> tuple[Floats, float]:
    """Return normalised log weights and k-hat from log importance ratios, shape ``(sample,)``.

    Ratios that do not differ need no smoothing: k-hat is then minus infinity. With too few draws
    for a tail, or one that cannot be fitted, k-hat is infinite.
    """
    samples = log_ratio.size
    weights = np.asarray(log_ratio - log_ratio.max(), dtype=np.float64)
    if float(np.ptp(weights)) < 1e-12:
        return np.full(samples, -np.log(samples)), -np.inf
    tail = int(min(np.floor(samples / 5), np.floor(3 * np.sqrt(samples))))
    if tail < LEAST_TAIL:
        return weights - logsumexp(weights), np.inf
    order = np.argsort(weights)
    largest = order[-tail:]
    cutoff = float(np.exp(weights[order[-tail - 1]]))
    shape, scale = _fitted(np.exp(weights[largest]) - cutoff)
    if np.isfinite(shape) and scale > 0:
        middle = np.arange(0.5, tail) / tail
        smooth = np.log(cutoff + _quantile(middle, shape, scale))
        weights[largest] = np.minimum(smooth, 0.0)
    return weights - logsumexp(weights), shape


def effective_draws(log_weight: Floats) -> float:
    """Return how many equally weighted draws the weighted ones are worth (Kish 1965)."""
    return float(np.exp(-logsumexp(2 * log_weight)))


def _fitted(excess: Floats) -> tuple[float, float]:
    """Return shape and scale of a generalised Pareto of sorted exceedances."""
    size = excess.size
    quarter = excess[int(size / 4 + 0.5) - 1]
    if quarter <= excess[0]:
        return np.inf, np.nan
    points = 30 + int(np.sqrt(size))
    rate = (1 - np.sqrt(points / (np.arange(1, points + 1) - 0.5))) / (3 * quarter)
    rate += 1 / excess[-1]
    shape = np.log1p(-rate[:, None] * excess).mean(axis=1)
    profile = size * (np.log(-rate / shape) - shape - 1)
    weight = np.exp(profile - logsumexp(profile))
    mean_rate = float((weight * rate).sum() / weight.sum())
    fitted = float(np.log1p(-mean_rate * excess).mean())
    scale = -fitted / mean_rate
    fitted = (size * fitted + PRIOR_DRAWS * PRIOR_SHAPE) / (size + PRIOR_DRAWS)
    return (fitted, scale) if np.isfinite(fitted) else (np.inf, np.nan)


def _quantile(probability: Floats, shape: float, scale: float) -> Floats:
    if abs(shape) < 1e-12:
        return np.asarray(-scale * np.log1p(-probability))
    return np.asarray(scale * np.expm1(-shape * np.log1p(-probability)) / shape)
