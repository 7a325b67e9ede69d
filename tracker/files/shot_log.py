"""A shot log in CSV: the rules each row must keep, and every problem found at once."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, cast

import numpy as np
import pandas as pd

from models.arrays import Floats
from models.traits import TRAITS
from tracker.errors import RowProblem
from tracker.files.cells import (
    WANTED_NUMBER,
    CellProblems,
    clean_name,
    header_problems,
    read_moment,
    refused_rows,
)
from tracker.files.csv_table import (
    WHY,
    CsvTable,
    file_bytes,
    original_cell,
    plain_number,
    read_table,
    rejected_csv,
)
from tracker.readings.shot_columns import (
    MEASURED,
    REQUIRED_COLUMNS,
    TEXT_COLUMNS,
    MeasuredColumn,
    wanted_instead,
)
from tracker.readings.shot_frame import (
    CONDITION_COLUMNS,
    TRAIT_COLUMNS,
    handed_of,
    session_text,
    shot_table,
    shots_of,
)
from tracker.records import DEFAULT_CLUB, LABELS, UNSTATED_METHOD, Shot

STRIKE_TRAITS: tuple[str, ...] = tuple(t.name for t in TRAITS.values() if t.group == "strike")
HIGHEST_SHOT_NUMBER = 999_999
_ROUNDING = 1e-9
"""Share of a range end that unit conversion may add to a value exactly on it."""


@dataclass(frozen=True, slots=True)
class ShotLog:
    """What a file of shots held."""

    frame: pd.DataFrame
    """One typed row a good shot; ``handed`` is missing where the file does not say."""
    lines: tuple[int, ...]
    """The line each came from."""
    row_count: int
    problems: tuple[RowProblem, ...] = ()
    rejected: bytes | None = field(default=None, repr=False)
    """The file of bad rows to write; None when every row is good."""

    @property
    def shots(self) -> tuple[Shot, ...]:
        """Return the good rows as records, in the order of the file."""
        return shots_of(self.frame)


def read_shots(
    path_or_bytes: str | Path | bytes, *, today: date, skip_bad: bool = False
) -> ShotLog:
    """Read a shot log; raise FileRefused with every problem of the file.

    With ``skip_bad`` only a file whose header cannot be used is refused; bad rows are left out and
    their problems returned.
    """
    table = read_table(file_bytes(path_or_bytes))
    return _LogReader(table, today).read(skip_bad=skip_bad)


class _LogReader:
    """Reads one table column by column, gathering problems."""

    def __init__(self, table: CsvTable, today: date) -> None:
        self.table = table
        self.today = today
        self.in_header = header_problems(
            table.header, (*TEXT_COLUMNS, *MEASURED), REQUIRED_COLUMNS, wanted_instead
        )
        self.in_header += self._unit_problems()
        self.cells = CellProblems(table.lines)
        ours = WHY in table.header
        columns = list(zip(*table.rows, strict=True)) or [()] * len(table.header)
        self.columns: dict[str, list[str]] = {}
        for name, column in zip(table.header, columns, strict=True):
            stripped = [cell.strip() for cell in column]
            self.columns[name] = [original_cell(c) for c in stripped] if ours else stripped

    def read(self, *, skip_bad: bool) -> ShotLog:
        """Check every column, then what only a whole row or file can show."""
        table = self.table
        numbers = {stored: self._numbers(c) for stored, c in self._measured().items()}
        values: dict[str, Any] = {
            name: numbers.get(name, np.full(len(table.lines), np.nan))
            for name in (*TRAIT_COLUMNS, *CONDITION_COLUMNS)
        }
        values["player"] = self._each("player", clean_name, "a player's name")
        values["session"] = self._sessions()
        values["club"] = self._names("club", DEFAULT_CLUB)
        values["strike_method"] = self._names("strike_method", UNSTATED_METHOD)
        values["delivery_method"] = self._names("delivery_method", UNSTATED_METHOD)
        for name in ("ball", *LABELS):
            values[name] = self._each(name, clean_name, "a name without control characters")
        values["note"] = [cell or None for cell in self._column("note")]
        values["missed_face"] = self._missed_face()
        values["handed"] = self._handed(values["player"])
        values["number"] = self._shot_numbers(values)
        self._check_readings(values)
        self._check_repeats(values)
        problems = (*self.in_header, *self._row_problems())
        if self.in_header or (problems and not skip_bad):
            raise refused_rows(problems, table.row_count, len(self.in_header))
        good = self.cells.good
        frame = shot_table(
            {n: [v for v, ok in zip(c, good, strict=True) if ok] for n, c in values.items()}
        )
        lines = tuple(line for line, ok in zip(table.lines, good, strict=True) if ok)
        rejected = self._rejected(values["number"]) if problems else None
        return ShotLog(frame, lines, table.row_count, problems, rejected)

    def _row_problems(self) -> list[RowProblem]:
        order = {name: place for place, name in enumerate(self.table.header)}
        found = [*(row.problem for row in self.table.broken), *self.cells.problems]
        return sorted(found, key=lambda problem: (problem.line, order.get(problem.column, -1)))

    def _column(self, name: str) -> list[str]:
        return self.columns.get(name) or [""] * len(self.table.lines)

    def _each(
        self, name: str, read: Callable[[str], Any], wanted: str, *, empty: Any = None
    ) -> list[Any]:
        """Read each different cell once; ``read`` raises ValueError for one that will not do."""
        column = self._column(name)
        known: dict[str, Any] = {"": empty}
        bad: dict[str, str] = {}
        for cell in set(column) - {""}:
            try:
                known[cell] = read(cell)
            except ValueError as error:
                bad[cell] = str(error) or wanted
        for place, cell in enumerate(column):
            if cell in bad:
                self.cells.add(place, name, cell, bad[cell])
            elif cell == "" and name in REQUIRED_COLUMNS and name in self.columns:
                self.cells.add(place, name, cell, wanted)
        return [known.get(cell) for cell in column]

    def _names(self, name: str, empty: str) -> list[str]:
        wanted = "plain words without control characters"
        return self._each(name, lambda cell: clean_name(cell).lower(), wanted, empty=empty)

    def _sessions(self) -> list[datetime | None]:
        return self._each(
            "session",
            lambda cell: read_moment(cell, self.today),
            "a date such as 2026-05-31 or a local time such as 2026-05-31T14:30",
        )

    def _missed_face(self) -> list[bool]:
        def read(cell: str) -> bool:
            if cell.lower() not in ("yes", "no"):
                raise ValueError
            return cell.lower() == "yes"

        return [
            bool(v)
            for v in self._each("missed_face", read, "yes, no or an empty cell", empty=False)
        ]

    def _handed(self, players: Sequence[str | None]) -> list[str | None]:
        def read(cell: str) -> str:
            hand = handed_of(cell.lower())
            if hand is None:
                raise ValueError
            return hand

        hands: list[str | None] = self._each("handed", read, "right, left or an empty cell")
        stated: dict[str, tuple[str, int]] = {}
        for place, (player, hand) in enumerate(zip(players, hands, strict=True)):
            if player is None or hand is None:
                continue
            first, line = stated.setdefault(player, (hand, self.table.lines[place]))
            if first != hand:
                self.cells.add(place, "handed", hand, f"{first}, as on line {line} for {player}")
        return [stated[p][0] if p in stated else None for p in players]

    def _measured(self) -> dict[str, MeasuredColumn]:
        named = [MEASURED[name] for name in self.columns if name in MEASURED]
        return {column.stored: column for column in reversed(named)}

    def _unit_problems(self) -> list[RowProblem]:
        first: dict[str, str] = {}
        problems = []
        for name in dict.fromkeys(self.table.header):
            if name in MEASURED:
                other = first.setdefault(MEASURED[name].stored, name)
                if other != name:
                    wanted = f"one unit for one quantity: {other} is in the file too"
                    problems.append(RowProblem(1, name, name, wanted))
        if not any(stored in TRAITS for stored in first):
            wanted = "at least one column of readings, such as strike_toe_mm or attack_deg"
            problems.append(RowProblem(1, "header", ",".join(self.table.header), wanted))
        return problems

    def _numbers(self, column: MeasuredColumn) -> Floats:
        cells = self.columns[column.name]
        known = {cell: float(cell) if plain_number(cell) else np.nan for cell in set(cells)}
        read = np.array([known[cell] for cell in cells], dtype=np.float64)
        values = np.asarray(cast(Any, column.convert)(read), dtype=np.float64)
        slack = _ROUNDING * max(abs(column.low), abs(column.high))
        outside = (values < column.low - slack) | (values > column.high + slack)
        for place in np.flatnonzero(outside):
            self.cells.add(int(place), column.name, cells[place], column.wanted)
        for place in np.flatnonzero(np.isnan(values)):
            if cells[place]:
                hint = WANTED_NUMBER if "," in cells[place] else column.wanted
                self.cells.add(int(place), column.name, cells[place], hint)
        return values

    def _shot_numbers(self, values: dict[str, Any]) -> list[int | None]:
        """Return the number of each shot: the one given, else its order in session and club."""
        wanted = f"a whole number from 1 to {HIGHEST_SHOT_NUMBER}"

        def read(cell: str) -> int:
            number = float(cell) if plain_number(cell) else 0.0
            if not (number.is_integer() and 1 <= number <= HIGHEST_SHOT_NUMBER):
                raise ValueError
            return int(number)

        given: list[int | None] = self._each("shot", read, wanted)
        cells = self._column("shot")
        groups: dict[tuple[Any, ...], list[int]] = {}
        for place, key in enumerate(_keys(values, "player", "session", "club")):
            if None not in key:
                groups.setdefault(key, []).append(place)
        for places in groups.values():
            unnumbered = [place for place in places if not cells[place]]
            if len(unnumbered) == len(places):
                for order, place in enumerate(places, start=1):
                    given[place] = order
            else:
                for place in unnumbered:
                    self.cells.add(place, "shot", "", f"{wanted}, as in this session's other rows")
        return given

    def _check_readings(self, values: dict[str, Any]) -> None:
        missed = np.array(values["missed_face"], dtype=bool)
        strike = np.zeros(len(missed), dtype=bool)
        for name in STRIKE_TRAITS:
            strike |= ~np.isnan(np.asarray(values[name]))
        for place in np.flatnonzero(missed & strike):
            wanted = "no, or the strike cells empty: a strike that was read was not missed"
            self.cells.add(int(place), "missed_face", "yes", wanted)
        if self.in_header:
            return
        blank = np.ones(len(missed), dtype=bool)
        for name, column in self._measured().items():
            if name in TRAITS:
                blank &= np.array([not cell for cell in self.columns[column.name]], dtype=bool)
        for place in np.flatnonzero(blank & ~missed):
            wanted = "at least one reading, or yes under missed_face"
            self.cells.add(int(place), "readings", "", wanted)

    def _check_repeats(self, values: dict[str, Any]) -> None:
        first: dict[tuple[Any, ...], int] = {}
        for place, key in enumerate(_keys(values, "player", "session", "club", "number")):
            if None in key:
                continue
            line = first.setdefault(key, self.table.lines[place])
            if line != self.table.lines[place]:
                player, session, club, number = key
                shot = f"{player}, {session_text(session)}, {club}, shot {number}"
                self.cells.add(place, "shot", shot, f"each shot once: it is on line {line} already")

    def _rejected(self, numbers: Sequence[int | None]) -> bytes:
        """Return the bad rows as a file, with the shot numbers that order would have given them."""
        header = list(self.table.header)
        numbered = "shot" in header
        width = len(header)
        bad: list[tuple[int, Sequence[str], str]] = []
        for row in self.table.broken:
            own, surplus = row.cells[:width], row.cells[width:]
            unnumbered = [""] * (width + (not numbered) - len(own)) if surplus else []
            bad.append((row.line, [*own, *unnumbered, *surplus], str(row.problem)))
        why = self.cells.why
        for place, (line, cells) in enumerate(zip(self.table.lines, self.table.rows, strict=True)):
            if place in why:
                number = numbers[place]
                added = [] if numbered else ["" if number is None else str(number)]
                bad.append((line, [*self._unescaped(cells), *added], "; ".join(why[place])))
        bad.sort(key=lambda row: row[0])
        return rejected_csv(
            header if numbered else [*header, "shot"], ((cells, why) for _, cells, why in bad)
        )

    def _unescaped(self, cells: Iterable[str]) -> list[str]:
        return [original_cell(c) for c in cells] if WHY in self.table.header else list(cells)


def _keys(values: dict[str, Any], *names: str) -> Iterable[tuple[Any, ...]]:
    return zip(*(values[name] for name in names), strict=True)
