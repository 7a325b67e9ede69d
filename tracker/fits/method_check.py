"""How well a method reads, from shots read twice by it.

The SD of one reading is the root of the mean squared difference over two (Bland & Altman 1986,
Lancet i:307), never a brochure's figure. A few duplicates say little, so the default of the trait
table counts as ``PRIOR_PAIRS`` pairs.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import gammaincinv

from models.arrays import Floats
from models.traits import MODELLED, TRAITS
from tracker.files.cells import CellProblems, header_problems, refused_rows
from tracker.files.csv_table import file_bytes, plain_number, read_table
from tracker.interval import INTERVAL_PROB, Interval
from tracker.readings.shot_columns import closest

COLUMNS: tuple[str, ...] = ("method", "trait", "first", "second", "note")
REQUIRED: tuple[str, ...] = ("method", "trait", "first", "second")
DUPLICATES_SETTING = "duplicate_readings"
"""Setting under which a store keeps them."""
PRIOR_PAIRS = 4.0
ENOUGH_PAIRS = 20
"""Pairs that settle a reading SD to about 30 % (90 %)."""


@dataclass(frozen=True, slots=True)
class Duplicate:
    """One shot read twice by the same method, in the trait's stored unit."""

    method: str
    trait: str
    first: float
    second: float


@dataclass(frozen=True, slots=True)
class ReadingSd:
    """The SD of one reading of a trait by a method, and the pairs it was learned from."""

    method: str
    trait: str
    sd: Interval
    pairs: int

    @property
    def advice(self) -> str:
        """Return what would settle it better, empty when it is settled."""
        missing = ENOUGH_PAIRS - self.pairs
        return f"read {missing} more shots twice to settle it" if missing > 0 else ""


@dataclass(frozen=True, slots=True)
class AgreementLimits:
    """How two methods agree on the same shots: mean difference and 95 % limits of agreement."""

    bias: float
    low: float
    high: float


def repeatability_sd(first: Floats, second: Floats) -> float:
    """Return the SD of one reading from pairs of readings of the same shots, (pair,) each."""
    return float(np.sqrt(np.mean((first - second) ** 2) / 2))


def agreement(first: Floats, second: Floats) -> AgreementLimits:
    """Return bias and 95 % limits of agreement of two methods read on the same shots, (shot,)."""
    difference = first - second
    middle, spread = float(difference.mean()), 2 * float(difference.std(ddof=1))
    return AgreementLimits(middle, middle - spread, middle + spread)


def reading_sds(duplicates: Iterable[Duplicate]) -> tuple[ReadingSd, ...]:
    """Return the reading SD of every method and trait with duplicates, by method and trait.

    The variance has an inverse-gamma posterior: ``PRIOR_PAIRS`` pairs at the table's default, and
    half a squared difference from each pair.
    """
    pairs: dict[tuple[str, str], list[float]] = {}
    for d in duplicates:
        pairs.setdefault((d.method, d.trait), []).append((d.first - d.second) ** 2 / 2)
    found = []
    for (method, trait), squares in sorted(pairs.items()):
        default = TRAITS[trait].default_reading_sd(method)
        shape = (PRIOR_PAIRS + len(squares)) / 2
        scale = (PRIOR_PAIRS * default**2 + sum(squares)) / 2
        tail = (1 - INTERVAL_PROB) / 2
        low, middle, high = (
            float(np.sqrt(scale / gammaincinv(shape, q))) for q in (1 - tail, 0.5, tail)
        )
        unit = TRAITS[trait].unit
        found.append(ReadingSd(method, trait, Interval(middle, low, high, unit), len(squares)))
    return tuple(found)


def sd_table(duplicates: Iterable[Duplicate]) -> Mapping[tuple[str, str], float]:
    """Return median reading SDs by (trait, method), as the tendency model takes them."""
    return {(r.trait, r.method): r.sd.median for r in reading_sds(duplicates)}


def read_duplicates(path_or_bytes: str | Path | bytes) -> tuple[Duplicate, ...]:
    """Read a CSV of shots read twice; raise FileRefused with every problem of the file."""
    table = read_table(file_bytes(path_or_bytes))
    in_header = header_problems(table.header, COLUMNS, REQUIRED, _wanted_column)
    cells = CellProblems(table.lines)
    found = []
    for place, row in enumerate(table.rows):
        named = dict(zip(table.header, (cell.strip() for cell in row), strict=True))
        before = len(cells.problems)
        method, trait = named.get("method", "").lower(), named.get("trait", "")
        if not method:
            cells.add(place, "method", "", "how it was read, such as photo")
        if trait not in MODELLED:
            cells.add(place, "trait", trait, f"one of {', '.join(MODELLED)}")
            continue
        values = [_number(cells, place, trait, named.get(name, ""), name) for name in REQUIRED[2:]]
        if len(cells.problems) == before:
            found.append(Duplicate(method, trait, *values))
    rows = sorted([*(row.problem for row in table.broken), *cells.problems], key=lambda p: p.line)
    if in_header or rows:
        raise refused_rows((*in_header, *rows), table.row_count, len(in_header))
    return tuple(found)


def _number(cells: CellProblems, place: int, trait: str, cell: str, column: str) -> float:
    about = TRAITS[trait]
    if plain_number(cell) and about.low <= float(cell) <= about.high:
        return float(cell)
    wanted = f"a number from {about.low:g} to {about.high:g} {about.unit}"
    cells.add(place, column, cell, wanted)
    return float("nan")


def _wanted_column(name: str) -> str:
    near = closest(name, COLUMNS)
    return f"one of {', '.join(COLUMNS)}" + (f" (the closest is {near})" if near else "")


def as_json(duplicates: Sequence[Duplicate]) -> list[list[Any]]:
    """Return duplicates as a setting keeps them; see ``from_json``."""
    return [[d.method, d.trait, d.first, d.second] for d in duplicates]


def from_json(kept: Iterable[Sequence[Any]]) -> tuple[Duplicate, ...]:
    """Return the duplicates that a setting keeps."""
    return tuple(Duplicate(str(m), str(t), float(a), float(b)) for m, t, a, b in kept)
