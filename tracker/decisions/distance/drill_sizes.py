"""What drills do on average: one that nobody here has done, and each that some have.

Drills of different traits are laid side by side in units of B, the spread between players of their
trait, each signed by the way in which it was meant. So taken, their means are
    D / B ~ Normal(m, s^2),   m ~ Normal(.41, s^2 / 2),
    s^2 ~ Scaled-inverse-chi2(4, .41^2),   s < 2:
607 interventions on how people perform helped by .41 SDs on average, and more than a third of them
did harm (Kluger & DeNisi 1996, Psychol. Bull. 119:254); by this prior one drill in four or five
does, and with what players differ in answering it some three in ten who take it up. That it is
worth two drills of the log (four for s) is an estimate without a source: weak, so that a log in
which nothing worked is believed. What each logged drill says of m and s has its own error, so
that few doers or unsteady days weigh little (random-effects meta-analysis: Gelman et al. 2013,
Bayesian Data Analysis, 3rd ed., sec. 5.6); s is summed over a grid. A drill of another trait counts
half: what an academy's drills do for strike tells something of its drills for face.
A drill that some have done is drawn toward m as far as its own readings leave it open, so that it
and the next drill are judged by one law.

The readings' own word on a drill is its posterior with the model's prior Normal(0, drill_scale^2)
taken out, both as normals. That prior is for reading a log without hope; here it would take a
coach's choice of drill for a toss of a coin.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from models.arrays import Floats
from tracker.decisions.distance.lever_inputs import LeverInputs, Logged, Sizes

PRIOR_SHARE: Final = 0.41
"""Guess of the mean and the SD of what drills do, in SDs between players."""
MEAN_DRILLS, SD_DRILLS = 2.0, 4.0
"""How many drills that guess is worth, of the mean and of the SD (estimates, no source)."""
OTHER_TRAIT: Final = 0.5
"""How much a drill of another trait counts (estimate, no source)."""
SPREADS: Final = np.geomspace(0.04, 2.0, 60)
"""Grid of s, from far below the guess to its bound."""
FARTHEST_SDS, PLACES = 5.0, 2001
"""How far and how finely the next drill's distribution is tabulated to draw it evenly."""
LEAST_TOLD: Final = 0.1
"""Share of the model's prior variance that the readings are taken to have removed at least."""


def next_drill_means(
    inputs: LeverInputs, trait: str, kept: NDArray[np.int64], rng: np.random.Generator
) -> Floats:
    """Return draws of how far a new drill moves players on average the way it is meant to."""
    chance, mean, variance = _academy(inputs, trait)
    sd = np.sqrt(variance + SPREADS**2)
    shares = np.linspace((mean - FARTHEST_SDS * sd).min(), (mean + FARTHEST_SDS * sd).max(), PLACES)
    below = ndtr((shares[:, None] - mean) / sd) @ chance
    even = (np.arange(kept.size) + 0.5) / kept.size
    share = rng.permutation(np.interp(even, below, shares))
    return np.asarray(share * inputs.sizes[trait].between[kept])


def logged_drill_means(inputs: LeverInputs, one: Logged, kept: NDArray[np.int64]) -> Floats:
    """Return draws of how far a logged drill moves players on average, the trait's unit.

    They are the model's draws, moved and stretched to the mean and SD that the academy's drills
    give it. Of a drill that nobody has begun they are the model's own.
    """
    if not one.responses:
        return one.mean[kept]
    chance, mean, variance = _academy(inputs, one.trait)
    seen, error = _told(one, inputs.sizes[one.trait])
    own = SPREADS**2 / (SPREADS**2 + error)
    means = own * seen + (1 - own) * mean
    variances = own * error + (1 - own) ** 2 * variance
    middle = float(chance @ means)
    sd = float(np.sqrt(chance @ (variances + (means - middle) ** 2)))
    between = float(inputs.sizes[one.trait].between.mean())
    model = float(one.mean.std())
    standing = (one.mean[kept] - one.mean.mean()) / model if model else np.zeros(kept.size)
    return np.asarray((one.way * middle + sd * standing) * between)


def _told(one: Logged, sizes: Sizes) -> tuple[float, float]:
    """Return what the readings say of a drill's mean, in units of B, and its variance."""
    between, prior = float(sizes.between.mean()), float(np.mean(sizes.drill_scale**2))
    left = min(float(one.mean.var()), (1 - LEAST_TOLD) * prior)
    if left == 0.0:
        return one.way * float(one.mean.mean()) / between, 0.0
    variance = 1 / (1 / left - 1 / prior)
    return one.way * float(one.mean.mean()) * variance / left / between, variance / between**2


def _academy(inputs: LeverInputs, trait: str) -> Sequence[Floats]:
    """Return, for each s of the grid: its chance, and mean and variance of m given it."""
    done = [one for one in inputs.logged if one.responses]
    told = [_told(one, inputs.sizes[one.trait]) for one in done]
    seen, error = np.array(told).reshape(-1, 2).T
    counts = np.array([1.0 if one.trait == trait else OTHER_TRAIT for one in done])
    each = SPREADS**2 + error[:, None]
    prior = MEAN_DRILLS / SPREADS**2
    precision = prior + (counts[:, None] / each).sum(axis=0)
    weighted = (counts[:, None] * seen[:, None] / each).sum(axis=0)
    mean = (prior * PRIOR_SHARE + weighted) / precision
    off = (counts[:, None] * (seen[:, None] - mean) ** 2 / each).sum(axis=0)
    log_chance = (
        # the scaled inverse chi-squared of s^2, as a density of log s
        -SD_DRILLS * np.log(SPREADS)
        - SD_DRILLS * PRIOR_SHARE**2 / (2 * SPREADS**2)
        + (np.log(prior / precision) - prior * (mean - PRIOR_SHARE) ** 2 - off) / 2
        - (counts[:, None] * np.log(each)).sum(axis=0) / 2
    )
    chance = np.exp(log_chance - log_chance.max())
    return chance / chance.sum(), mean, 1 / precision
