"""How far predictions of the ball miss, with what luck of sessions and players leaves open."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.arrays import Floats
from tracker.interval import Interval
from tracker.posterior import BallCheck
from tracker.units import Display

RESAMPLED = 2000
FEWEST_PLAYERS = 4
"""Players from which on misses are resampled by player rather than by session."""


@dataclass(frozen=True, eq=False, slots=True)
class Miss:
    """How far predictions of one quantity miss, in the shown unit."""

    trait: str
    sessions: int
    players: int
    learned: Interval
    published: Interval
    luck: Interval
    """What the luck of few shots alone would make it: root mean square of the sessions' errors."""
    explained: Interval
    """Share of the squares of all sessions around their mean."""
    own: Interval
    """The same of each player's sessions around that player's own mean."""
    bias: Interval
    """Read less predicted, on average."""


def miss(checks: Sequence[BallCheck], how: Display) -> Miss:
    """Return how far predictions miss: root mean square, with 90 % by resampling players.

    ``explained`` is 1 - sum of squared misses / sum of squares around the mean reading; for
    ``own`` both are taken around each player's own mean.
    """
    read = np.array([c.observed for c in checks]) * how.factor
    learned = read - np.array([c.predicted for c in checks]) * how.factor
    published = read - np.array([c.uncalibrated for c in checks]) * how.factor
    errors = np.array([c.standard_error for c in checks]) * how.factor
    weight = _resampled([c.player for c in checks])
    total = weight.sum(axis=1)

    def typical(away: Floats) -> Floats:
        return np.asarray(np.sqrt(weight @ away**2 / total))

    players = np.array([c.player for c in checks])
    own_read, own_miss = (_around_own(values, players) for values in (read, learned))
    apart = read - read.mean()
    return Miss(
        trait=checks[0].trait,
        sessions=len(checks),
        players=len({c.player for c in checks}),
        learned=_around(float(np.sqrt((learned**2).mean())), typical(learned), how.unit),
        published=_around(float(np.sqrt((published**2).mean())), typical(published), how.unit),
        luck=_around(float(np.sqrt((errors**2).mean())), typical(errors), how.unit),
        explained=_share(learned, apart, weight),
        own=_share(own_miss, own_read, weight),
        bias=_around(float(learned.mean()), weight @ learned / total, how.unit),
    )


def _around(value: float, resampled: Floats, unit: str) -> Interval:
    """Return a value with the 5 % and 95 % points of its resampled values."""
    if not resampled.size:
        return Interval(value, value, value, unit)
    low, high = np.quantile(resampled, [0.05, 0.95])
    return Interval(value, min(float(low), value), max(float(high), value), unit)


def _around_own(values: Floats, players: NDArray[np.str_]) -> Floats:
    """Return values less the mean of their own player's."""
    _, place = np.unique(players, return_inverse=True)
    return np.asarray(values - (np.bincount(place, values) / np.bincount(place))[place])


def _share(missed: Floats, apart: Floats, weight: Floats) -> Interval:
    """Return the share of squares that is explained; not a number where nothing differs."""
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = 1 - (weight @ missed**2) / (weight @ apart**2)
        share = float(1 - np.square(missed).sum() / np.square(apart).sum())
    if not np.isfinite(share):
        return Interval(np.nan, np.nan, np.nan, "")
    return _around(share, shares[np.isfinite(shares)], "")


def _resampled(players: Sequence[str]) -> Floats:
    """Return how often each session counts in each resample, whole players at a time."""
    names = np.array(players)
    known, place = np.unique(names, return_inverse=True)
    rng = np.random.default_rng(1)
    groups = place if known.size >= FEWEST_PLAYERS else np.arange(names.size)
    count = int(groups.max()) + 1
    drawn = rng.multinomial(count, np.full(count, 1 / count), size=RESAMPLED)
    return drawn[:, groups].astype(np.float64)
