"""One player's update between fits: shots since the fit, laid on the kept draws.

For each kept draw of a trait's parameters and earlier levels, the level and the day's effect are
those of ``models.tendency.jump_filter``, from the fit's last session onwards:

    level ~ Normal(a, v) + Normal(step_mean, drift^2 weeks + step_variance) + unlogged jump
            a = the draw of the last level, v = 0; or the squad's mu and spread^2: a new player
    day   ~ Normal(phi day of the session read before, session_sd^2 (1 - phi^2))
    shots ~ Normal(level + day + bias, shot_sd^2 + reading_sd^2)

Given the levels and parameters of a draw the earlier days are a first-order autoregression read
with known error, so that the last one is normal with moments from a scalar filter (``last_day``). A
Kalman step a session then gives level and day in closed form (Durbin & Koopman 2012, ch. 4).

A change that nobody logged comes between two sessions with chance 1 - exp(-rate weeks), once at
most, of a size out of ``JUMP_VARIANCES``: every place and size is followed by itself and weighed by
what the shots make of it, so that none has to be hit on by chance. The marginal likelihood of the
new shots weighs the draws: SDs, biases and the earlier level learn from them too. Traits are
separate posteriors, so each has weights of its own.

N draws, K traits, M reading methods.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import logsumexp

from models.arrays import Bools, Floats, Indices
from models.tendency.jump_filter import JUMP_VARIANCES
from models.tendency.pareto_smoothing import MOST_K, effective_draws, smoothed_log_weights

LEAST_DRAWS = 50.0
"""Effective draws below which 90 % ends are too ragged to show."""
AWAY_DRAWS = 4000
"""Draws of how far a day lies from the tendency before it."""


@dataclass(frozen=True, eq=False, slots=True)
class LiveParameters:
    """Draws of what governs one player's shots, (N, K) unless said otherwise."""

    drift: Floats
    """Per square root of a week."""
    session_sd: Floats
    day_alike: Floats
    jump_sd: Floats
    jump_rate: Floats
    """A week; 0 in a draw that holds an unlogged change already."""
    shot_sd: Floats
    bias: Floats
    """(N, M, K)."""
    reading_sd: Floats
    """(M, K)."""


@dataclass(frozen=True, eq=False, slots=True)
class LiveStart:
    """Where each draw stands before the first new session, (N, K).

    The level at the session before, and the effect of the last day read: normal, apart.
    """

    level: Floats
    level_variance: Floats
    day: Floats
    day_variance: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Readings:
    """Readings of one session: effective number, mean and sum of squares around it, (M, K)."""

    count: Floats
    mean: Floats
    squares: Floats


@dataclass(frozen=True, eq=False, slots=True)
class NewSession:
    """One session since the fit."""

    weeks: float
    """Since the session before."""
    step_mean: Floats
    """What logged changes begun in between add to the level, (N, K)."""
    step_variance: Floats
    """Its variance, (N, K)."""
    new: Readings
    """Readings that the fit has not seen."""
    same_day: Bools
    """Whether the fit has seen others of it, so that the day goes on, (K,)."""


@dataclass(frozen=True, eq=False, slots=True)
class Mixture:
    """A weighted mixture of normals: ``mean``, ``sd``, ``weight`` (component, K).

    One component a draw and a place and size of an unlogged change, none included.
    """

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

    def quantiles(self, k: int, probabilities: Sequence[float], rng: np.random.Generator) -> Floats:
        """Return quantiles of trait ``k``, (probability,), from one draw a component."""
        values = self.mean[:, k] + self.sd[:, k] * rng.standard_normal(len(self.mean))
        order = np.argsort(values)
        weight = self.weight[order, k]
        middle = np.cumsum(weight) - 0.5 * weight
        return np.interp(probabilities, middle, values[order])

    def drawn(self, k: int, size: int, rng: np.random.Generator) -> Floats:
        """Return draws of trait ``k``, (size,), that all count alike."""
        weight = self.weight[:, k] / self.weight[:, k].sum()
        part = rng.choice(weight.size, size, p=weight)
        noise = rng.standard_normal(size)
        return np.asarray(self.mean[part, k] + self.sd[part, k] * noise)


