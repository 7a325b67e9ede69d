"""How promises turn out as a whole: how many held, and how large promises are beside the found."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv

from models.arrays import Floats
from tracker.interval import INTERVAL_PROB, Interval


@dataclass(frozen=True, slots=True)
class Coverage:
    """How many of some promises held."""

    inside: float
    """The expected number: each promise counts with the chance that what was found lies inside the
    promised interval."""
    of: int
    low90: float
    """Bounds of the share that would hold of many more."""
    high90: float


def coverage_of(inside: Sequence[float]) -> Coverage:
    """Return the coverage of some promises, given the chance that each one held.

    The interval is Jeffreys' for a binomial share (Brown, Cai & DasGupta 2001, Statistical Science
    16:101), the expected number in the place of a count.
    """
    held, of = float(sum(inside)), len(inside)
    tail = (1 - INTERVAL_PROB) / 2
    low, high = (float(betaincinv(held + 0.5, of - held + 0.5, q)) for q in (tail, 1 - tail))
    return Coverage(held, of, low, high)


def promised_over_found(
    promised: Sequence[float], found: Sequence[Floats], seed: int = 1
) -> Interval | None:
    """Return the ratio of summed promised means to the summed found; None while it is not settled.

    ``found`` holds draws (sample,) of each promise's found gain, from one fit. Which promises there
    happened to be is doubted too, by weights drawn from a flat Dirichlet distribution (the Bayesian
    bootstrap: Rubin 1981, Annals of Statistics 9:130). The ratio is not settled while the found sum
    may be nothing.
    """
    if not found:
        return None
    gains = np.stack(found, axis=1)
    weights = np.random.default_rng([seed, *gains.shape]).dirichlet(
        np.ones(gains.shape[1]), size=gains.shape[0]
    )
    sums = (weights * gains).sum(axis=1)
    if Interval.from_draws(sums, "m").low90 <= 0:
        return None
    return Interval.from_draws(weights @ np.asarray(promised) / sums, "")
