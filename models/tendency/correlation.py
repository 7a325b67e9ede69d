"""How one shot's traits go together: each player's correlations, partially pooled.

Fisher's z of two traits within sessions, freed of reading error (Fisher 1921, Metron 1:3; Spearman
1904, Am. J. Psychol. 15:72), is Normal around the player's own, with a known variance; players lie
around the squad's mean with a spread between them. Given the spread all is normal, so that spreads
are drawn on a grid and the rest in closed form; then matrices that are none are mended by lifting
negative eigenvalues (Rebonato & Jaeckel 2000, J. Risk 2:17).
"""

import numpy as np
from numpy.typing import NDArray

from models.arrays import Floats

MEAN_SD, SPREAD_SCALE = 0.4, 0.25
"""Prior SD of the squad's mean Fisher z of two traits, half-normal scale of players' spread."""
SPREADS = (np.arange(400) + 0.5) / 400
LEAST_EIGENVALUE = 1e-4


def pair_draws(
    pair_z: Floats, pair_variance: Floats, samples: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return draws of the squad's mean Fisher z and of the spread, each (sample, pair).

    ``pair_z``, ``pair_variance`` (player, pair); an infinite variance knows nothing.
    """
    precision = 1 / (SPREADS[:, None, None] ** 2 + pair_variance)
    total = precision.sum(axis=1) + 1 / MEAN_SD**2
    centre = (precision * np.nan_to_num(pair_z)).sum(axis=1) / total
    known = np.isfinite(pair_variance)
    log_precision = np.log(np.where(known, precision, 1.0))
    squares = (precision * np.nan_to_num(pair_z) ** 2).sum(axis=1) - total * centre**2
    log_weight = 0.5 * (log_precision.sum(axis=1) - np.log(total) - squares)
    log_weight -= 0.5 * (SPREADS[:, None] / SPREAD_SCALE) ** 2
    weight = np.exp(log_weight - log_weight.max(axis=0))
    ladder = np.cumsum(weight, axis=0) / weight.sum(axis=0)
    pairs = np.arange(pair_z.shape[1])
    uniform = rng.random((samples, pairs.size))
    place = np.zeros(uniform.shape, dtype=np.int64)
    for j in pairs:
        place[:, j] = np.searchsorted(ladder[:-1, j], uniform[:, j])
    normal = rng.standard_normal(uniform.shape)
    return centre[place, pairs] + normal / np.sqrt(total[place, pairs]), SPREADS[place]


def draw_correlations(
    pair_mean: Floats,
    pair_spread: Floats,
    pair_z: Floats,
    pair_variance: Floats,
    traits: int,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return draws of each player's correlations, shape ``(sample, player, trait, trait)``.

    ``pair_mean`` and ``pair_spread`` have shape ``(sample, pair)``, pairs in the order of
    ``numpy.triu_indices(traits, 1)``; ``pair_z`` and ``pair_variance`` ``(player, pair)``.
    """
    players = pair_z.shape[0]
    prior_precision = 1 / np.maximum(pair_spread, 1e-6)[:, None, :] ** 2
    data_precision = np.where(np.isfinite(pair_variance), 1 / pair_variance, 0.0)[None]
    total = prior_precision + data_precision
    z = (prior_precision * pair_mean[:, None] + data_precision * np.nan_to_num(pair_z)) / total
    z = z + rng.standard_normal(z.shape) / np.sqrt(total)
    corr = np.broadcast_to(np.eye(traits), (len(pair_mean), players, traits, traits)).copy()
    rows, columns = np.triu_indices(traits, 1)
    corr[:, :, rows, columns] = corr[:, :, columns, rows] = np.tanh(z)
    return nearest_correlation(corr).astype(np.float32)


def nearest_correlation(matrices: Floats) -> Floats:
    """Return unit-diagonal matrices made positive definite, shape ``(..., trait, trait)``."""
    values, vectors = np.linalg.eigh(matrices)
    bad = values[..., 0] < LEAST_EIGENVALUE
    if not bad.any():
        return matrices
    lifted = np.maximum(values[bad], LEAST_EIGENVALUE)
    repaired = (vectors[bad] * lifted[..., None, :]) @ np.swapaxes(vectors[bad], -1, -2)
    scale = 1 / np.sqrt(np.diagonal(repaired, axis1=-2, axis2=-1))
    result = matrices.copy()
    result[bad] = repaired * scale[..., :, None] * scale[..., None, :]
    return result