@dataclass(frozen=True, eq=False, slots=True)
class LivePosterior:
    """What the shots since the fit say; every array's last axis is the trait."""

    before: Mixture
    """The level at the last session before its new shots."""
    level: Mixture
    """The same with them."""
    today: Mixture
    """That session's mean."""
    k_hat: Floats
    """Shape of the weights' tail, (K,)."""
    draws: Floats
    """How many draws the weights are worth, (K,)."""

    @property
    def trusted(self) -> Bools:
        """Return, by trait, whether the kept draws can still stand in for a new fit."""
        return np.asarray((self.k_hat <= MOST_K) & (self.draws >= LEAST_DRAWS), dtype=np.bool_)

    def away(self, k: int, rng: np.random.Generator) -> Floats:
        """Return draws of how far trait ``k``'s mean today lies from the level as it was before.

        Not from the level with today in it, which a day far off draws along: it would be called
        an ordinary one. The two are drawn each by itself, which makes the doubt a little larger.
        """
        today, before = (mixture.drawn(k, AWAY_DRAWS, rng) for mixture in (self.today, self.before))
        return np.asarray(today - before)


def last_day(
    parameters: LiveParameters, level: Floats, count: Indices, mean: Floats
) -> tuple[Floats, Floats]:
    """Return mean and variance of the last effect of a day read, given a draw's own levels, (N, K).

    ``level`` (N, session, K); ``count`` (M, session, K) readings; ``mean`` (session, K) their raw
    mean, each counting alike, whose biases are taken out by their shares. Without a reading it is
    what any day's is.
    """
    total = count.sum(axis=0)
    read = total > 0
    some = np.where(read, total, 1)
    share = count / some
    one_shot = parameters.shot_sd[:, None, :] ** 2 + parameters.reading_sd**2
    noise = np.where(read, np.einsum("nmk,msk->nsk", one_shot, share / some), 1.0)
    away = np.where(read, mean, 0.0) - level - np.einsum("nmk,msk->nsk", parameters.bias, share)
    day, variance = np.zeros_like(parameters.session_sd), parameters.session_sd**2
    for s in np.flatnonzero(read.any(axis=1)):
        ahead, ahead_variance = _next_day(parameters, day, variance)
        gain = ahead_variance / (ahead_variance + noise[:, s])
        day = np.where(read[s], ahead + gain * (away[:, s] - ahead), day)
        variance = np.where(read[s], ahead_variance * (1 - gain), variance)
    return day, variance


