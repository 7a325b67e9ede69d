"""In what order levers come: chances of being best, regret, ties."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from models.arrays import Floats

CLEAR_CHANCE = 0.8
CLEAR_REGRET_M = 0.5
"""A first lever is clear from this P(best) up, or from this expected regret (m, points) down."""
TIED_CHANCE = 0.9
"""Cumulative P(best) of the levers named when none is clear."""


@dataclass(frozen=True, slots=True)
class Order:
    """Levers by mean gain per session of effort, best first, with how sure that is."""

    keys: tuple[str, ...]
    p_best: Mapping[str, float]
    p_top2: Mapping[str, float]
    regret_m: Mapping[str, float]
    at_edge: frozenset[str] = frozenset()
    """Levers whose best level lies at an edge of what was looked at: none of them is clear."""

    @property
    def clear(self) -> bool:
        """Return whether the first can be named alone."""
        first = self.keys[0]
        sure = self.p_best[first] >= CLEAR_CHANCE or self.regret_m[first] <= CLEAR_REGRET_M
        return sure and first not in self.at_edge

    @property
    def by_chance(self) -> tuple[str, ...]:
        """Return the levers by their chance of being best."""
        return tuple(sorted(self.keys, key=lambda key: -self.p_best[key]))

    @property
    def tied(self) -> tuple[str, ...]:
        """Return the first alone when clear, else the fewest levers with cumulative P(best) .9."""
        if self.clear:
            return self.keys[:1]
        named: list[str] = []
        for key in self.by_chance:
            named.append(key)
            if sum(self.p_best[k] for k in named) >= TIED_CHANCE - 1e-9:
                break
        chosen = {*named, self.keys[0]}
        return tuple(key for key in self.keys if key in chosen)


def lever_order(
    gains: Mapping[str, Floats],
    efforts: Mapping[str, float],
    at_edge: frozenset[str] = frozenset(),
) -> Order:
    """Return the order of levers from draws of their gains; all from the same posterior draws.

    A draw in which several are best counts in equal parts for each. Regret of a lever is
    effort x E[max over levers of gain per session - its own gain per session]: what is missed over
    the sessions that it takes.
    """
    keys = tuple(gains)
    if not keys:
        return Order((), {}, {}, {})
    rate = np.stack([gains[key] / efforts[key] for key in keys], axis=1)
    ahead = (rate[:, None, :] > rate[:, :, None]).sum(axis=2)
    level = (rate[:, None, :] == rate[:, :, None]).sum(axis=2)
    best = (ahead == 0) / level
    top2 = np.clip(2 - ahead, 0, level) / level
    missed = (rate.max(axis=1)[:, None] - rate).mean(axis=0)
    by_rate = sorted(range(len(keys)), key=lambda i: -rate[:, i].mean())
    return Order(
        keys=tuple(keys[i] for i in by_rate),
        p_best={key: float(best[:, i].mean()) for i, key in enumerate(keys)},
        p_top2={key: float(top2[:, i].mean()) for i, key in enumerate(keys)},
        regret_m={key: float(missed[i] * efforts[key]) for i, key in enumerate(keys)},
        at_edge=at_edge & frozenset(keys),
    )
