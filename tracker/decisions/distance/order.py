"""In what order faults come: chances of being best, regret, ties, and what would separate them."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from models.arrays import Floats
from models.drive.parameters import DriveParameters

CLEAR_CHANCE = 0.8
CLEAR_REGRET_M = 0.5
"""A first fault is clear from this P(best) up, or from this expected regret down."""
TIED_CHANCE = 0.9
"""Cumulative P(best) of the faults named when none is clear."""


@dataclass(frozen=True, slots=True)
class Order:
    """Faults by mean gain per session of effort, best first, with how sure that is."""

    traits: tuple[str, ...]
    p_best: Mapping[str, float]
    p_top2: Mapping[str, float]
    regret_m: Mapping[str, float]

    @property
    def clear(self) -> bool:
        """Return whether the first can be named alone."""
        first = self.traits[0]
        return self.p_best[first] >= CLEAR_CHANCE or self.regret_m[first] <= CLEAR_REGRET_M

    @property
    def by_chance(self) -> tuple[str, ...]:
        """Return the faults by their chance of being best."""
        return tuple(sorted(self.traits, key=lambda t: -self.p_best[t]))

    @property
    def tied(self) -> tuple[str, ...]:
        """Return the first alone when clear, else the fewest faults with cumulative P(best) .9."""
        if self.clear:
            return self.traits[:1]
        named: list[str] = []
        for trait in self.by_chance:
            named.append(trait)
            if sum(self.p_best[t] for t in named) >= TIED_CHANCE - 1e-9:
                break
        chosen = {*named, self.traits[0]}
        return tuple(t for t in self.traits if t in chosen)


def first_fault_order(gains_m: Mapping[str, Floats], efforts: Mapping[str, float]) -> Order:
    """Return the order of faults from draws of their gains; all from the same posterior draws.

    A draw in which several are best counts in equal parts for each. Regret of a fault is
    effort x E[max over faults of gain per session - its own gain per session]: the metres missed
    over the sessions that it takes.
    """
    traits = tuple(gains_m)
    if not traits:
        return Order((), {}, {}, {})
    rate = np.stack([gains_m[t] / efforts[t] for t in traits], axis=1)
    ahead = (rate[:, None, :] > rate[:, :, None]).sum(axis=2)
    level = (rate[:, None, :] == rate[:, :, None]).sum(axis=2)
    best = (ahead == 0) / level
    top2 = np.clip(2 - ahead, 0, level) / level
    missed = (rate.max(axis=1)[:, None] - rate).mean(axis=0)
    by_rate = sorted(range(len(traits)), key=lambda i: -rate[:, i].mean())
    return Order(
        traits=tuple(traits[i] for i in by_rate),
        p_best={t: float(best[:, i].mean()) for i, t in enumerate(traits)},
        p_top2={t: float(top2[:, i].mean()) for i, t in enumerate(traits)},
        regret_m={t: float(missed[i] * efforts[t]) for i, t in enumerate(traits)},
    )


def separating_reading(
    gap_m: Floats, levels: Mapping[str, Floats], physics: DriveParameters
) -> str | None:
    """Return the trait whose level explains most of the spread of a gap between two gains.

    Explained is the adjusted R-squared of the gap on a quadratic in the level. None when the
    physics parameters together explain more than any level does.
    """
    explained = {
        trait: adjusted_r2(gap_m, np.stack([x, (x - x.mean()) ** 2], axis=1))
        for trait, x in levels.items()
    }
    best = max(explained, key=lambda t: explained[t])
    drawn = [
        value
        for f in fields(physics)
        if isinstance(value := getattr(physics, f.name), np.ndarray) and value.ndim
    ]
    if drawn and adjusted_r2(gap_m, np.stack(drawn, axis=1)) > explained[best]:
        return None
    return best


def adjusted_r2(y: Floats, x: Floats) -> float:
    """Return the adjusted R-squared of least squares of ``y`` on the columns of ``x``; least 0."""
    spread = y.var()
    n = y.size
    centred = x - x.mean(axis=0)
    rank = int(np.linalg.matrix_rank(centred))
    if not spread > 0 or n <= rank + 1:
        return 0.0
    solution, *_ = np.linalg.lstsq(centred, y - y.mean(), rcond=None)
    left = (y - y.mean() - centred @ solution).var()
    return max(0.0, float(1 - (left / spread) * (n - 1) / (n - 1 - rank)))
