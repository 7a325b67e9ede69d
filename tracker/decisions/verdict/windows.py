"""Which sessions two windows hold when nobody has picked any."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.arrays import Floats, Indices
from tracker.decisions.verdict.guards import MIN_SESSIONS

OFFERED_FROM = 0.5
"""Chance of an unlogged jump from which the model offers its dates as windows."""
HELD = 0.9
"""Share of an unlogged jump's chance that lies between the windows offered."""


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """Places of the sessions before and after, and the day of the change that they meet at."""

    before: Indices
    after: Indices
    change: int | None

    @property
    def judgeable(self) -> bool:
        """Return whether both windows hold enough sessions for a verdict."""
        return min(self.before.size, self.after.size) >= MIN_SESSIONS


def default_split(days: Sequence[int], changes: Sequence[int]) -> Split | None:
    """Return the windows to compare when nobody has picked any; None with fewer than two days.

    ``days`` are the days on which the trait was read, in order, ``changes`` those of the logged
    changes that touch it. The windows meet at the last change that has sessions on both sides (the
    earlier one reaching back to the change before it); without one they are the first and the
    latest third of the days, two days each where there are four.
    """
    own, unique, starts = np.asarray(days), sorted(set(days)), sorted(set(changes))
    for place in reversed(range(len(starts))):
        later = own >= starts[place]
        if later.any() and not later.all():
            since = ~later & (own >= starts[place - 1]) if place else ~later
            first = since if since.any() else ~later
            return Split(np.flatnonzero(first), np.flatnonzero(later), starts[place])
    if len(unique) < 2:
        return None
    third = min(len(unique) // 2, max(2, round(len(unique) / 3)))
    first, later = own <= unique[third - 1], own >= unique[-third]
    return Split(np.flatnonzero(first), np.flatnonzero(later), None)


def offered_split(jump: Floats) -> Split | None:
    """Return the windows about an unlogged jump; None where one is less likely than not.

    ``jump`` is the chance that it came before each session read, 0 for the first; the sessions
    inside the shortest run of places that holds it with 90 % belong to neither window.
    """
    chance = float(jump.sum())
    if chance < OFFERED_FROM:
        return None
    first, last = shortest_run(jump / chance)
    return Split(np.arange(first), np.arange(last, jump.size), None)


def shortest_run(share: Floats) -> tuple[int, int]:
    """Return the first and last place of the shortest run that holds 90 %; of equals the likeliest.

    ``share`` adds up to 1.
    """
    ladder = np.concatenate([[0.0], np.cumsum(share)])
    places = np.arange(1, share.size)
    held = ladder[places[None, :] + 1] - ladder[places[:, None]]
    length = np.where(held >= HELD - 1e-9, places[None, :] - places[:, None], share.size)
    best = np.lexsort([-held.ravel(), length.ravel()])[0]
    return int(places[best // places.size]), int(places[best % places.size])
