"""How many more sessions would settle a question about a change (closed-form preposterior).

Change d = after - before has posterior variance V; C = Cov(d, after), A = Var(after). Reading the
player in n more sessions adds an observation of the after tendency with noise variance
    R(n) = session_sd^2 * (1 + 2 sum_{i<n} (1 - i/n) alike^i) / n
           + (shot_sd^2 + reading_sd^2) / shots / n
           + drift^2 * gap * (n + 1)(2n + 1) / (6n)
(the mean of n days that resemble their neighbours, of n sessions' shots, and of a random walk's
first n steps), so that afterwards the variance is V - C^2 / (A + R), and the new mean is spread
around today's with variance C^2 / (A + R). That nothing changes unlogged meanwhile is presumed.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri

from models.arrays import Floats
from tracker.decisions.verdict.guards import typical_gap_weeks, typical_shots
from tracker.posterior import Fit

WANTED = 0.8
"""Least chance that the sessions asked for settle the question."""
MOST_SESSIONS = 12
SURE = 0.9
"""Share of the draws that a statement about size needs."""

Question = Literal["direction", "size"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What one more session would be worth, in the trait's unit squared."""

    shots: int
    session_variance: float
    shot_variance: float
    walk_variance: float
    """Drift variance between two neighbouring sessions."""
    day_alike: float = 0.0
    """Correlation of neighbouring days' effects."""

    def noise_variance(self, sessions: int) -> float:
        """Return the noise variance of the mean of some more sessions about the tendency."""
        n = sessions
        apart = np.arange(1, n)
        alike = 1 + 2 * float(np.sum((1 - apart / n) * self.day_alike**apart))
        scatter = (self.session_variance * alike + self.shot_variance / self.shots) / n
        return scatter + self.walk_variance * (n + 1) * (2 * n + 1) / (6 * n)


def reading_of(fit: Fit, player: str, trait: str) -> Reading:
    """Return what one more session like the player's own would be worth."""
    one = fit.of(player, trait)
    counts = one.counts.sum(axis=1)
    by_method = one.reading_sd**2
    read = float(counts @ by_method / counts.sum()) if counts.sum() else float(by_method.mean())
    days = one.session_sd**2
    alike = float(np.mean(days * one.day_alike)) / max(float(np.mean(days)), 1e-12)
    return Reading(
        shots=typical_shots(fit, player, trait),
        session_variance=float(np.mean(days)),
        shot_variance=float(np.mean(one.shot_sd**2)) + read,
        walk_variance=float(np.mean(one.drift**2)) * typical_gap_weeks(fit, player),
        day_alike=alike,
    )


def small_limit(worthwhile: float, sd: float) -> float:
    """Return the largest |mean| at which P(|change| < worthwhile) is still .9; 0 when none is."""
    from scipy.optimize import brentq  # here, since it takes long to load and few answers need it

    def surplus(mean: float) -> float:
        inside = ndtr((worthwhile - mean) / sd) - ndtr((-worthwhile - mean) / sd)
        return float(inside) - SURE

    return float(brentq(surplus, 0.0, worthwhile)) if surplus(0.0) > 0 else 0.0


def settled_chance(
    mean: float,
    variance: float,
    gained: float,
    worthwhile: float,
    threshold: float,
    question: Question,
) -> float:
    """Return the chance that the question is settled once ``gained`` variance has been removed."""
    left = float(np.sqrt(max(variance - gained, 1e-12)))
    if question == "direction":
        large = float(ndtri(threshold)) * left
    else:
        large = worthwhile + float(ndtri(SURE)) * left
    small = small_limit(worthwhile, left)
    if small >= large:
        return 1.0
    spread = float(np.sqrt(max(gained, 1e-12)))

    def below(edge: float) -> float:
        return float(ndtr((edge - mean) / spread))

    outside = below(-large) + 1 - below(large)
    return outside + (below(small) - below(-small) if small > 0 else 0.0)


def sessions_to_settle(
    before: Floats,
    after: Floats,
    reading: Reading,
    worthwhile: float,
    threshold: float,
    question: Question,
) -> tuple[int, float]:
    """Return the fewest more sessions that settle the question with chance .8, and that chance.

    With none up to twelve the answer is twelve and its chance, below .8.
    """
    change = after - before
    moments = np.cov(change, after)
    variance, covariance, own = moments[0, 0], moments[0, 1], moments[1, 1]
    chance = 0.0
    for sessions in range(1, MOST_SESSIONS + 1):
        gained = covariance**2 / (own + reading.noise_variance(sessions))
        chance = settled_chance(
            float(change.mean()), float(variance), float(gained), worthwhile, threshold, question
        )
        if chance >= WANTED:
            return sessions, chance
    return MOST_SESSIONS, chance
