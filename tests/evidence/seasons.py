"""Squads whose truth is known, drawn from a process that is not the model's.

Shots have Student-t(5) tails; the days' effects follow an autoregression of .3; sessions are
missed and once there is a long break; a player may switch reading method; what a drill does is
nothing for some and not normal for the rest; levels between sessions stand still or creep.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats
from models.traits import MODELLED
from tracker.records import Change

Kind = Literal["plain", "sham", "deaf", "moved", "step4", "step8", "step12", "improver"]
"""Unchanged without a drill; with a drill that does nothing to anybody; unmoved by a drill that
works for others; moved by it; a step of 4, 8 or 12 mm that nobody logged; 1 mm a week."""

TRAIT = "strike_toe_mm"
SESSIONS = 12
SHOT_SD_MM, SESSION_SD_MM, BETWEEN_SD_MM = 9.0, 3.0, 6.0
TAIL_DF, NEIGHBOURS = 5, 0.3
READING_SD_MM = {"photo": 1.0, "spray": 2.5}
KINDS: tuple[Kind, ...] = (
    *("plain",) * 5,
    *("sham",) * 2,
    *("deaf",) * 2,
    *("moved",) * 5,
    "step4",
    "step8",
    "step12",
    "improver",
)
LOGGED: frozenset[Kind] = frozenset({"sham", "deaf", "moved"})
STEP_MM = {"step4": 4.0, "step8": 8.0, "step12": 12.0}
STEP_PLACES = range(4, 8)
"""Sessions before which a step or a drill comes, equally likely."""
IMPROVES_MM_A_WEEK = 1.0
WORKS_SD_MM, ANSWER_SD_MM, CREEP_MM = 3.0, 3.0, 0.3
"""SD of what the working drill does on average, of players' answers about it, and of the creep of
moved players in a root week."""
FIRST = date(2026, 1, 5)


@dataclass(frozen=True, eq=False)
class Squad:
    """One squad's season: the shots as logged and the levels behind them.

    ``level`` has shape ``(player, session)``; ``day`` is each session's day number; ``readings``
    by player are the session and value of each shot; ``works`` is what the drill that works does
    on average.
    """

    kinds: tuple[Kind, ...]
    shots: pd.DataFrame
    changes: tuple[Change, ...]
    day: NDArray[np.int64]
    level: Floats
    works: float
    readings: tuple[tuple[NDArray[np.int64], Floats], ...]

    def upto(self, look: int) -> pd.DataFrame:
        """Return the shots of everybody's first sessions."""
        return self.shots[self.shots["place"] < look]


def name_of(player: int) -> str:
    """Return a player's name, in the order of the arrays."""
    return f"P{player:02d}"


def squads(seed: int, number: int, neighbours: float = NEIGHBOURS) -> Iterator[Squad]:
    """Yield squads; each has a random stream of its own."""
    for n in range(number):
        yield make_squad(np.random.default_rng([seed, n]), neighbours)


def make_squad(rng: np.random.Generator, neighbours: float = NEIGHBOURS) -> Squad:
    """Return one squad's season."""
    players = len(KINDS)
    day = _days(rng, players)
    drill_at = rng.integers(STEP_PLACES.start, STEP_PLACES.stop, players)
    level = np.repeat(rng.normal(0, BETWEEN_SD_MM, (players, 1)), SESSIONS, axis=1)
    changes, works = [], rng.normal(0, WORKS_SD_MM)
    for p, kind in enumerate(KINDS):
        side = 1.0 if rng.random() < 0.5 else -1.0
        if kind in STEP_MM:
            level[p, drill_at[p] :] += side * STEP_MM[kind]
        if kind == "improver":
            level[p] += side * IMPROVES_MM_A_WEEK * (day[p] - day[p, 0]) / 7
        if kind not in LOGGED:
            continue
        start = FIRST + timedelta(days=int(day[p, drill_at[p]]))
        drill = "mirror" if kind == "sham" else "ladder"
        changes.append(Change(name_of(p), start, "drill", drill, TRAIT))
        if kind == "moved":
            level[p, drill_at[p] :] += works + ANSWER_SD_MM * rng.laplace(0, np.sqrt(0.5))
            weeks = np.diff(day[p]) / 7
            level[p, 1:] += np.cumsum(CREEP_MM * np.sqrt(weeks) * rng.standard_normal(SESSIONS - 1))
    frames = [_player_shots(rng, p, day[p], level[p], neighbours) for p in range(players)]
    readings = tuple((f["place"].to_numpy(), f[TRAIT].to_numpy()) for f in frames)
    shots = pd.concat(frames, ignore_index=True)
    return Squad(KINDS, shots, tuple(changes), day, level, works, readings)


def _days(rng: np.random.Generator, players: int) -> NDArray[np.int64]:
    """Return days of weekly sessions, one in five missed, a month's break for a third."""
    gaps = 7 * rng.geometric(0.8, (players, SESSIONS)) + rng.integers(-1, 2, (players, SESSIONS))
    for p in np.flatnonzero(rng.random(players) < 1 / 3):
        gaps[p, rng.integers(2, SESSIONS)] += 28
    gaps[:, 0] = rng.integers(0, 7, players)
    return np.cumsum(gaps, axis=1)


def _player_shots(
    rng: np.random.Generator, p: int, day: NDArray[np.int64], level: Floats, neighbours: float
) -> pd.DataFrame:
    today = rng.standard_normal(SESSIONS)
    for s in range(1, SESSIONS):
        today[s] = neighbours * today[s - 1] + np.sqrt(1 - neighbours**2) * today[s]
    sd = SHOT_SD_MM * np.exp(rng.normal(0, 0.25))
    count = rng.integers(10, 26, SESSIONS)
    place = np.repeat(np.arange(SESSIONS), count)
    switch = int(rng.integers(3, 10)) if rng.random() < 0.4 else SESSIONS
    late = place >= switch
    first = "spray" if rng.random() < 0.5 else "photo"
    other = "photo" if first == "spray" else "spray"
    method = np.where(late, other, first)
    error = np.where(method == "spray", READING_SD_MM["spray"], READING_SD_MM["photo"])
    tails = rng.standard_t(TAIL_DF, place.size) * np.sqrt((TAIL_DF - 2) / TAIL_DF)
    value = (level + SESSION_SD_MM * today)[place] + sd * tails
    value += np.where(method == "spray", 1.0, 0.0) + error * rng.standard_normal(place.size)
    frame = pd.DataFrame(dict.fromkeys(MODELLED, np.nan), index=range(place.size))
    frame[TRAIT] = value
    frame["place"] = place
    frame["player"] = name_of(p)
    start = np.datetime64(FIRST, "s") + day[place] * np.timedelta64(86400, "s")
    return frame.assign(
        session=start.astype("datetime64[us]"),
        handed="right",
        strike_method=method,
        delivery_method="unstated",
    )
