"""How far a player has come: the level at the first sessions of a season against the latest ones.

A move is told apart as the model knows it: sudden steps (logged, or found by the model with when
and how likely) and what creeps beside them. In distance both ends are flown through the player's
own cloud of shots at like club speed, so that what is left is how the ball is struck.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from models.arrays import Floats, Indices
from models.traits import DELIVERY, TRAITS
from tracker.decisions.distance.cloud import player_cloud, spaced
from tracker.decisions.distance.yardstick import TOWARD, Yardstick, outcome
from tracker.decisions.verdict.verdict import OFFERED
from tracker.decisions.verdict.windows import Split, default_split
from tracker.errors import NotEnoughData
from tracker.interval import Interval
from tracker.player_trait import PlayerTrait, Window
from tracker.posterior import Fit

DRAWS, SHOTS = 120, 16
"""Draws and shots that the ends of a season are flown with."""
SPEED = "club_speed_mps"
EPOCH = date(1970, 1, 1).toordinal()

SURE = 0.9
"""Chance from which on there surely was a change that nobody logged."""

StepKind = Literal["logged", "found"]


@dataclass(frozen=True, slots=True)
class Step:
    """A change of level at one moment."""

    kind: StepKind
    name: str
    """As it was logged; empty for what nobody logged."""
    between: tuple[date, date]
    """Its day twice where it was logged, else the last day before it and the first after it."""
    size: Interval
    """How far it moved the level, trait's unit."""
    chance: float
    """Chance that there was one at all, 0 to 1; 1 where it was logged."""
    settled: bool
    """Whether the way it went, if there was one, is 90 % sure."""

    @property
    def sure(self) -> bool:
        """Return whether it is 90 % sure that there was one and which way it went."""
        return self.settled and self.chance >= SURE


@dataclass(frozen=True, slots=True)
class StartNow:
    """One player's trait at the first and at the latest sessions, the trait's unit."""

    player: str
    trait: str
    start: Interval
    now: Interval
    change: Interval
    first: tuple[date, date]
    """First and last day of the sessions that ``start`` averages."""
    latest: tuple[date, date]
    steps: tuple[Step, ...]
    """The oldest first."""
    creep: Interval | None
    """What is left beside the steps, a month; None with fewer than two days."""


def ends_of(one: PlayerTrait, since: date | None = None) -> Split | None:
    """Return the first and the latest third of a trait's sessions with readings, as places.

    Two days each where there are four; None with readings on fewer than two days.
    """
    read = np.intersect1d(one.places_read, one.places_since(since))
    split = default_split(days_of(one, read), ())
    return None if split is None else Split(read[split.before], read[split.after], None)


def start_now(fit: Fit, player: str, trait: str, since: date | None = None) -> StartNow | None:
    """Return how far a player's trait has come since a day, or over all sessions.

    None with readings on fewer than two days.
    """
    one, unit = fit.of(player, trait), TRAITS[trait].unit
    ends = ends_of(one, since)
    if ends is None:
        return None
    first, latest = (mean_level(one, places) for places in (ends.before, ends.after))
    places = one.places_since(since)
    return StartNow(
        player=player,
        trait=trait,
        start=Interval.from_draws(first, unit),
        now=Interval.from_draws(latest, unit),
        change=Interval.from_draws(latest - first, unit),
        first=(_day(one, ends.before[0]), _day(one, ends.before[-1])),
        latest=(_day(one, ends.after[0]), _day(one, ends.after[-1])),
        steps=steps_of(one, since),
        creep=_creep(one, places),
    )


def steps_of(one: PlayerTrait, since: date | None = None) -> tuple[Step, ...]:
    """Return the sudden changes inside a player's sessions: logged, and likelier than not found."""
    places = one.places_since(since)
    if not places.size:
        return ()
    unit = TRAITS[one.trait].unit
    begin, end = _day(one, places[0]), _day(one, places[-1])
    found = [
        _step("logged", change.name, (change.start, change.start), effect, unit, 1.0)
        for change, effect in zip(one.changes, one.change_effect, strict=True)
        if begin < change.start <= end
    ]
    # looked up only where it is likelier than not: where it lies takes longer than whether it is
    unlogged = one.unlogged() if one.unlogged_chance >= OFFERED else None
    if unlogged is not None and begin < unlogged.between[1] <= end:
        found.append(_step("found", "", unlogged.between, unlogged.size, unit, unlogged.chance))
    return tuple(sorted(found, key=lambda step: step.between))


def start_now_distance(
    fit: Fit,
    player: str,
    *,
    yardstick: Yardstick = TOWARD,
    since: date | None = None,
    seed: int = 1,
) -> Interval | None:
    """Return how much better a player's drives are than at the first sessions, by a yardstick.

    At like club speed: today's stands on both sides. A trait read on fewer than two days stands
    still. None where no other trait was read on two days. In m, or points.
    """
    cloud = player_cloud(fit, player, seed=seed, draws=DRAWS, shots=SHOTS)
    kept = spaced(fit.samples, DRAWS)
    first, latest = cloud.level.copy(), cloud.level.copy()
    moved = False
    for k, trait in enumerate(DELIVERY):
        one = fit.of(player, trait)
        ends = ends_of(one, since) if trait != SPEED else None
        if ends is not None:
            first[:, k] = mean_level(one, ends.before)[kept]
            latest[:, k] = mean_level(one, ends.after)[kept]
            moved = True
    if not moved:
        return None
    ways = (outcome(replace(cloud, level=level), yardstick).value for level in (first, latest))
    before, after = ways
    return Interval.from_draws(after - before, yardstick.unit)


def squad_start_now(
    fit: Fit, players: Collection[str], trait: str, since: date | None = None
) -> tuple[StartNow, ...]:
    """Return those of some players who have readings of a trait on two days, in their order."""
    rows = (start_now(fit, name, trait, since) for name in players if fit.of(name, trait).is_read)
    return tuple(row for row in rows if row is not None)


def days_of(one: PlayerTrait, places: Indices) -> list[int]:
    """Return the days of some sessions, as ordinals."""
    days = one.times[places].astype("datetime64[D]").astype(np.int64)
    return [int(day) for day in days + EPOCH]


def scatter_windows(
    fit: Fit, players: Collection[str], trait: str, since: date | None = None
) -> dict[str, tuple[Window, Window]]:
    """Return the first and the latest third of each player's sessions as windows of days."""
    found = {}
    for name in players:
        one = fit.of(name, trait)
        ends = ends_of(one, since)
        if ends is not None:
            before, after = (
                Window(_day(one, places[0]), _day(one, places[-1]))
                for places in (ends.before, ends.after)
            )
            found[name] = before, after
    return found


def mean_level(one: PlayerTrait, places: Indices) -> Floats:
    """Return the level averaged over some sessions, one a draw."""
    return np.asarray(one.level[:, places].mean(axis=1, dtype=np.float64))


def _step(
    kind: StepKind,
    name: str,
    between: tuple[date, date],
    size: Floats,
    unit: str,
    chance: float,
) -> Step:
    interval = Interval.from_draws(size, unit)
    settled = interval.low90 > 0 or interval.high90 < 0
    return Step(kind, name, between, interval, chance, settled)


def _creep(one: PlayerTrait, places: Indices) -> Interval | None:
    try:
        return Interval.from_draws(one.trend(places), f"{TRAITS[one.trait].unit} per month")
    except NotEnoughData:
        return None


def _day(one: PlayerTrait, place: int) -> date:
    return date.fromordinal(days_of(one, np.array([place]))[0])
