"""How the bytes of a CSV file become rows of cells with line numbers, and rejected rows a file."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tracker.errors import FileRefused, RowProblem

WHY = "why"
"""Column that a file of rejected rows adds; a file that has it is read back with it left out."""

THE_FILE = "the file"
SAVE_AS_UTF8 = "UTF-8 text: save the table again as 'CSV UTF-8 (comma delimited)'"

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
"""Starts that a spreadsheet takes for a formula, with any quotes already put in front."""

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class BrokenRow:
    """A row that cannot be matched to the header; ``cells`` is as much as could be split."""

    line: int
    cells: tuple[str, ...]
    problem: RowProblem


@dataclass(frozen=True, slots=True)
class CsvTable:
    """A header, the rows that match it, the line each row starts on, and the rows that do not.

    Cells are as written; a row whose cells are all empty is left out.
    """

    header: tuple[str, ...]
    rows: tuple[list[str], ...]
    lines: tuple[int, ...]
    broken: tuple[BrokenRow, ...]

    @property
    def row_count(self) -> int:
        """Return how many rows the file has under its header."""
        return len(self.rows) + len(self.broken)


def plain_number(cell: str) -> bool:
    """Return whether a cell is a decimal number with a point and no other marks."""
    return _NUMBER.fullmatch(cell) is not None


def file_refusal(found: str, wanted: str, line: int = 0) -> FileRefused:
    """Return the refusal of a file that cannot be read as a table at all."""
    problem = RowProblem(line, THE_FILE, found, wanted)
    return FileRefused("The file cannot be read, so nothing was stored:", [problem])


def file_bytes(source: str | Path | bytes) -> bytes:
    """Return what a file holds; bytes already read are passed through."""
    if isinstance(source, bytes):
        return source
    try:
        return Path(source).read_bytes()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise file_refusal(f"{source} ({reason})", "a CSV file that can be read") from error


def read_table(data: bytes) -> CsvTable:
    """Split a file into header and rows; raise FileRefused where there is no table."""
    lines = io.StringIO(_text(data), newline="").readlines()
    records = _records(lines)
    first = next(records, None)
    if first is None:
        raise file_refusal("an empty file", "a header row, then one row for each entry")
    header_line, header, error = first
    if error:
        raise file_refusal(error, "a header row with its quotes closed", header_line)
    names = tuple(name.strip().lower() for name in header)
    if len(names) == 1:
        for mark, word in ((";", "semicolons"), ("\t", "tabs")):
            if mark in names[0]:
                wanted = "commas between columns and points in numbers: save it as comma CSV"
                raise file_refusal(f"{word} between columns", wanted, header_line)
    rows: list[list[str]] = []
    starts: list[int] = []
    broken: list[BrokenRow] = []
    for line, cells, error in records:
        if error:
            wanted = "every quote closed, and a quote inside a quoted cell doubled"
            broken.append(BrokenRow(line, tuple(cells), RowProblem(line, "quotes", error, wanted)))
        elif len(cells) != len(names):
            found = f"{len(cells)} cells"
            wanted = f"{len(names)} cells, one for each column of the header"
            broken.append(BrokenRow(line, tuple(cells), RowProblem(line, "row", found, wanted)))
        else:
            rows.append(cells)
            starts.append(line)
    if not rows and not broken:
        raise file_refusal("a header and no rows", "at least one row under the header")
    return CsvTable(names, tuple(rows), tuple(starts), tuple(broken))


def _text(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise file_refusal("UTF-16 text", SAVE_AS_UTF8)
    if data.startswith(b"PK\x03\x04"):
        raise file_refusal("a workbook or archive", SAVE_AS_UTF8)
    nul = data.find(b"\0")
    if nul >= 0:
        found = "a NUL byte"
        wanted = f"{SAVE_AS_UTF8}; the file is damaged, or UTF-16 without its mark"
        raise file_refusal(found, wanted, data.count(b"\n", 0, nul) + 1)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{error.object[error.start]:02X}"
        raise file_refusal(found, SAVE_AS_UTF8, line) from error


def _records(lines: Sequence[str]) -> Iterator[tuple[int, list[str], str]]:
    """Yield start line, cells and error of each record; blank lines are passed over.

    A record whose quotes go wrong costs its own first line only: reading starts again on the next,
    so that one stray quote does not swallow the rows behind it.
    """
    start = 0
    width: int | None = None
    while start < len(lines):
        reader = csv.reader(lines[start:], strict=True)
        offset = start
        restart = None
        while restart is None:
            first = offset + reader.line_num
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                restart = first
                message = str(error)
            else:
                several_lines = offset + reader.line_num - first > 1
                if several_lines and width is not None and len(cells) != width:
                    restart = first
                    message = f"a quote left open until line {offset + reader.line_num}"
                elif any(cell.strip() for cell in cells):
                    width = len(cells) if width is None else width
                    yield first + 1, cells, ""
        raw = lines[restart].rstrip("\r\n")
        yield restart + 1, raw.split(","), message
        start = restart + 1


def safe_cell(cell: str) -> str:
    """Return a cell that no spreadsheet runs as a formula.

    A text that starts with ``= + - @``, a tab or a carriage return gets a single quote in front;
    numbers stay as they are. ``original_cell`` takes the quote off again.
    """
    if _FORMULA.match(cell) and not plain_number(cell):
        return f"'{cell}"
    return cell


def original_cell(cell: str) -> str:
    """Return the cell that ``safe_cell`` was given."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def safe_csv(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a CSV file whose cells are made safe for a spreadsheet.

    ``read_table`` gives the cells back as ``safe_cell`` made them; a file with a column ``why`` is
    read back as it was before.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([safe_cell(cell) for cell in cells] for cells in rows)
    return out.getvalue().encode("utf-8")


def rejected_csv(header: Sequence[str], rows: Iterable[tuple[Sequence[str], str]]) -> bytes:
    """Return rejected rows as a CSV file: the original cells made safe, and why in the last column.

    A row with too many cells keeps the surplus in its ``why``, one with too few is filled up.
    """
    kept = [place for place, name in enumerate(header) if name != WHY]
    written = []
    for cells, why in rows:
        reason = why
        if len(cells) > len(header):
            reason = f"{why}; surplus cells: {', '.join(map(repr, cells[len(header) :]))}"
        filled = [*cells, *[""] * (len(header) - len(cells))]
        written.append([*(filled[place] for place in kept), reason])
    return safe_csv([*(header[place] for place in kept), WHY], written)
