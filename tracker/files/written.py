"""Stored shots and changes as CSV files that loading takes back exactly, safe in a spreadsheet."""

from collections.abc import Iterable
from typing import Any

import pandas as pd

from tracker.files.change_log import CHANGE_COLUMNS
from tracker.files.csv_table import WHY, safe_csv
from tracker.readings.shot_frame import SHOT_COLUMNS, plain_values, session_text
from tracker.records import Change

EXPORTED = "exported"
"""What stands in the column ``why``, which tells the reader that cells were made safe."""


def shots_csv(frame: pd.DataFrame) -> bytes:
    """Return a table of shots (``shot_frame.SHOT_COLUMNS``) as a shot log."""
    columns = [plain_values(frame[name]) for name in SHOT_COLUMNS]
    header = ["shot" if name == "number" else name for name in SHOT_COLUMNS]
    rows = ([*map(_cell, row), EXPORTED] for row in zip(*columns, strict=True))
    return safe_csv([*header, WHY], rows)


def changes_csv(changes: Iterable[Change]) -> bytes:
    """Return changes as a file that ``load --changes`` takes."""
    rows = ([*(_cell(getattr(c, name)) for name in CHANGE_COLUMNS), EXPORTED] for c in changes)
    return safe_csv([*CHANGE_COLUMNS, WHY], rows)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value)  # the shortest text that is read back as the same number
    if hasattr(value, "hour"):
        return session_text(value)
    return str(value)
