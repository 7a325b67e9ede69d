"""Ordinary shot logs of many shapes with known levels, from a process that is not the model's.

A player's level stands still, or improves steadily, or takes steps; a day adds an effect of its
own that is uniform, not normal; shots are normal or heavy-tailed and of any SD; readings have a
method's error, a last digit, gaps and misreads. The truth is the level without the day's effect.
Sizes are of the order seen in squads of golfers (estimates, no source).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats
from tracker.readings.shot_frame import SHOT_COLUMNS, TRAIT_COLUMNS, shot_table
from tracker.records import Change

FIRST = datetime(2026, 1, 5)


@dataclass(frozen=True, slots=True)
class Size:
    """How a trait varies in the invented squads, in its unit."""

    middle: float
    between: float
    shot: float
    day: float
    step: float
    """SD of what a drill does, and of a step that nobody logged."""


SIZES: Mapping[str, Size] = {
    "strike_toe_mm": Size(1.0, 6.0, 9.0, 2.5, 5.0),
    "strike_up_mm": Size(-1.0, 5.0, 6.5, 2.0, 4.0),
    "attack_deg": Size(-1.0, 2.2, 1.3, 0.5, 1.5),
    "club_speed_mps": Size(44.0, 3.5, 0.7, 0.3, 0.8),
    "loft_deg": Size(14.0, 2.2, 1.4, 0.5, 1.2),
    "path_deg": Size(0.5, 3.0, 1.8, 0.7, 1.8),
    "face_deg": Size(-0.5, 2.2, 2.3, 0.8, 1.2),
}
ALL = tuple(SIZES)
STRIKES = ALL[:2]
NO_PATH_FACE = ALL[:5]
ATTACK = ("attack_deg",)

READING_SHARE = 0.15
"""SD of a reading by the fine method, as a share of the shot SD; the coarse one reads half as
well and is off by ``BIAS_SHARE`` of a shot SD."""
COARSE_FACTOR, BIAS_SHARE = 2.0, 0.2
FINE: Mapping[str, str] = {"strike": "camera", "delivery": "radar"}
COARSE: Mapping[str, str] = {"strike": "spray", "delivery": "video"}
REFERENCES = tuple(FINE.values())

MM_STEP, DEG_STEP, MPS_STEP, MPH_STEP = 1.0, 1.0, 0.5, 0.44704
MISREAD_MM = 80.0
BREAK_WEEKS = 40
PLAYER_SPREAD = 0.25
"""SD of log shot SDs between players."""

ODD_NAMES = (
    "nan", "None", "007", "Ü Øre-Ñandú", "O'Tee", "a,b", 'quo"te', "x" * 120, "🏌", "-1", "Null",
    "true",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shape:
    """What kind of log it is; the defaults are the plainest one."""

    name: str
    players: int = 6
    sessions: int = 8
    shots: int = 12
    traits: tuple[str, ...] = STRIKES
    crossed: bool = False
    """Two methods; a player may switch, and the squad mixes."""
    missing: float = 0.0
    stuck: bool = False
    """The first player's device repeats one value through every other session."""
    equal_sds: bool = False
    day_effect: bool = True
    coarse: bool = False
    """Whole millimetres and degrees, half metres a second."""
    mph: bool = False
    misreads: float = 0.0
    weekly: float = 0.0
    """Steady improvement a week, in millimetres (strikes) or a tenth of it (others)."""
    left: bool = False
    unlogged: bool = False
    changes: int = 0
    """Logged changes a player."""
    changes_late: bool = False
    """Some changes start before the first session or after the last."""
    one_trait_changes: bool = False
    one_day: bool = False
    long_break: bool = False
    heavy: bool = False
    odd_names: bool = False
    uneven: bool = False
    """Session and shot numbers vary from 1 up to the sizes given."""


@dataclass(frozen=True, eq=False)
class Log:
    """An invented log: shots as a store gives them, changes, and the levels behind them.

    ``level[(player, session start, trait)]`` is the level at that session.
    """

    shots: pd.DataFrame
    changes: tuple[Change, ...]
    level: Mapping[tuple[str, datetime, str], float]


