"""What the tendency model takes for possible before it has seen a single shot.

Draws from the priors as ``models.tendency`` states them (a test holds the two together), for a
player nobody has measured: level, scatter of shots and days, one session's mean, one shot.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from models.arrays import Floats
from models.traits import MODELLED, TRAITS
from tracker.errors import BadRequest
from tracker.interval import Interval

LOG_SHOT_SD_MEAN_SD: Final = 0.5
LOG_SPREAD_SD: Final = 0.5
"""The two prior scales that ``models.tendency`` keeps beside the table of traits."""

DRAWS: Final = 4000
SHOTS: Final = 20
"""Shots in the imagined session."""
WEEKS: Final = 12.0
"""How long the imagined player's level has drifted."""
MOST_OUTSIDE: Final = 0.05
"""Largest share of imagined shots that may lie outside the plausible range of a trait."""
LEAST_USED: Final = 0.1
"""Smallest part of the plausible range that nine in ten imagined levels must span."""


@dataclass(frozen=True, slots=True, eq=False)
class PriorDraws:
    """Draws of one trait in its unit, each of shape ``(draw,)``; ``drift`` per root of a week."""

    mu: Floats
    spread: Floats
    drift: Floats
    session_sd: Floats
    log_shot_sd: Floats
    level: Floats
    session_mean: Floats
    shot: Floats


@dataclass(frozen=True, slots=True)
class PriorCheck:
    """What the priors allow for one trait, against its plausible range.

    ``outside`` is the share of single shots outside that range; ``session_mean_sd`` how far the
    means of one player's sessions of twenty shots lie apart.
    """

    trait: str
    level: Interval
    shot_sd: Interval
    session_sd: Interval
    session_mean_sd: Interval
    outside: float

    @property
    def plausible(self) -> bool:
        """Return whether the priors allow golf and, by and large, nothing else."""
        row = TRAITS[self.trait]
        used = (self.level.high90 - self.level.low90) / (row.high - row.low)
        return self.outside <= MOST_OUTSIDE and used >= LEAST_USED


def prior_draws(trait: str, *, draws: int = DRAWS, seed: int = 1) -> PriorDraws:
    """Return draws from the priors of one trait."""
    prior = TRAITS[trait].prior
    if prior is None:
        raise BadRequest(f"trait: found {trait!r}, wanted one of {', '.join(MODELLED)}")
    rng = np.random.default_rng([seed, MODELLED.index(trait)])

    def normal() -> Floats:
        return rng.standard_normal(draws)

    mu = prior.mean + prior.mean_sd * normal()
    spread = prior.between_scale * np.abs(normal())
    drift = prior.drift_scale * np.abs(normal())
    session_sd = prior.session_scale * np.abs(normal())
    log_mean = np.log(prior.shot_sd) + LOG_SHOT_SD_MEAN_SD * normal()
    log_spread = np.exp(np.log(prior.log_shot_sd_spread) + LOG_SPREAD_SD * normal())
    log_shot_sd = log_mean + log_spread * normal()
    level = mu + spread * normal() + drift * np.sqrt(WEEKS) * normal()
    session_mean = level + session_sd * normal()
    shot = session_mean + np.exp(log_shot_sd) * normal()
    return PriorDraws(mu, spread, drift, session_sd, log_shot_sd, level, session_mean, shot)


def prior_checks(
    traits: tuple[str, ...] = MODELLED, *, draws: int = DRAWS, seed: int = 1
) -> tuple[PriorCheck, ...]:
    """Return what the priors allow for each trait."""
    found = []
    for trait in traits:
        drawn, row = prior_draws(trait, draws=draws, seed=seed), TRAITS[trait]
        shot_sd = np.exp(drawn.log_shot_sd)
        mean_sd = np.sqrt(drawn.session_sd**2 + shot_sd**2 / SHOTS)
        outside = float(np.mean((drawn.shot < row.low) | (drawn.shot > row.high)))
        level, shots, days, means = (
            Interval.from_draws(values, row.unit)
            for values in (drawn.level, shot_sd, drawn.session_sd, mean_sd)
        )
        found.append(PriorCheck(trait, level, shots, days, means, outside))
    return tuple(found)
