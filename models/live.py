"""One player's update between fits: shots since the fit, laid on the kept draws.

For each kept draw of SDs and biases, a trait's level and the day's session effect u are Normal:

    level ~ Normal(a, v + drift^2 * weeks + step)     a = the draw of the last level, v = 0,
                                                      or the squad's mu and spread^2: a new player
    u     ~ Normal(0, session_sd^2)
    shots ~ Normal(level + u + bias, shot_sd^2 + reading_sd^2)

One Kalman step a session gives both in closed form (Durbin & Koopman 2012, ch. 2), and the
marginal likelihood of the new shots weighs the draws, so that SDs, biases and the earlier level
learn from them too. Traits share no parameter in ``models.tendency``, so each has weights of its
own: exact, and far steadier than one weight for all. A session that the fit has seen in part
starts from what its seen shots say of u.

N draws, K traits, M reading methods.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from models.pareto_smoothing import MOST_K, effective_draws, smoothed_log_weights

Floats = NDArray[np.float64]

LEAST_DRAWS = 50.0
"""Effective draws below which 90 % ends are too ragged to show."""


@dataclass(frozen=True, eq=False, slots=True)
class LiveParameters:
    """Draws of what governs one player's shots.

    ``drift`` (per square root of a week), ``session_sd``, ``shot_sd`` (N, K); ``bias`` (N, M, K);
    ``reading_sd`` (M, K).
    """

    drift: Floats
    session_sd: Floats
    shot_sd: Floats
    bias: Floats
    reading_sd: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Readings:
    """Readings of one session: effective number, mean and sum of squares around it, (M, K)."""

    count: Floats
    mean: Floats
    squares: Floats


@dataclass(frozen=True, eq=False, slots=True)
class NewSession:
    """One session since the fit.

    ``weeks`` since the session before; ``step_mean``, ``step_variance`` (N, K): what logged
    changes begun in between add to the level; ``new``: readings that the fit has not seen;
    ``seen``: those of the same session that it has.
    """

    weeks: float
    step_mean: Floats
    step_variance: Floats
    new: Readings
    seen: Readings


@dataclass(frozen=True, eq=False, slots=True)
class Mixture:
    """A weighted mixture of Normals, one component a draw: ``mean``, ``sd``, ``weight`` (N, K)."""

    mean: Floats
    sd: Floats
    weight: Floats

    def average(self) -> Floats:
        """Return the mean of each trait, (K,)."""
        return np.asarray((self.weight * self.mean).sum(axis=0))

    def spread(self) -> Floats:
        """Return the SD of each trait, (K,)."""
        centred = self.mean - self.average()
        return np.asarray(np.sqrt((self.weight * (self.sd**2 + centred**2)).sum(axis=0)))

    def chance_above(self, value: Floats | float) -> Floats:
        """Return the chance that each trait lies above a value, (K,)."""
        sd = np.maximum(self.sd, 1e-12)
        return np.asarray((self.weight * ndtr((self.mean - value) / sd)).sum(axis=0))

    def draws(self, noise: Floats) -> Floats:
        """Return one draw a component from standard normal ``noise``; they keep their weights."""
        return np.asarray(self.mean + self.sd * noise)

    def quantiles(self, probabilities: Sequence[float], noise: Floats) -> Floats:
        """Return quantiles of each trait, (probability, K), from one draw a component."""
        values = self.draws(noise)
        order = np.argsort(values, axis=0)
        sorted_values = np.take_along_axis(values, order, axis=0)
        weight = np.take_along_axis(self.weight, order, axis=0)
        middle = np.cumsum(weight, axis=0) - 0.5 * weight
        return np.stack(
            [
                np.interp(probabilities, middle[:, k], sorted_values[:, k])
                for k in range(values.shape[1])
            ],
            axis=1,
        )


@dataclass(frozen=True, eq=False, slots=True)
class LivePosterior:
    """What the shots since the fit say; every array's last axis is the trait.

    ``before``: the level at the last session before its new shots; ``level``: the same with them;
    ``today``: that session's mean; ``effect``: today less the level. ``k_hat``, ``draws`` (K,):
    the shape of the weights' tail and how many draws they are worth.
    """

    before: Mixture
    level: Mixture
    today: Mixture
    effect: Mixture
    k_hat: Floats
    draws: Floats

    @property
    def trusted(self) -> NDArray[np.bool_]:
        """Return, by trait, whether the kept draws can still stand in for a new fit."""
        return np.asarray((self.k_hat <= MOST_K) & (self.draws >= LEAST_DRAWS), dtype=np.bool_)


def live_update(
    parameters: LiveParameters,
    level_mean: Floats,
    level_variance: Floats,
    sessions: Sequence[NewSession],
) -> LivePosterior:
    """Return the posterior after the sessions since the fit, oldest first and at least one.

    ``level_mean``, ``level_variance`` (N, K): the level at the session before the first of them.
    """
    if not sessions:
        raise ValueError("a live update needs at least one session; found none")
    mean, variance = level_mean, level_variance
    log_ratio = np.zeros_like(mean)
    for place, session in enumerate(sessions):
        mean = mean + session.step_mean
        variance = variance + parameters.drift**2 * session.weeks + session.step_variance
        if place == len(sessions) - 1:
            before = Mixture(mean, np.sqrt(variance), np.exp(_weighed(log_ratio)[0]))
        effect_mean, effect_variance = _effect_so_far(parameters, session.seen, mean)
        pooled, precision, within = _pooled(parameters, session.new)
        log_ratio = log_ratio + within
        some = precision > 0
        noise = 1 / np.where(some, precision, 1.0)
        total = variance + effect_variance + noise
        error = np.where(some, pooled - mean - effect_mean, 0.0)
        inverse = np.where(some, 1 / total, 0.0)
        log_ratio -= np.where(some, 0.5 * (np.log(total) + error**2 * inverse), 0.0)
        prior, prior_effect = (mean, variance), (effect_mean, effect_variance)
        mean = mean + variance * inverse * error
        variance = np.maximum(variance * (1 - variance * inverse), 0.0)
    log_weight, k_hat, draws = _weighed(log_ratio)
    weight = np.exp(log_weight)
    both_mean = prior[0] + prior_effect[0]
    both = prior[1] + prior_effect[1]
    after_effect = prior_effect[0] + prior_effect[1] * inverse * error
    effect_left = prior_effect[1] * (1 - prior_effect[1] * inverse)
    return LivePosterior(
        before=before,
        level=Mixture(mean, np.sqrt(variance), weight),
        today=Mixture(
            both_mean + both * inverse * error,
            np.sqrt(np.maximum(both * (1 - both * inverse), 0.0)),
            weight,
        ),
        effect=Mixture(after_effect, np.sqrt(np.maximum(effect_left, 0.0)), weight),
        k_hat=k_hat,
        draws=draws,
    )


def _effect_so_far(
    parameters: LiveParameters, seen: Readings, level: Floats
) -> tuple[Floats, Floats]:
    """Return mean and variance of the session effect given the shots that the fit has seen.

    Those shots are in the draws already, the level's included, so they weigh nothing here.
    """
    session2 = parameters.session_sd**2
    pooled, precision, _ = _pooled(parameters, seen)
    variance = session2 / (1 + session2 * precision)
    return np.where(precision > 0, variance * precision * (pooled - level), 0.0), variance


def _pooled(parameters: LiveParameters, readings: Readings) -> tuple[Floats, Floats, Floats]:
    """Return the session mean with biases out, its precision, and the log likelihood within it."""
    one_shot = parameters.shot_sd[:, None, :] ** 2 + parameters.reading_sd**2
    weight = readings.count / one_shot
    precision = weight.sum(axis=1)
    freed = readings.mean - parameters.bias
    pooled = (weight * freed).sum(axis=1) / np.where(precision > 0, precision, 1.0)
    read = readings.count > 0
    freedom = np.maximum(readings.count - 1, 0.0)
    within = -0.5 * (freedom * np.log(one_shot) + readings.squares / one_shot).sum(axis=1)
    apart = weight * (freed - pooled[:, None, :]) ** 2
    several = read.sum(axis=0) > 1
    between = 0.5 * (np.where(read, np.log(np.where(read, weight, 1.0)), 0.0) - apart).sum(axis=1)
    between -= 0.5 * np.log(np.where(precision > 0, precision, 1.0))
    return pooled, precision, within + np.where(several, between, 0.0)


def _weighed(log_ratio: Floats) -> tuple[Floats, Floats, Floats]:
    """Return log weights (N, K), k-hat and effective draws (K,)."""
    columns = [smoothed_log_weights(column) for column in log_ratio.T]
    log_weight = np.stack([weights for weights, _ in columns], axis=1)
    k_hat = np.array([shape for _, shape in columns])
    return log_weight, k_hat, np.array([effective_draws(column) for column in log_weight.T])