SHAPES: tuple[Shape, ...] = (
    Shape("plain strikes"),
    Shape("plain attack", traits=ATTACK),
    Shape("plain all", traits=ALL, players=5, sessions=6),
    Shape("strikes and attack", traits=(*STRIKES, *ATTACK)),
    Shape("no path or face", traits=NO_PATH_FACE, players=5, sessions=6),
    Shape("speed alone", traits=("club_speed_mps",)),
    Shape("face alone", traits=("face_deg",), players=8),
    Shape("toe alone", traits=("strike_toe_mm",), players=10),
    Shape("one shot in all", players=1, sessions=1, shots=1, traits=(*STRIKES, *ATTACK)),
    Shape("one player, one session", players=1, sessions=1, shots=15),
    Shape("one player, one season", players=1, sessions=20, shots=15, traits=(*STRIKES, *ATTACK)),
    Shape("one player, 30 sessions of 500", players=1, sessions=30, shots=500, traits=STRIKES),
    Shape("two players, 4 sessions of 500", players=2, sessions=4, shots=500, traits=ALL),
    Shape("two players", players=2, sessions=5, traits=(*STRIKES, *ATTACK)),
    Shape("three players, uneven", players=3, sessions=10, shots=20, uneven=True),
    Shape("twelve players, uneven", players=12, sessions=10, shots=20, uneven=True),
    Shape("thirty players, few sessions", players=30, sessions=3, shots=8),
    Shape("sixty players", players=60, sessions=8, shots=8, traits=("strike_up_mm",)),
    Shape("sixty players once", players=60, sessions=1, shots=10, traits=(*STRIKES, *ATTACK)),
    Shape("two sessions", sessions=2),
    Shape("one shot a session", shots=1, sessions=12),
    Shape("one shot a session, all", shots=1, sessions=10, traits=ALL, players=5),
    Shape("two shots a session", shots=2, sessions=10, players=8),
    Shape("30 % missing", missing=0.3, traits=(*STRIKES, *ATTACK)),
    Shape("30 % missing, all", missing=0.3, traits=ALL, players=5, sessions=6),
    Shape("methods that cross", crossed=True, players=8),
    Shape("methods that cross, all", crossed=True, traits=NO_PATH_FACE, players=6, sessions=6),
    Shape("methods that cross, few", crossed=True, players=2, sessions=6),
    Shape("stuck device", stuck=True, players=8),
    Shape("stuck device, all", stuck=True, traits=ALL, players=5, sessions=6),
    Shape("equal shot SDs", equal_sds=True, players=12, sessions=6),
    Shape("equal shot SDs, few", equal_sds=True, players=3),
    Shape("no session effect", day_effect=False, sessions=10),
    Shape("no session effect, attack", day_effect=False, traits=ATTACK, players=10),
    Shape("whole mm and degrees", coarse=True, traits=(*STRIKES, *ATTACK)),
    Shape("whole degrees, all", coarse=True, traits=ALL, players=5, sessions=6),
    Shape("whole mph", mph=True, traits=("club_speed_mps", "attack_deg")),
    Shape("misreads of 80 mm", misreads=0.03),
    Shape("misreads of 80 mm, few", misreads=0.05, players=2, sessions=6),
    Shape("steady improvement", weekly=1.0, sessions=12),
    Shape("steady improvement, attack", weekly=1.0, sessions=12, traits=ATTACK),
    Shape("left-handers", left=True),
    Shape("unlogged steps", unlogged=True, sessions=14),
    Shape("unlogged steps, few", unlogged=True, sessions=10, players=2, traits=ATTACK),
    Shape("one change each", changes=1, sessions=10),
    Shape("three changes each", changes=3, sessions=12, traits=(*STRIKES, *ATTACK)),
    Shape("four changes on one trait", changes=4, one_trait_changes=True, sessions=14),
    Shape("changes outside the season", changes=2, changes_late=True),
    Shape("one player, five changes", players=1, changes=5, sessions=15, one_trait_changes=True),
    Shape("all on one day", one_day=True, sessions=5),
    Shape("a long break", long_break=True, sessions=10),
    Shape("heavy tails", heavy=True),
    Shape("heavy tails, all", heavy=True, traits=ALL, players=5, sessions=6),
    Shape("odd names", odd_names=True, players=12, sessions=4),
    Shape(
        "everything at once", players=10, sessions=10, traits=NO_PATH_FACE, crossed=True,
        missing=0.2, stuck=True, coarse=True, misreads=0.01, changes=2, unlogged=True,
        heavy=True, uneven=True, long_break=True,
    ),
)  # fmt: skip


