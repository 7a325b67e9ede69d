"""The table of shots that files, store and model share, and how records become its rows."""

import math
import unicodedata
from collections.abc import Iterable, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Any, cast

import pandas as pd

from models.traits import STRIKES, TRAITS
from tracker.errors import BadRequest
from tracker.readings.shot_columns import CONDITIONS
from tracker.records import LABELS, Handed, Shot

TRAIT_COLUMNS: tuple[str, ...] = tuple(TRAITS)
CONDITION_COLUMNS: tuple[str, ...] = tuple(CONDITIONS)
KEY_COLUMNS: tuple[str, ...] = ("player", "session", "club", "number")
VALUE_COLUMNS: tuple[str, ...] = (
    *TRAIT_COLUMNS,
    "strike_method",
    "delivery_method",
    "missed_face",
    "tee_height_mm",
    "ball",
    "air_temperature_c",
    "altitude_m",
    *LABELS,
    "note",
)
"""What is kept of a shot besides its key and its player's hand."""

SHOT_COLUMNS: tuple[str, ...] = (*KEY_COLUMNS, *VALUE_COLUMNS[:-1], "handed", "note")
"""Columns of the table, in order. A missing reading is NaN; ``session`` is local time."""

FLOAT_COLUMNS: tuple[str, ...] = (*TRAIT_COLUMNS, *CONDITION_COLUMNS)

DTYPES: dict[str, str] = {
    **dict.fromkeys(SHOT_COLUMNS, "str"),
    **dict.fromkeys(FLOAT_COLUMNS, "float64"),
    "session": "datetime64[us]",
    "number": "int64",
    "missed_face": "bool",
}


def shot_table(columns: Mapping[str, Iterable[Any]]) -> pd.DataFrame:
    """Return columns of plain values as the typed table; None is missing."""
    return pd.DataFrame(
        {name: pd.Series(list(columns[name]), dtype=DTYPES[name]) for name in SHOT_COLUMNS}
    )


def sorted_shots(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the table by player, session, number and club, with a fresh index."""
    keys = ["player", "session", "number", "club"]
    return frame.sort_values(keys, kind="stable", ignore_index=True)


def plain_values(column: pd.Series) -> list[Any]:
    """Return a column as the plain values a database takes; missing is None."""
    if column.name == "session":
        return list(column.dt.to_pydatetime())
    values = column.to_numpy(dtype=object, copy=True)
    values[column.isna().to_numpy()] = None
    return values.tolist()


def shots_of(frame: pd.DataFrame) -> tuple[Shot, ...]:
    """Return the rows of the table as records, in the table's order."""
    columns = {name: plain_values(frame[name]) for name in SHOT_COLUMNS}
    shots = []
    for values in zip(*columns.values(), strict=True):
        row = dict(zip(SHOT_COLUMNS, values, strict=True))
        readings = {t: row.pop(t) for t in TRAIT_COLUMNS}
        row["readings"] = MappingProxyType({t: v for t, v in readings.items() if v is not None})
        row["handed"] = row["handed"] or "right"
        shots.append(Shot(**row))
    return tuple(shots)


def frame_of(shots: Iterable[Shot]) -> pd.DataFrame:
    """Return records as the table; raise BadRequest for one that no log could hold."""
    columns: dict[str, list[Any]] = {name: [] for name in SHOT_COLUMNS}
    for shot in shots:
        _check(shot)
        for name in TRAIT_COLUMNS:
            columns[name].append(shot.readings.get(name))
        for name in SHOT_COLUMNS:
            if name not in TRAITS:
                columns[name].append(getattr(shot, name))
    return shot_table(columns)


def _check(shot: Shot) -> None:
    where = f"{shot.player}, {session_text(shot.session)}, {shot.club}, shot {shot.number}"
    if not shot.player.strip() or shot.player != tidy(shot.player):
        msg = f"{where}: the player's name is {shot.player!r}, wanted a name without stray blanks"
        raise BadRequest(msg)
    words = (shot.club, shot.strike_method, shot.delivery_method, shot.ball, shot.group, shot.coach)
    for text in (shot.player, *words):
        if text is not None and has_control_character(text):
            msg = f"{where}: {text!r} has a control character, wanted plain text"
            raise BadRequest(msg)
    if shot.session.tzinfo is not None:
        msg = f"{where}: the session has a time zone, wanted local time without one"
        raise BadRequest(msg)
    if shot.number < 1:
        msg = f"{where}: wanted a shot number of 1 or more"
        raise BadRequest(msg)
    for name, value in shot.readings.items():
        if name not in TRAITS:
            msg = f"{where}: {name!r} is not a trait, wanted one of {', '.join(TRAITS)}"
            raise BadRequest(msg)
        low, high = TRAITS[name].low, TRAITS[name].high
        if not (math.isfinite(value) and low <= value <= high):
            msg = f"{where}, {name}: found {value}, wanted {low:g} to {high:g} {TRAITS[name].unit}"
            raise BadRequest(msg)
    for name, (low, high) in CONDITIONS.items():
        condition = getattr(shot, name)
        if condition is not None and not low <= condition <= high:
            msg = f"{where}, {name}: found {condition}, wanted {low:g} to {high:g}"
            raise BadRequest(msg)
    if not shot.readings and not shot.missed_face:
        msg = f"{where}: no reading; give one, or say that the face was missed"
        raise BadRequest(msg)
    if shot.missed_face and not shot.readings.keys().isdisjoint(STRIKES):
        msg = (
            f"{where}: a strike that could not be read has a strike reading; give one or the other"
        )
        raise BadRequest(msg)


def tidy(text: str) -> str:
    """Return a name in one spelling: composed characters, single blanks, none at the ends."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def has_control_character(text: str) -> bool:
    """Return whether a text holds a character that no name should."""
    return not text.isprintable() and any(unicodedata.category(char) == "Cc" for char in text)


def session_text(start: datetime) -> str:
    """Return a session as people write it: the date, and the time where there is one."""
    if (start.hour, start.minute, start.second) == (0, 0, 0):
        return start.strftime("%Y-%m-%d")
    return start.isoformat(sep=" ", timespec="seconds" if start.second else "minutes")


def handed_of(text: str) -> Handed | None:
    """Return the hand a cell names; None when it names none."""
    return cast(Handed, text) if text in ("right", "left") else None
