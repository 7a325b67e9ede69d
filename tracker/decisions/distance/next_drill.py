"""What a drill that nobody here has done does on average: learned from all that were done.

Drills of different traits are laid side by side in units of B, the spread between players of their
trait, each signed by the way in which it was meant. So taken, their means are
    D / B ~ Normal(m, s^2),   m ~ Normal(1/4, s^2 / 8),   s^2 ~ Scaled-inverse-chi2(8, (1/4)^2):
drills help by a quarter of what tells players apart, and of those chosen to help one in five or six
does harm (estimate, no source, worth eight drills). What each logged drill says of m and s has its
own error, so that few doers or unsteady days weigh little (random-effects meta-analysis: Gelman et
al. 2013, Bayesian Data Analysis, 3rd ed., sec. 5.6); s is summed over a grid. A drill of another
trait counts half: what an academy's drills do for strike tells something of its drills for face.

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

PRIOR_SHARE: Final = 0.25
"""Guess of the mean and the SD of what drills do, in SDs between players (estimate, no source)."""
PRIOR_DRILLS: Final = 8.0
"""How many drills that guess is worth (estimate, no source)."""
OTHER_TRAIT: Final = 0.5
"""How much a drill of another trait counts (estimate, no source)."""
SPREADS: Final = np.geomspace(0.04, 2.0, 60)
"""Grid of s, from far below to far above the guess."""
FARTHEST_SDS, PLACES = 5.0, 2001
"""How far and how finely the next drill's distribution is tabulated to draw it evenly."""
LEAST_TOLD: Final = 0.1
"""Share of the model's prior variance that the readings are taken to have removed at least."""


def next_drill_means(
    inputs: LeverInputs, trait: str, kept: NDArray[np.int64], rng: np.random.Generator
) -> Floats:
    """Return draws of how far a new drill moves players on average the way it is meant to."""
    done = [one for one in inputs.logged if one.responses]
    told = np.array([_told(one, inputs.sizes[one.trait]) for one in done]).reshape(-1, 2)
    counts = np.array([1.0 if one.trait == trait else OTHER_TRAIT for one in done])
    chance, mean, variance = _academy(told[:, 0], told[:, 1], counts)
    sd = np.sqrt(variance + SPREADS**2)
    shares = np.linspace((mean - FARTHEST_SDS * sd).min(), (mean + FARTHEST_SDS * sd).max(), PLACES)
    below = ndtr((shares[:, None] - mean) / sd) @ chance
    even = (np.arange(kept.size) + 0.5) / kept.size
    share = rng.permutation(np.interp(even, below, shares))
    return np.asarray(share * inputs.sizes[trait].between[kept])


def _told(one: Logged, sizes: Sizes) -> tuple[float, float]:
    """Return what the readings say of a drill's mean, in units of B, and its variance."""
    between, prior = float(sizes.between.mean()), float(np.mean(sizes.drill_scale**2))
    left = min(float(one.mean.var()), (1 - LEAST_TOLD) * prior)
    if left == 0.0:
        return one.way * float(one.mean.mean()) / between, 0.0
    variance = 1 / (1 / left - 1 / prior)
    return one.way * float(one.mean.mean()) * variance / left / between, variance / between**2


def _academy(seen: Floats, error: Floats, counts: Floats) -> Sequence[Floats]:
    """Return, for each s of the grid: its chance, and mean and variance of m given it.

    ``seen`` (drill,) with ``error`` their variances; ``counts`` is how much each is to count.
    """
    each = SPREADS**2 + error[:, None]
    prior = PRIOR_DRILLS / SPREADS**2
    precision = prior + (counts[:, None] / each).sum(axis=0)
    told = (counts[:, None] * seen[:, None] / each).sum(axis=0)
    mean = (prior * PRIOR_SHARE + told) / precision
    off = (counts[:, None] * (seen[:, None] - mean) ** 2 / each).sum(axis=0)
    log_chance = (
        # the scaled inverse chi-squared of s^2, as a density of log s
        -PRIOR_DRILLS * np.log(SPREADS)
        - PRIOR_DRILLS * PRIOR_SHARE**2 / (2 * SPREADS**2)
        + (np.log(prior / precision) - prior * (mean - PRIOR_SHARE) ** 2 - off) / 2
        - (counts[:, None] * np.log(each)).sum(axis=0) / 2
    )
    chance = np.exp(log_chance - log_chance.max())
    return chance / chance.sum(), mean, 1 / precision
