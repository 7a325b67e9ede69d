"""What a stuck device is: one that gives the same reading over and over.

A player's readings of a trait by one method that are all equal through a session, or through
sessions on end, are a stuck device's when chance would hardly make them so. A shot rounded to
steps of ``h`` falls on the same step as another with a chance of at most ``q = P(|N(0, s)| < h/2)``
for shots of SD ``s``, so ``n`` readings are all equal with a chance below ``q^(n-1)``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import erf, sqrt
from statistics import median
from typing import NamedTuple

import numpy as np
import pandas as pd

from models.arrays import Bools
from models.traits import TRAITS
from tracker.readings.rounding import coarsest_step, reading_step
from tracker.readings.session_summary import methods_of
from tracker.readings.shot_frame import session_text

LEAST = 4
"""Equal readings below which nothing is called stuck (estimate, no source)."""
CHANCE = 0.01
"""A run of equal readings is a stuck device's when as many such runs as this, or fewer, are
expected by chance in the whole log (estimate, no source)."""
STEADY = 0.5
"""A session's scatter may be this share of the usual one before equal readings surprise
(estimate, no source)."""
SCATTER_FROM = 3
"""Readings from which a session tells a scatter."""

KEYS = ("player", "method", "session")


class _Cell(NamedTuple):
    """One player's readings of a trait by one method in one session."""

    player: str
    method: str
    session: pd.Timestamp
    readings: int
    low: float
    high: float
    scatter: float

    @property
    def key(self) -> tuple[str, str, pd.Timestamp]:
        """Return what the cell's rows have in common."""
        return self.player, self.method, self.session


@dataclass(frozen=True, slots=True)
class StuckReadings:
    """One session's readings of one trait that a stuck device gave; ``value`` in its unit."""

    player: str
    session: datetime
    trait: str
    value: float
    shots: int

    def as_json(self) -> Mapping[str, object]:
        """Return the finding as the command line prints it."""
        return {
            "player": self.player,
            "session": session_text(self.session),
            "trait": self.trait,
            "value": self.value,
            "shots": self.shots,
        }

    @property
    def sentence(self) -> str:
        """Return what was seen and what becomes of it."""
        trait = TRAITS[self.trait]
        alone = self.shots == 1
        count = "the one reading" if alone else f"all {self.shots} readings"
        again = ", as in the session beside it" if self.shots < LEAST else ""
        return (
            f"{self.player}, {session_text(self.session)}: {count} of {trait.label} "
            f"{'is' if alone else 'are'} {self.value:.4g} {trait.unit}{again}, which looks like a "
            f"stuck device; a fit leaves {'it' if alone else 'them'} out."
        )


def stuck_readings(shots: pd.DataFrame) -> tuple[StuckReadings, ...]:
    """Return what a stuck device gave in one club's shots, by player, session and trait."""
    return without_stuck(shots)[1]


def without_stuck(shots: pd.DataFrame) -> tuple[pd.DataFrame, tuple[StuckReadings, ...]]:
    """Return one club's shots with stuck readings taken as missing, and what they were.

    A stuck device tells neither where a player's mean was nor how the shots scattered.
    """
    found: list[StuckReadings] = []
    cleared = shots
    for trait in TRAITS:
        if trait not in shots or not shots[trait].notna().any():
            continue
        rows, mine = _stuck_rows(shots, trait)
        if mine:
            if cleared is shots:
                cleared = shots.copy()
            cleared[trait] = cleared[trait].mask(rows)
            found += mine
    return cleared, tuple(sorted(found, key=lambda s: (s.player, s.session, s.trait)))


def could_be_stuck(shots: pd.DataFrame) -> bool:
    """Return whether any session has equal readings alone, which only the squad's can judge."""
    for trait in TRAITS:
        known = shots[shots[trait].notna()]
        by_session = known.groupby(["player", "session"], sort=False)[trait]
        if (by_session.max() == by_session.min()).any():
            return True
    return False