def live_update(
    parameters: LiveParameters, start: LiveStart, sessions: Sequence[NewSession]
) -> LivePosterior:
    """Return the posterior after the sessions since the fit, oldest first and at least one."""
    if not sessions:
        raise ValueError("a live update needs at least one session; found none")
    state = _State.begun(start)
    for session in sessions[:-1]:
        state = state.moved(parameters, session)
        pooled, precision, within = _pooled(parameters, session.new)
        state = state.on_day(parameters, ~session.same_day & (precision > 0))
        state = state.read(pooled, precision, within)
    today = sessions[-1]
    state = state.moved(parameters, today)
    before = state.mixture(state.level, state.level_variance, state.weighed()[0])
    state = state.on_day(parameters, np.broadcast_to(~today.same_day, start.level.shape))
    state = state.read(*_pooled(parameters, today.new))
    log_weight, k_hat, draws = state.weighed()
    both = state.level_variance + 2 * state.shared + state.day_variance
    return LivePosterior(
        before=before,
        level=state.mixture(state.level, state.level_variance, log_weight),
        today=state.mixture(state.level + state.day, both, log_weight),
        k_hat=k_hat,
        draws=draws,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _State:
    """Level and day of every draw along every course that unlogged changes may have taken.

    All (course, N, K); ``shared`` is the covariance of level and day, ``log_chance`` that of the
    course and of the shots read along it. The first course is without such a change.
    """

    level: Floats
    day: Floats
    level_variance: Floats
    shared: Floats
    day_variance: Floats
    log_chance: Floats

    @classmethod
    def begun(cls, start: LiveStart) -> "_State":
        """Return the one course before anything new."""
        nothing = np.zeros_like(start.level)
        parts = (start.level, start.day, start.level_variance, nothing, start.day_variance, nothing)
        return cls(*(part[None] for part in parts))

    def moved(self, parameters: LiveParameters, session: NewSession) -> "_State":
        """Return the levels at the next session, with the courses that branch off before it."""
        level = self.level + session.step_mean
        drifted = parameters.drift**2 * session.weeks + session.step_variance
        variance = self.level_variance + drifted
        hazard = parameters.jump_rate * session.weeks
        if not (hazard > 0).any():
            return replace(self, level=level, level_variance=variance)
        sizes = np.array(JUMP_VARIANCES)[:, None, None] * parameters.jump_sd**2
        with np.errstate(divide="ignore"):  # a draw without any chance of one
            chance = np.log(-np.expm1(-hazard) / len(sizes))
        still, *rest = self.log_chance
        jumped = np.broadcast_to(still + chance, sizes.shape)

        def branched(part: Floats) -> Floats:
            return np.concatenate([part, np.broadcast_to(part[0], sizes.shape)])

        return _State(
            level=branched(level),
            day=branched(self.day),
            level_variance=np.concatenate([variance, variance[0] + sizes]),
            shared=branched(self.shared),
            day_variance=branched(self.day_variance),
            log_chance=np.stack([still - hazard, *rest, *jumped]),
        )

    def on_day(self, parameters: LiveParameters, new: Bools) -> "_State":
        """Return the state on a day that is another than the last one read where ``new``."""
        day, variance = _next_day(parameters, self.day, self.day_variance)
        return replace(
            self,
            day=np.where(new, day, self.day),
            shared=np.where(new, parameters.day_alike * self.shared, self.shared),
            day_variance=np.where(new, variance, self.day_variance),
        )

    def read(self, pooled: Floats, precision: Floats, within: Floats) -> "_State":
        """Return the state with a session's mean read, of no precision where nothing was."""
        some = precision > 0
        noise = 1 / np.where(some, precision, 1.0)
        by_level, by_day = self.level_variance + self.shared, self.shared + self.day_variance
        total = by_level + by_day + noise
        inverse = np.where(some, 1 / total, 0.0)
        error = np.where(some, pooled - self.level - self.day, 0.0)
        likelihood = within - np.where(some, 0.5 * (np.log(total) + error**2 * inverse), 0.0)
        gain, day_gain = by_level * inverse, by_day * inverse
        return _State(
            level=self.level + gain * error,
            day=self.day + day_gain * error,
            level_variance=np.maximum(self.level_variance - gain * by_level, 0.0),
            shared=self.shared - gain * by_day,
            day_variance=np.maximum(self.day_variance - day_gain * by_day, 0.0),
            log_chance=self.log_chance + likelihood,
        )

    def weighed(self) -> tuple[Floats, Floats, Floats]:
        """Return log weights of courses and draws, as the state; k-hat and effective draws (K,)."""
        whole = logsumexp(self.log_chance, axis=0)
        columns = [smoothed_log_weights(column) for column in whole.T]
        log_weight = np.stack([weights for weights, _ in columns], axis=1)
        k_hat = np.array([shape for _, shape in columns])
        draws = np.array([effective_draws(column) for column in log_weight.T])
        return log_weight + self.log_chance - whole, k_hat, draws

    def mixture(self, mean: Floats, variance: Floats, log_weight: Floats) -> Mixture:
        """Return normals of the state, one a draw and course, weighted."""
        parts = mean, np.sqrt(np.maximum(variance, 0.0)), np.exp(log_weight)
        return Mixture(*(part.reshape(-1, part.shape[-1]) for part in parts))


def _next_day(parameters: LiveParameters, day: Floats, variance: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance of a day's effect from those of the day read before."""
    alike, session2 = parameters.day_alike, parameters.session_sd**2
    return alike * day, session2 + alike**2 * (variance - session2)


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