def make_log(shape: Shape, seed: int) -> Log:
    """Return one log of a shape; the same seed gives the same log."""
    rng = np.random.default_rng([seed, *shape.name.encode()])
    names = list(ODD_NAMES) if shape.odd_names else [f"P{p:02d}" for p in range(shape.players)]
    names = names[: shape.players]
    works = {t: rng.normal(0, SIZES[t].step) for t in shape.traits}
    frames: list[pd.DataFrame] = []
    changes: list[Change] = []
    level: dict[tuple[str, datetime, str], float] = {}
    for p, name in enumerate(names):
        starts = _starts(rng, shape)
        mine = _changes(rng, shape, name, starts)
        effect = {c: works_on(rng, works, c) for c in range(len(mine))}
        place = np.repeat(np.arange(len(starts)), _counts(rng, shape, len(starts)))
        columns: dict[str, object] = dict.fromkeys(SHOT_COLUMNS)
        methods = {g: _methods(rng, shape, g, place, len(starts)) for g in FINE}
        for trait in shape.traits:
            path = _level(rng, shape, trait, starts)
            for c, change in enumerate(mine):
                if change.trait in (trait, None):
                    path += np.array([s.date() >= change.start for s in starts]) * effect[c][trait]
            level |= {(name, s, trait): float(v) for s, v in zip(starts, path, strict=True)}
            group = "strike" if trait in STRIKES else "delivery"
            coarse = methods[group] == COARSE[group]
            read = _readings(rng, shape, trait, path, place, coarse)
            if shape.stuck and p == 0:
                for s in range(0, len(starts), 2):
                    read[place == s] = read[place == s][0]
            columns[trait] = read
        changes += mine
        columns |= {
            "player": [name] * place.size,
            "session": [starts[s] for s in place],
            "club": ["driver"] * place.size,
            "number": _numbers(place),
            "strike_method": methods["strike"],
            "delivery_method": methods["delivery"],
            "missed_face": [False] * place.size,
            "handed": ["left" if shape.left and p % 2 == 0 else "right"] * place.size,
        }
        missing = {n: v if v is not None else [None] * place.size for n, v in columns.items()}
        frames.append(shot_table(missing))  # type: ignore[arg-type]
    shots = pd.concat(frames, ignore_index=True)
    read_at_all = shots[list(TRAIT_COLUMNS)].notna().any(axis=1)
    return Log(shots[read_at_all].reset_index(drop=True), tuple(changes), level)


def works_on(rng: np.random.Generator, works: Mapping[str, float], change: int) -> dict[str, float]:
    """Return what a change does to one player by trait: about as much as to others, or nothing."""
    moved = float(rng.random() < 0.8)
    share = 1.0 if change % 2 == 0 else -0.5
    return {t: moved * (share * w + 0.3 * SIZES[t].step * rng.normal()) for t, w in works.items()}


