"""Draws of what the tendency model integrated out, given draws of its parameters.

Levels come by forward filtering and backward sampling (Carter & Kohn 1994, Biometrika 81:541;
Fruehwirth-Schnatter 1994, J. Time Ser. Anal. 15:183); shot correlations by the conjugate normal
update of Fisher's z, then the nearest correlation matrix by lifting negative eigenvalues (Rebonato
& Jaeckel 2000, J. Risk 2:17).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.alike_days import draw_alike_levels
from models.local_level import draw_levels

Floats = NDArray[np.float64]

LEAST_EIGENVALUE = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class PooledSessions:
    """One player's session means with method biases out, (sample, session, trait).

    ``variance`` is that of the mean from shots and readings, infinite where nothing was read;
    ``apart`` the log density of what the methods of one session differ by, up to a constant.
    """

    mean: Floats
    variance: Floats
    apart: Floats


def pooled_sessions(
    parameters: Mapping[str, Floats], p: int, count: Floats, mean: Floats, reading_sd: Floats
) -> PooledSessions:
    """Return a player's session means over methods, each weighed by its precision.

    ``count`` and ``mean`` (method, session, trait) are the player's own; the rest is as in
    ``smooth_levels``.
    """
    shot2 = np.exp(2 * parameters["log_shot_sd"][:, p])
    one_shot = (shot2[:, None, :] + reading_sd[None] ** 2)[:, :, None, :]
    weight = count[None] / one_shot
    freed = mean[None] - parameters["bias"][:, :, None, :]
    precision = weight.sum(axis=1)
    some = precision > 0
    safe = np.where(some, precision, 1.0)
    pooled = (weight * freed).sum(axis=1) / safe
    away = np.log(np.where(weight > 0, weight, 1.0)) - weight * (freed - pooled[:, None]) ** 2
    several = (count > 0).sum(axis=0) > 1
    apart = np.where(several, 0.5 * (away.sum(axis=1) - np.log(safe)), 0.0)
    return PooledSessions(pooled, np.where(some, 1 / safe, np.inf), apart)


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
    ``log_shot_sd`` (sample, player, trait), ``bias`` (sample, method, trait) and, where days
    resemble their neighbours, ``day_alike`` (sample, trait); ``count``,
    ``mean`` have shape ``(method, player, session, trait)``; ``step`` is the summed effect of
    logged changes, ``(sample, player, session, trait)``, and is part of the returned level.
    """
    _, players, sessions, traits = count.shape
    samples = parameters["mu"].shape[0]
    drift2, spread2 = parameters["drift"] ** 2, parameters["spread"] ** 2
    session2 = parameters["session_sd"] ** 2
    alike = parameters.get("day_alike")
    level = np.empty((samples, players, sessions, traits), dtype=np.float32)
    for p in range(players):
        readings = pooled_sessions(parameters, p, count[:, p], mean[:, p], reading_sd)
        pooled = readings.mean - step[:, p]
        noise = rng.standard_normal((samples, sessions, traits))
        series = gap[p], drift2, parameters["mu"], spread2
        if alike is None:
            variance = readings.variance + session2[:, None, :]
            walk = draw_levels(pooled, variance, *series, noise)
        else:
            more = rng.standard_normal((2, samples, sessions, traits))
            walk = _alike_walk(
                pooled,
                readings.variance,
                *series,
                session2,
                alike,
                np.concatenate([noise[None], more]),
            )
        level[:, p] = walk + step[:, p]
    return level


def _alike_walk(
    pooled: Floats,
    variance: Floats,
    gap: Floats,
    drift2: Floats,
    mean: Floats,
    spread2: Floats,
    session2: Floats,
    alike: Floats,
    noise: Floats,
) -> Floats:
    """Return one player's walk where days resemble their neighbours, (sample, session, trait)."""
    walks = [
        draw_alike_levels(
            np.ascontiguousarray(pooled[:, :, k]),
            np.ascontiguousarray(variance[:, :, k]),
            gap,
            *(np.ascontiguousarray(v[:, k]) for v in (drift2, mean, spread2, session2, alike)),
            np.ascontiguousarray(noise[..., k]),
        )
        for k in range(pooled.shape[2])
    ]
    return np.stack(walks, axis=2)


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
