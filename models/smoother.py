"""Draws of what the tendency model integrated out, given draws of its parameters.

Levels come by forward filtering and backward sampling (Carter & Kohn 1994, Biometrika 81:541;
Fruehwirth-Schnatter 1994, J. Time Ser. Anal. 15:183); shot correlations by the conjugate normal
update of Fisher's z, then the nearest correlation matrix by lifting negative eigenvalues (Rebonato
& Jaeckel 2000, J. Risk 2:17).
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from models.local_level import draw_levels

Floats = NDArray[np.float64]

LEAST_EIGENVALUE = 1e-4


def smooth_levels(
    parameters: Mapping[str, Floats],
    *,
    count: Floats,
    mean: Floats,
    gap: Floats,
    reading_sd: Floats,
    step: Floats,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return draws of every level, shape ``(sample, player, session, trait)``.

    ``parameters`` holds ``mu``, ``spread``, ``drift``, ``session_sd`` (sample, trait),
    ``log_shot_sd`` (sample, player, trait) and ``bias`` (sample, method, trait); ``count``,
    ``mean`` have shape ``(method, player, session, trait)``; ``step`` is the summed effect of
    logged changes, ``(sample, player, session, trait)``, and is part of the returned level.
    """
    methods, players, sessions, traits = count.shape
    samples = parameters["mu"].shape[0]
    drift2, spread2 = parameters["drift"] ** 2, parameters["spread"] ** 2
    session2 = parameters["session_sd"][:, None, :] ** 2
    level = np.empty((samples, players, sessions, traits), dtype=np.float32)
    for p in range(players):
        precision = np.zeros((samples, sessions, traits))
        total = np.zeros((samples, sessions, traits))
        shot2 = np.exp(2 * parameters["log_shot_sd"][:, p])
        for m in range(methods):
            weight = count[m, p][None] / (shot2 + reading_sd[m] ** 2)[:, None, :]
            precision += weight
            total += weight * (mean[m, p][None] - parameters["bias"][:, m][:, None, :])
        some = precision > 0
        safe = np.where(some, precision, 1.0)
        pooled = total / safe - step[:, p]
        variance = np.where(some, 1 / safe + session2, np.inf)
        noise = rng.standard_normal((samples, sessions, traits))
        walk = draw_levels(pooled, variance, gap[p], drift2, parameters["mu"], spread2, noise)
        level[:, p] = walk + step[:, p]
    return level


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
