"""A file of logged changes (drills, equipment, set-up) in CSV, and every problem found at once."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from models.traits import MODELLED
from tracker.errors import RowProblem
from tracker.files.cells import CellProblems, clean_name, header_problems, read_day, refused_rows
from tracker.files.csv_table import (
    WHY,
    CsvTable,
    file_bytes,
    original_cell,
    plain_number,
    read_table,
)
from tracker.readings.shot_columns import closest
from tracker.records import CHANGE_KINDS, Change

CHANGE_COLUMNS: tuple[str, ...] = (
    "player",
    "start",
    "kind",
    "name",
    "trait",
    "effort_sessions",
    "note",
)
REQUIRED_CHANGE_COLUMNS: tuple[str, ...] = ("player", "start", "kind", "name")
MOST_EFFORT_SESSIONS = 200.0
PLANNED_AHEAD = timedelta(days=366)
"""How far ahead a change may be planned; a later date is taken for a slip."""


@dataclass(frozen=True, slots=True)
class ChangeLog:
    """The changes of a file and the line each came from."""

    changes: tuple[Change, ...]
    lines: tuple[int, ...]
    row_count: int


def read_changes(path_or_bytes: str | Path | bytes, *, today: date) -> ChangeLog:
    """Read a file of changes; raise FileRefused with every problem of the file."""
    table = read_table(file_bytes(path_or_bytes))
    in_header = header_problems(
        table.header, CHANGE_COLUMNS, REQUIRED_CHANGE_COLUMNS, _wanted_instead
    )
    cells = CellProblems(table.lines)
    changes = [_change(table, place, cells, today) for place in range(len(table.rows))]
    first: dict[tuple[Any, ...], int] = {}
    for place, change in enumerate(changes):
        if change is not None:
            line = first.setdefault(change_key(change), table.lines[place])
            if line != table.lines[place]:
                wanted = f"each change once: it is on line {line} already"
                cells.add(place, "name", change.name, wanted)
    rows = sorted([*(row.problem for row in table.broken), *cells.problems], key=lambda p: p.line)
    problems: tuple[RowProblem, ...] = (*in_header, *rows)
    if problems:
        raise refused_rows(problems, table.row_count, len(in_header))
    return ChangeLog(tuple(c for c in changes if c is not None), table.lines, table.row_count)


def change_key(change: Change) -> tuple[str, date, str, str, str | None]:
    """Return what identifies a change: who, when, what and the trait it aims at."""
    return (change.player, change.start, change.kind, change.name, change.trait)


def _wanted_instead(name: str) -> str:
    near = closest(name, CHANGE_COLUMNS)
    hint = f"the closest is {near}" if near else f"they are {', '.join(CHANGE_COLUMNS)}"
    return f"a known column ({hint}), or the column left out"


def _change(table: CsvTable, place: int, problems: CellProblems, today: date) -> Change | None:
    row = {name: cell.strip() for name, cell in zip(table.header, table.rows[place], strict=True)}
    if WHY in row:
        row = {name: original_cell(cell) for name, cell in row.items()}
    before = len(problems.problems)

    def read(name: str, reader: Callable[[str], Any]) -> Any:
        cell = row.get(name, "")
        if not cell and name not in REQUIRED_CHANGE_COLUMNS:
            return None
        try:
            return reader(cell)
        except ValueError as error:
            if name in row:
                problems.add(place, name, cell, str(error))
            return None

    values = {
        "player": read("player", clean_name),
        "start": read("start", lambda cell: read_day(cell, today + PLANNED_AHEAD)),
        "kind": read("kind", _kind),
        "name": read("name", clean_name),
        "trait": read("trait", _trait),
        "effort_sessions": read("effort_sessions", _effort_sessions),
        "note": row.get("note") or None,
    }
    if len(problems.problems) > before or None in (values[n] for n in REQUIRED_CHANGE_COLUMNS):
        return None
    return Change(**values)


def _kind(cell: str) -> str:
    if cell.lower() not in CHANGE_KINDS:
        raise ValueError(" or ".join(CHANGE_KINDS))
    return cell.lower()


def _trait(cell: str) -> str:
    name = cell.lower()
    if name not in MODELLED:
        near = closest(name, MODELLED)
        hint = f"the closest is {near}" if near else f"one of {', '.join(MODELLED)}"
        msg = f"a trait that is followed ({hint}), or an empty cell for all of them"
        raise ValueError(msg)
    return name


def _effort_sessions(cell: str) -> float:
    sessions = float(cell) if plain_number(cell) else 0.0
    if not 0 < sessions <= MOST_EFFORT_SESSIONS:
        msg = f"a number of sessions above 0 and up to {MOST_EFFORT_SESSIONS:g}, or an empty cell"
        raise ValueError(msg)
    return sessions
