"""How single cells of any of our files are read, and how their problems are gathered."""

import re
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime

from tracker.errors import FileRefused, RowProblem
from tracker.files.csv_table import WHY
from tracker.readings.shot_frame import has_control_character, tidy

EARLIEST_YEAR = 1980
WANTED_DATE = "a date such as 2026-05-31"
WANTED_MOMENT = "a date such as 2026-05-31 or a local time such as 2026-05-31T14:30"
WANTED_NUMBER = "a number with a decimal point and no other marks, such as 4.5"

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2})?)?", re.ASCII)
_ZONE = re.compile(r"\s*(Z|UTC|GMT|[+-]\d{2}(:?\d{2})?)", re.ASCII | re.IGNORECASE)


class CellProblems:
    """The problems of a table's rows, by row place and in the order found."""

    def __init__(self, lines: Sequence[int]) -> None:
        self._lines = lines
        self.problems: list[RowProblem] = []
        self.why: dict[int, list[str]] = {}

    def add(self, place: int, column: str, found: str, wanted: str) -> None:
        """Note one cell that cannot be used."""
        problem = RowProblem(self._lines[place], column, found, wanted)
        self.problems.append(problem)
        self.why.setdefault(place, []).append(str(problem))

    @property
    def good(self) -> list[bool]:
        """Return for each row whether nothing was found wrong with it."""
        return [place not in self.why for place in range(len(self._lines))]


def header_problems(
    header: Sequence[str],
    known: Collection[str],
    required: Sequence[str],
    wanted_instead: Callable[[str], str],
) -> list[RowProblem]:
    """Return what is wrong with the names of the columns."""
    problems = []
    for place, name in enumerate(header):
        if name in header[:place]:
            wanted = "each column once: rename or remove the second"
            problems.append(RowProblem(1, name or "header", name, wanted))
        elif name not in known and name != WHY:
            problems.append(RowProblem(1, name or "header", name, wanted_instead(name)))
    for name in required:
        if name not in header:
            found = ",".join(header)
            problems.append(RowProblem(1, name, found, f"a column named {name}"))
    return problems


def refused_rows(problems: Sequence[RowProblem], row_count: int, in_header: int) -> FileRefused:
    """Return the refusal of a whole file for its header, its rows or both."""
    rows = len({problem.line for problem in problems[in_header:]})
    parts = []
    if in_header:
        parts.append("1 column" if in_header == 1 else f"{in_header} columns")
    if rows:
        parts.append(f"{rows} of {row_count} row{'s' if row_count != 1 else ''}")
    summary = f"{' and '.join(parts)} cannot be used, so nothing was stored:"
    return FileRefused(summary, problems, row_count)


def clean_name(cell: str) -> str:
    """Return a name in one spelling; raise ValueError for control characters."""
    name = tidy(cell)
    if not name or has_control_character(name):
        msg = "plain text without control characters"
        raise ValueError(msg)
    return name


def read_moment(cell: str, today: date) -> datetime:
    """Return a date or local time no later than ``today``; the ValueError says what would do."""
    match = _MOMENT.match(cell)
    if match is None:
        raise ValueError(WANTED_MOMENT)
    rest = cell[match.end() :]
    if _ZONE.fullmatch(rest):
        msg = f"the local time without a time zone, such as {match.group()}"
        raise ValueError(msg)
    if rest:
        raise ValueError(WANTED_MOMENT)
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError:
        raise ValueError(WANTED_MOMENT) from None
    _check_day(moment.date(), today)
    return moment


def read_day(cell: str, latest: date) -> date:
    """Return a date no later than ``latest``; the ValueError says what would do."""
    if not _DATE.fullmatch(cell):
        raise ValueError(WANTED_DATE)
    try:
        day = date.fromisoformat(cell)
    except ValueError:
        raise ValueError(WANTED_DATE) from None
    _check_day(day, latest)
    return day


def _check_day(day: date, latest: date) -> None:
    if not day.year >= EARLIEST_YEAR or day > latest:
        msg = f"a date from {EARLIEST_YEAR}-01-01 to {latest.isoformat()}"
        raise ValueError(msg)