def _stuck_rows(shots: pd.DataFrame, trait: str) -> tuple[Bools, tuple[StuckReadings, ...]]:
    """Return which rows hold a stuck reading of a trait, and the sessions they make."""
    known = shots[trait].notna().to_numpy()
    table = pd.DataFrame(
        {
            "player": shots["player"].to_numpy(dtype=object)[known],
            "method": methods_of(shots, trait).to_numpy(dtype=object)[known],
            "session": shots["session"].to_numpy()[known],
            "value": shots[trait].to_numpy(dtype=np.float64)[known],
        }
    )
    grouped = table.groupby(list(KEYS))["value"].agg(["size", "min", "max", "std"])
    cells = [_Cell(*row) for row in grouped.reset_index().itertuples(index=False, name=None)]
    rows = np.zeros(len(shots), dtype=np.bool_)
    runs = [run for run in _runs(cells) if sum(cell.readings for cell in run) >= LEAST]
    if not runs:
        return rows, ()
    usual = _usual_scatter(cells, trait)
    found: list[_Cell] = []
    for run in runs:
        scatter = usual.get(run[0].player, usual[None])
        if scatter is None:
            continue
        repeats = sum(cell.readings for cell in run) - 1
        if len(cells) * _same(_step(table, trait, run), scatter) ** repeats < CHANCE:
            found += run
    member = pd.MultiIndex.from_frame(table[list(KEYS)]).isin([cell.key for cell in found])
    rows[np.flatnonzero(known)[member]] = True
    return rows, tuple(
        StuckReadings(c.player, c.session.to_pydatetime(), trait, float(c.low), int(c.readings))
        for c in found
    )


def _runs(cells: Sequence[_Cell]) -> list[list[_Cell]]:
    """Return sessions of equal readings alone, those on end with one value together.

    ``cells`` lie in the order of players, methods and sessions.
    """
    runs: list[list[_Cell]] = []
    before: _Cell | None = None
    for cell in cells:
        if cell.low != cell.high:
            before = None
            continue
        if before is not None and (*before[:2], before.low) == (*cell[:2], cell.low):
            runs[-1].append(cell)
        else:
            runs.append([cell])
        before = cell
    return runs


def _usual_scatter(cells: Sequence[_Cell], trait: str) -> dict[str | None, float | None]:
    """Return the squad's usual scatter within a session under None, and steadier players' own."""
    told = [c for c in cells if c.readings >= SCATTER_FROM and c.high > c.low]
    prior = TRAITS[trait].prior
    if not told:
        return {None: prior.shot_sd if prior is not None else None}
    squad = median(c.scatter for c in told)
    usual: dict[str | None, float | None] = {None: squad}
    for player in {c.player for c in told}:
        own = median(c.scatter for c in told if c.player == player)
        usual[player] = min(squad, own)
    return usual


def _step(table: pd.DataFrame, trait: str, run: Sequence[_Cell]) -> float:
    """Return the coarsest step that a device may have rounded a run's readings to.

    The player's other readings by the method tell it, or the squad's; where neither is enough,
    the reading itself.
    """
    player, method = run[0].player, run[0].method
    by_method = table[table["method"] == method]
    inside = (by_method["player"] == player) & by_method["session"].isin(
        [cell.session for cell in run]
    )
    others = by_method[~inside]
    own = reading_step(trait, others.loc[others["player"] == player, "value"].to_numpy())
    squad = reading_step(trait, others["value"].to_numpy())
    told = [step for step in (own, squad) if step is not None]
    return (
        max(told) if told else coarsest_step(trait, float(by_method.loc[inside, "value"].iloc[0]))
    )


def _same(step: float, scatter: float) -> float:
    """Return the largest chance that a shot falls on a given step of the device."""
    return erf(step / (2 * sqrt(2) * STEADY * scatter))
