"""The closed form of the tendency model for one player and trait, its scales known.

Given the scales, levels and session means are jointly normal,

    level   ~ Normal(mean + started' change_mean, C)
    C       = between + drift * min(weeks) + started' diag(change) started
    reading = level + Normal(0, session + noise)

so a difference of two windows d = a' level has mean a' E[level] + v' z and variance a'Ca - v'v,
with z the whitened readings and v = L^-1 C a, L the Cholesky factor of Cov(reading). Leading
blocks of L belong to the first sessions alone, so one factor serves every look of a season. One
set of scales a posterior draw; draws are mixed with the weights that the readings give them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Scales:
    """What the surrogate takes as known, one row a draw: variances in the trait's unit squared.

    ``mean``, ``between``, ``drift`` (per week) and ``session`` have shape ``(draw,)``;
    ``change_mean`` and ``change`` (variance) ``(draw, change)``.
    """

    mean: Floats
    between: Floats
    drift: Floats
    session: Floats
    change_mean: Floats
    change: Floats

    def take(self, draws: NDArray[np.int64]) -> "Scales":
        """Return some of the draws."""
        return Scales(
            self.mean[draws],
            self.between[draws],
            self.drift[draws],
            self.session[draws],
            self.change_mean[draws],
            self.change[draws],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Season:
    """A player's sessions seen through the surrogate; build it with ``season``.

    ``level_mean`` (draw, session), ``level_cov`` and ``whiten`` (the inverse Cholesky factor of the
    readings' covariance) (draw, session, session).
    """

    level_mean: Floats
    level_cov: Floats
    whiten: Floats

    def whitened(self, means: Floats) -> Floats:
        """Return whitened session means, ``(season, draw, session)``, from ``(season, session)``.

        Means that differ by draw, such as freed of a drawn bias, have shape
        ``(season, draw, session)``.
        """
        values = means[:, None, :] if means.ndim == 2 else means
        centred = values - self.level_mean
        turned = np.matmul(self.whiten, np.ascontiguousarray(centred.transpose(1, 2, 0)))
        return np.ascontiguousarray(turned.transpose(2, 0, 1))

    def log_likelihood(self, z: Floats) -> Floats:
        """Return each session's log likelihood given the ones before it, the shape of ``z``."""
        size = np.log(np.diagonal(self.whiten, axis1=1, axis2=2))
        return np.asarray(size - 0.5 * np.log(2 * np.pi) - 0.5 * z * z)

    def difference(self, z: Floats, contrast: Floats, upto: int) -> tuple[Floats, Floats]:
        """Return mean ``(season, draw)`` and variance ``(draw,)`` of ``contrast @ level``.

        Only the first ``upto`` sessions count as read.
        """
        pull = self.level_cov @ contrast
        v = np.einsum("jst,jt->js", self.whiten[:, :upto, :upto], pull[:, :upto])
        mean = self.level_mean @ contrast + np.einsum("yjs,js->yj", z[:, :, :upto], v)
        variance = pull @ contrast - np.sum(v * v, axis=1)
        return mean, np.maximum(variance, 1e-12)


def season(
    scales: Scales,
    weeks: Floats,
    noise: Floats,
    started: Bools,
    neighbours: float | Floats = 0.0,
) -> Season:
    """Return the surrogate of a season.

    ``weeks`` (session,) since any origin, rising; ``noise`` (draw, session) is the variance of a
    session's mean from shots and readings; ``started`` (change, session). ``neighbours``, one
    number or one a draw, is the correlation of neighbouring sessions' effects, 0 in the tendency
    model.
    """
    on = started.astype(np.float64)
    since = weeks - weeks[0]
    walk = np.minimum(since[:, None], since[None, :])
    cov = (
        scales.between[:, None, None]
        + scales.drift[:, None, None] * walk
        + np.einsum("jc,cs,ct->jst", scales.change, on, on)
    )
    place = np.arange(weeks.size)
    alike = np.broadcast_to(neighbours, scales.mean.shape)[:, None, None]
    days = scales.session[:, None, None] * alike ** np.abs(place[:, None] - place)
    read = cov + days + np.eye(weeks.size) * noise[:, :, None]
    whiten = np.linalg.inv(np.linalg.cholesky(read))
    mean = scales.mean[:, None] + scales.change_mean @ on
    return Season(mean, cov, whiten)


def window_contrast(before: NDArray[np.int64], after: NDArray[np.int64], sessions: int) -> Floats:
    """Return the weights that turn levels into the tendency after less the tendency before."""
    weights = np.zeros(sessions)
    weights[before] -= 1 / before.size
    weights[after] += 1 / after.size
    return weights


def mixing_weights(log_likelihood: Floats) -> Floats:
    """Return weights of the draws, summing to 1 over the last axis."""
    weights = np.exp(log_likelihood - log_likelihood.max(axis=-1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=-1, keepdims=True))


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """Chances of a change by season, shape ``(season,)``; ``sign`` is the likelier direction."""

    sign: Floats
    direction: Floats
    worthwhile: Floats
    no_worthwhile: Floats


def chances(mean: Floats, variance: Floats, weights: Floats | None, worthwhile: float) -> Chances:
    """Return what a verdict asks for, mixed over draws; without weights all draws count alike.

    ``mean`` and ``weights`` have shape ``(season, draw)``, ``variance`` ``(draw,)``.
    """
    sd = np.sqrt(variance)

    def above(edge: float) -> Floats:
        one = ndtr((mean - edge) / sd)
        return np.asarray(one.mean(axis=1) if weights is None else (weights * one).sum(axis=1))

    up, large, small = above(0.0), above(worthwhile), above(-worthwhile)
    rises = up >= 0.5
    return Chances(
        sign=np.where(rises, 1.0, -1.0),
        direction=np.where(rises, up, 1 - up),
        worthwhile=np.where(rises, large, 1 - small),
        no_worthwhile=small - large,
    )


def p_direction(mean: Floats, variance: Floats, weights: Floats) -> Floats:
    """Return the chance of the likelier direction by season; see ``chances``."""
    up = np.asarray((weights * ndtr(mean / np.sqrt(variance))).sum(axis=-1))
    return np.maximum(up, 1 - up)
