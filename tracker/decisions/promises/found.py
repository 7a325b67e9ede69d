"""Promised against found: what a later fit says of the changes of which something was promised.

The found move is the posterior of what the change did to the player, drift taken out, and counts
as the promise does: toward the target and no farther. A promise has held with the chance that the
found move lies inside the promised 90 % interval. It is too early to say while nothing was read
since the change, or while the found interval is nearly as wide as the promised one: the fit then
says again what the promise said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.cloud import DISTANCE_PARTS, player_cloud, spaced
from tracker.decisions.distance.levers import moved_by
from tracker.decisions.distance.worth import Standing
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.promises.carried import carried
from tracker.decisions.promises.coverage import Coverage, coverage_of, promised_over_found
from tracker.interval import Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.records import Change, Shot

Status = Literal["kept", "less", "more", "early"]

TOO_WIDE: Final = 0.75
"""Found intervals wider than this share of the promised ones are too early to judge by: less than
half of the variance is settled (estimate, no source)."""
HELD: Final = 0.5
"""Least chance of lying inside the promised interval at which a promise is called kept."""


@dataclass(frozen=True, slots=True)
class PromiseRow:
    """One promise against what was found of it; ``found`` and the rest are None where nothing was.

    ``why`` says why it is too early, empty otherwise.
    """

    promise: Promise
    status: Status
    found: Interval | None = None
    """The trait's move, its unit."""
    found_gain_m: Interval | None = None
    """What the found move is worth toward the target, m."""
    found_carry_m: Interval | None = None
    """What the read carry gained, at like speed and weather, m."""
    inside: float | None = None
    """Chance that the found move lies inside the promised interval; None while it is too early."""
    why: str = ""


@dataclass(frozen=True, slots=True)
class DrillPromises:
    """How the promises of one drill or other change turned out."""

    name: str
    trait: str
    coverage: Coverage
    promised_over_found: Interval | None


@dataclass(frozen=True, slots=True)
class PromiseBook:
    """Every promise, the earliest start first, and how they turned out as a whole."""

    rows: tuple[PromiseRow, ...]
    coverage: Coverage
    promised_over_found: Interval | None
    """Gains toward the target; None while the found sum may be nothing."""
    by_drill: tuple[DrillPromises, ...]

    @classmethod
    def empty(cls) -> "PromiseBook":
        """Return the book of no promise, for which no fit is needed."""
        return cls((), coverage_of(()), None, ())

    @property
    def judged(self) -> tuple[PromiseRow, ...]:
        """Return the promises for which it is not too early."""
        return tuple(row for row in self.rows if row.inside is not None)


@dataclass(frozen=True, eq=False, slots=True)
class _Found:
    """A row with the draws of its found gain, which only sums need."""

    row: PromiseRow
    gain: Floats | None = None


def promise_book(
    fit: Fit, promises: Sequence[Promise], logged: Sequence[Shot] = (), *, draws: int = 400
) -> PromiseBook:
    """Return promises against what a fit found; ``logged`` are shots whose carry was read."""
    ordered = sorted(promises, key=lambda p: (p.change.start, p.change.player, p.change.name))
    found = [_found(fit, promise, logged, draws) for promise in ordered]
    names = dict.fromkeys((f.row.promise.change.name, f.row.promise.trait) for f in found)
    return PromiseBook(
        rows=tuple(f.row for f in found),
        coverage=_coverage(found),
        promised_over_found=_ratio(found),
        by_drill=tuple(
            DrillPromises(name, trait, _coverage(own), _ratio(own))
            for name, trait in names
            if (own := [f for f in found if _is(f.row.promise, name, trait)])
        ),
    )


def _is(promise: Promise, name: str, trait: str) -> bool:
    return (promise.change.name, promise.trait) == (name, trait)


def _coverage(found: Sequence[_Found]) -> Coverage:
    return coverage_of([f.row.inside for f in found if f.row.inside is not None])


def _ratio(found: Sequence[_Found]) -> Interval | None:
    judged = [f for f in found if f.row.inside is not None and f.gain is not None]
    return promised_over_found(
        [f.row.promise.mean_gain_m for f in judged], [f.gain for f in judged if f.gain is not None]
    )


def _found(fit: Fit, promise: Promise, logged: Sequence[Shot], draws: int) -> _Found:
    change, trait = promise.change, promise.trait
    if not fit.knows(change.player) or trait not in fit.traits:
        return _early(promise, "the last fit does not hold it")
    if fit.problems_of(trait):
        return _early(promise, "the last fit is in doubt")
    one = fit.of(change.player, trait)
    effect = effect_of(one, change)
    if effect is None:
        return _early(promise, "the last fit has not seen it")
    since = [start for start in one.starts if start.date() >= change.start]
    if not one.counts[:, len(one.starts) - len(since) :].any():
        return _early(promise, f"no {TRAITS[trait].label} has been read since")
    kept = spaced(fit.samples, draws)
    before = _level_before(one, change, effect)[kept]
    move = moved_by(effect[kept], before, np.full(kept.size, promise.target))
    found = Interval.from_draws(move, TRAITS[trait].unit)
    gain = _gain(fit, promise, before, move)
    early = _width(found) > TOO_WIDE * _width(promise.move)
    inside = float(np.mean((move >= promise.move.low90) & (move <= promise.move.high90)))
    row = PromiseRow(
        promise=promise,
        status="early" if early else _status(promise.move, move, inside),
        found=found,
        found_gain_m=None if gain is None else Interval.from_draws(gain, "m"),
        found_carry_m=None if gain is None else carried(fit, change, logged),
        inside=None if early else inside,
        why="too little has been read to tell" if early else "",
    )
    return _Found(row, gain)


def _early(promise: Promise, why: str) -> _Found:
    return _Found(PromiseRow(promise, "early", why=why))


def effect_of(one: PlayerTrait, change: Change) -> Floats | None:
    """Return draws of what a change did to its player; None where the fit does not know it."""
    same = [
        effect
        for known, effect in zip(one.changes, one.change_effect, strict=True)
        if (known.start, known.kind, known.name, known.trait)
        == (change.start, change.kind, change.name, change.trait)
    ]
    return same[0] if same else None


def _level_before(one: PlayerTrait, change: Change, effect: Floats) -> Floats:
    """Return the level when a change began: of the last session by then, its effect taken out."""
    by_then = [i for i, start in enumerate(one.starts) if start.date() <= change.start]
    place = by_then[-1] if by_then else 0
    acting = one.starts[place].date() >= change.start
    return one.path[:, place] - (effect if acting else 0.0)


def _gain(fit: Fit, promise: Promise, before: Floats, move: Floats) -> Floats | None:
    """Return draws of what the found move is worth; None where the physics is in doubt."""
    if fit.problems_of(*DISTANCE_PARTS):
        return None
    cloud = player_cloud(fit, promise.change.player, draws=move.size)
    then = cloud.moved(promise.trait, before)
    return Standing.of(then, TOWARD).gain(cloud.moved(promise.trait, before + move)).value


def _status(promised: Interval, move: Floats, inside: float) -> Status:
    if inside >= HELD:
        return "kept"
    below = float(np.mean(move < promised.low90))
    beyond = float(np.mean(move > promised.high90))
    if promised.median < 0:
        below, beyond = beyond, below
    return "less" if below >= beyond else "more"


def _width(interval: Interval) -> float:
    return interval.high90 - interval.low90
