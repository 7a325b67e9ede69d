"""What the draws of a fit say of one trait: of one player's, and of what the squad shares.

Draws have shape ``(sample,)`` unless said otherwise, in the trait's stored unit. Draw ``i`` of one
quantity belongs with draw ``i`` of every other quantity of the same fit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from models.arrays import Floats, Indices
from models.traits import TRAITS
from tracker.errors import NotEnoughData
from tracker.interval import INTERVAL_PROB
from tracker.records import Change

"""Which of a player's sessions, oldest first, counted from 0."""

WEEK = np.timedelta64(7 * 24 * 3600, "s")
DAYS_PER_MONTH = 365.25 / 12


@dataclass(frozen=True, slots=True)
class Window:
    """Days from ``start`` to ``end``, both included."""

    start: date
    end: date

    def __post_init__(self) -> None:
        if self.end < self.start:
            msg = f"a window ends before it starts: {self.start}:{self.end}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class SessionMean:
    """The raw mean of one session as read (no shrinkage), its standard error and count."""

    start: datetime
    mean: float
    standard_error: float
    shots: int


@dataclass(frozen=True, slots=True)
class UnloggedChange:
    """What the model itself holds of a sudden change that nobody logged."""

    chance: float
    """Chance that there was one, 0 to 1."""
    between: tuple[date, date]
    """Days of the last session before it and the first after it: the shortest run of sessions
    that holds it with 90 % (given that there was one)."""
    size: Floats
    """Draws of its size where there was one, in the trait's unit."""


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class TraitDraws:
    """What all players share of a trait."""

    trait: str
    trait_number: int
    """Number of the trait within the fit, for random numbers of its own."""
    methods: tuple[str, ...]
    """Reading methods by name, the reference first."""
    bias: Floats
    """Bias of each reading method, ``(sample, method)``; 0 for the reference."""
    reading_sd: Floats
    """SD of one reading by each method, ``(method,)``."""
    mu: Floats
    """Mean of the players' baselines."""
    spread: Floats
    """SD of the players' baselines."""
    drift: Floats
    """SD of a level's random walk, per square root of a week."""
    session_sd: Floats
    """SD from day to day."""
    day_alike: Floats
    """Correlation of neighbouring sessions' effects."""
    jump_sd: Floats
    """Size of changes that nobody logged."""
    jump_chance: Floats
    """Chance of one in half a year, 0 to 1."""
    effect_sd: Floats
    """How far players differ about a drill's mean effect."""
    drill_scale: Floats
    """How far drills' mean effects differ about 0."""
    drill_effect: Mapping[str, Floats]
    """Mean effect over players of every drill (or other change), by name."""

    def mean_bias(self, counts: Indices) -> Floats:
        """Return the bias of sessions' means by their readings of each method.

        ``counts`` (method, session); the bias is ``(sample, session)``, 0 where nothing was read.
        """
        return np.asarray(self.bias @ (counts / np.maximum(counts.sum(axis=0), 1)))

    def drill_effects(self, names: list[str]) -> Floats:
        """Return the mean effects of some drills side by side, ``(sample, drill)``."""
        return np.stack([self.drill_effect[n] for n in names] or [self.mu], 1)[:, : len(names)]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class PlayerTrait(TraitDraws):
    """One trait of one player: its level at every session, what was read, what acts on it."""

    player: str
    player_number: int
    """Number of the player within the fit, for random numbers of its own."""
    fit_seed: int
    times: NDArray[np.datetime64]
    """Session starts to the second, oldest first, ``(session,)``."""
    level: NDArray[np.float32]
    """Level at each session as it is kept, ``(sample, session)``; see ``path``."""
    shot_sd: Floats
    """SD from shot to shot, reading error taken out."""
    counts: Indices
    """Readings, ``(method, session)``."""
    raw_mean: Floats
    """Means as read, ``(session,)``; NaN where nothing was."""
    raw_se: Floats
    """Their standard errors, ``(session,)``; NaN likewise."""
    changes: tuple[Change, ...]
    """The player's logged changes that act on the trait."""
    change_effect: tuple[Floats, ...]
    """What each of ``changes`` did, drift taken out."""
    jump_at: NDArray[np.int16]
    """Session before which an unlogged change came; 0 for a steady one, -1 for none."""
    jump: NDArray[np.float32]
    """Its size; a week where it is steady."""

    @property
    def starts(self) -> tuple[datetime, ...]:
        """Return the session starts, oldest first."""
        return tuple(t.item() for t in self.times)

    @property
    def readings(self) -> int:
        """Return how many readings there are."""
        return int(self.counts.sum())

    @property
    def is_read(self) -> bool:
        """Return whether there is any reading; if not, the squad or the prior speaks."""
        return bool(self.counts.any())

    @property
    def places_read(self) -> Indices:
        """Return the sessions with at least one reading."""
        return np.flatnonzero(self.counts.sum(axis=0) > 0)

    @property
    def path(self) -> Floats:
        """Return the level at every session, ``(sample, session)``."""
        return self.level.astype(np.float64)

    @property
    def now(self) -> Floats:
        """Return the level at the last session."""
        return self.level[:, -1].astype(np.float64)

    def places_in(self, window: Window) -> Indices:
        """Return the sessions in a window with at least one reading."""
        days = self.times.astype("datetime64[D]")
        inside = (days >= np.datetime64(window.start)) & (days <= np.datetime64(window.end))
        return np.flatnonzero(inside & (self.counts.sum(axis=0) > 0))

    def places_since(self, day: date | None) -> Indices:
        """Return the sessions from a day on, read or not; all of them for None."""
        if day is None:
            return np.arange(len(self.times))
        return np.flatnonzero(self.times >= np.datetime64(day))

    def has_begun(self, change: Change) -> bool:
        """Return whether the player was seen on or after the day on which a change began."""
        return change.start <= self.starts[-1].date()

    def methods_in(self, places: Indices) -> frozenset[str]:
        """Return the names of the reading methods used in some sessions."""
        used = self.counts[:, places].sum(axis=1) > 0
        return frozenset(name for name, yes in zip(self.methods, used, strict=True) if yes)

    def session_means(self) -> tuple[SessionMean, ...]:
        """Return the raw session means, oldest first, sessions without readings left out."""
        rows = zip(self.starts, self.raw_mean, self.raw_se, self.counts.sum(axis=0), strict=True)
        return tuple(
            SessionMean(start, float(mean), float(error), int(count))
            for start, mean, error, count in rows
            if count
        )

    def at(self, moment: datetime | None = None) -> Floats:
        """Return the level at a moment (default: the last session).

        A midnight stands for its day: a session of that day is meant, the last if there are
        several. Between sessions the random walk is bridged; outside them it walks on, so the
        draws widen with the distance from the nearest session. The same moment always gives the
        same draws.
        """
        if moment is None:
            return self.now
        times = self.times
        if moment.time() == time.min:
            moment = max((s for s in self.starts if s.date() == moment.date()), default=moment)
        now = np.datetime64(moment, "s")
        path = self.path
        walk = path - np.stack([self._steps(t) for t in times], axis=1)
        after = int(np.searchsorted(times, now))
        if after < len(times) and times[after] == now:
            return path[:, after]
        seed = (self.fit_seed, self.player_number, self.trait_number, int(now.astype(np.int64)))
        noise = np.random.default_rng([abs(part) for part in seed]).standard_normal(len(path))
        if after == 0 or after == len(times):
            near = 0 if after == 0 else -1
            weeks = abs(float((now - times[near]) / WEEK))
            value = walk[:, near] + self.drift * np.sqrt(weeks) * noise
        else:
            before, whole = times[after - 1], float((times[after] - times[after - 1]) / WEEK)
            part = float((now - before) / WEEK)
            value = walk[:, after - 1] + (walk[:, after] - walk[:, after - 1]) * part / whole
            value += self.drift * np.sqrt(part * (whole - part) / whole) * noise
        return np.asarray(value + self._steps(now), dtype=np.float64)

    def tendency(self, window: Window) -> Floats:
        """Return the tendency in a window: the level averaged over its sessions with readings.

        Raises NotEnoughData where there are none.
        """
        places = self.places_in(window)
        if not places.size:
            raise NotEnoughData(
                f"{self.player} has no session with {TRAITS[self.trait].label} readings from "
                f"{window.start} to {window.end}; pick dates that hold at least one session"
            )
        return self.level[:, places].astype(np.float64).mean(axis=1)

    @property
    def unlogged_chance(self) -> float:
        """Return the chance that something changed at once that nobody logged, 0 to 1."""
        return float(np.mean(self.jump_at > 0))

    def trend(self, places: Indices | None = None) -> Floats:
        """Return how fast the level creeps: the least-squares slope over the sessions, per month.

        Sudden steps are taken out first, so that a change at one moment is no trend. ``places``
        are the sessions that count, all of them unless given. Raises NotEnoughData where these
        are of one moment.
        """
        kept = np.arange(len(self.times)) if places is None else places
        every = self.starts
        starts = [every[place] for place in kept]
        months = np.array([(s - every[0]) / timedelta(days=DAYS_PER_MONTH) for s in starts])
        centred = months - (months.mean() if months.size else 0.0)
        spread = float(centred @ centred)
        if spread == 0:
            raise NotEnoughData(f"{self.player} has one session; a trend needs at least two dates")
        slope = self.level[:, kept].astype(np.float64) @ centred
        # a step's share of the slope, rather than every path without it: a squad asks often
        for change, effect in zip(self.changes, self.change_effect, strict=True):
            slope -= effect * centred[self.times[kept] >= np.datetime64(change.start)].sum()
        tail = np.append(np.cumsum(centred[::-1])[::-1], 0.0)
        after = tail[np.searchsorted(kept, np.arange(len(self.times)))]
        at = self.jump_at.astype(np.int64)
        slope -= np.where(at > 0, self.jump.astype(np.float64) * after[np.maximum(at, 0)], 0.0)
        return np.asarray(slope / spread, dtype=np.float64)

    def unlogged(self) -> UnloggedChange | None:
        """Return when and how large an unlogged jump was; None where no draw holds one."""
        at, starts = self.jump_at.astype(np.int64), self.starts
        some = at > 0
        if not some.any():
            return None
        share = np.bincount(at[some], minlength=len(starts)) / some.sum()
        ladder = np.concatenate([[0.0], np.cumsum(share)])
        runs = [
            (last - first, -(ladder[last + 1] - ladder[first]), first, last)
            for first in range(1, len(starts))
            for last in range(first, len(starts))
            if ladder[last + 1] - ladder[first] >= INTERVAL_PROB - 1e-9
        ]
        _, _, first, last = min(runs)
        return UnloggedChange(
            chance=float(some.mean()),
            between=(starts[first - 1].date(), starts[last].date()),
            size=self.jump[some].astype(np.float64),
        )

    def _steps(self, now: np.datetime64) -> Floats:
        """Return the summed effects of the changes that had started by ``now``."""
        total = self._unlogged_by(now)
        for change, effect in zip(self.changes, self.change_effect, strict=True):
            if np.datetime64(change.start) <= now:
                total += effect
        return total

    def _unlogged_by(self, now: np.datetime64) -> Floats:
        """Return what an unlogged change had added; outside the season it stands still."""
        starts, at = self.times, self.jump_at.astype(np.int64)
        size = self.jump.astype(np.float64)
        steady = float((np.clip(now, starts[0], starts[-1]) - starts[0]) / WEEK)
        begun = starts[np.clip(at, 0, len(starts) - 1)] <= now
        return np.where(at == 0, size * steady, np.where((at > 0) & begun, size, 0.0))