def _starts(rng: np.random.Generator, shape: Shape) -> list[datetime]:
    count = int(rng.integers(1, shape.sessions + 1)) if shape.uneven else shape.sessions
    if shape.one_day:
        return [FIRST + timedelta(hours=8 + 2 * s) for s in range(count)]
    days = np.cumsum(7 + rng.integers(-2, 3, count))
    if shape.long_break:
        days[count // 2 :] += 7 * BREAK_WEEKS
    return [FIRST + timedelta(days=int(d)) for d in days]


def _counts(rng: np.random.Generator, shape: Shape, sessions: int) -> NDArray[np.int64]:
    if shape.uneven:
        return rng.integers(1, shape.shots + 1, sessions)
    return np.full(sessions, shape.shots)


def _numbers(place: NDArray[np.int64]) -> list[int]:
    """Return each shot's order in its session; shots lie in the order of sessions."""
    first = np.searchsorted(place, place)
    return (np.arange(place.size) - first + 1).tolist()


def _changes(
    rng: np.random.Generator, shape: Shape, player: str, starts: list[datetime]
) -> list[Change]:
    found = []
    for c in range(shape.changes):
        at = starts[min(len(starts) - 1, 1 + (c * len(starts)) // (shape.changes + 1))].date()
        if shape.changes_late:
            outside = (starts[0].date() - timedelta(days=9), starts[-1].date() + timedelta(days=9))
            at = outside[c % 2] if rng.random() < 0.7 else at
        one = shape.one_trait_changes
        trait = shape.traits[0 if one else c % len(shape.traits)]
        found.append(Change(player, date(at.year, at.month, at.day), "drill", f"drill {c}", trait))
    return found


def _methods(
    rng: np.random.Generator, shape: Shape, group: str, place: NDArray[np.int64], sessions: int
) -> NDArray[np.str_]:
    """Return how each shot was read; with crossed methods a third of players switch half-way."""
    if not shape.crossed:
        return np.full(place.size, FINE[group])
    coarse = rng.random() < 0.5
    late = place >= sessions // 2
    swaps = rng.random() < 1 / 3 or shape.players <= 2
    by_coarse = np.where(late, not coarse, coarse) if swaps else np.full(place.size, coarse)
    return np.where(by_coarse, COARSE[group], FINE[group])


def _level(rng: np.random.Generator, shape: Shape, trait: str, starts: list[datetime]) -> Floats:
    size = SIZES[trait]
    own = size.middle + size.between * (0.7 * rng.normal() + 0.7 * rng.uniform(-1.7, 1.7))
    weeks = np.array([(s - starts[0]).total_seconds() for s in starts]) / (7 * 86400)
    per_week = shape.weekly if trait in STRIKES else 0.1 * shape.weekly
    path = own + per_week * weeks
    if shape.unlogged and len(starts) > 3 and rng.random() < 0.5:
        at = int(rng.integers(2, len(starts) - 1))
        path[at:] += rng.choice([-1, 1]) * 1.5 * size.step
    return path


def _readings(
    rng: np.random.Generator,
    shape: Shape,
    trait: str,
    path: Floats,
    place: NDArray[np.int64],
    coarse: NDArray[np.bool_],
) -> Floats:
    size = SIZES[trait]
    own_sd = size.shot * (1.0 if shape.equal_sds else np.exp(rng.normal(0, PLAYER_SPREAD)))
    today = size.day * np.sqrt(3) * rng.uniform(-1, 1, len(path)) * shape.day_effect
    noise = (
        rng.standard_t(3, place.size) / np.sqrt(3) if shape.heavy else rng.normal(size=place.size)
    )
    read = (path + today)[place] + own_sd * noise
    error = READING_SHARE * size.shot * np.where(coarse, COARSE_FACTOR, 1.0)
    read += error * rng.normal(size=place.size) + BIAS_SHARE * size.shot * coarse
    if shape.misreads and trait in STRIKES:
        wrong = rng.random(place.size) < shape.misreads
        read[wrong] += MISREAD_MM * rng.choice([-1, 1], int(wrong.sum()))
    step = _step(shape, trait)
    read = np.round(read / step) * step
    return np.where(rng.random(place.size) < shape.missing, np.nan, read)


def _step(shape: Shape, trait: str) -> float:
    if trait == "club_speed_mps":
        return MPH_STEP if shape.mph else MPS_STEP if shape.coarse else 0.1
    if trait in STRIKES:
        return MM_STEP if shape.coarse else 0.1
    return DEG_STEP if shape.coarse else 0.1
