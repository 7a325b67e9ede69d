"""How a table of answers becomes a CSV file that a spreadsheet reads and does not run."""

from collections.abc import Iterable, Sequence

from tracker.files.csv_table import safe_cell, safe_csv
from tracker.interval import Interval

Value = str | float | int | None


def table_csv(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """Return a header and rows as UTF-8 CSV; None is an empty cell, numbers keep four decimals.

    A text that a spreadsheet would run as a formula gets a single quote in front.
    """
    return safe_csv([safe_cell(name) for name in columns], (_cells(row, columns) for row in rows))


def heads(name: str) -> tuple[str, ...]:
    """Return the names of an interval's columns in a file."""
    return (name, f"{name}_low90", f"{name}_high90")


def numbers(interval: Interval | None) -> tuple[Value, ...]:
    """Return an interval as it stands in a file."""
    if interval is None:
        return (None, None, None)
    return (interval.median, interval.low90, interval.high90)


def _cells(row: Sequence[Value], columns: Sequence[str]) -> list[str]:
    if len(row) != len(columns):
        raise ValueError(f"a row of {len(row)} cells under {len(columns)} columns")
    return [_text(value) for value in row]


def _text(value: Value) -> str:
    if value is None:
        return ""
    return f"{value:.4f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
