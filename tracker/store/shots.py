"""How a table of shots is laid against those stored: new, the same, or with other readings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, bindparam, delete, exists, insert, select, update

from tracker.errors import ConflictingShots, RowProblem
from tracker.readings.shot_frame import (
    FLOAT_COLUMNS,
    KEY_COLUMNS,
    SHOT_COLUMNS,
    VALUE_COLUMNS,
    plain_values,
    session_text,
    shot_table,
    shots_of,
)
from tracker.records import Shot
from tracker.store.rows import OnConflict
from tracker.store.tables import IMPORT_BATCH, LOGGED_CHANGE, PLAYER, PRACTICE_SESSION, SHOT

_ROWS_AT_ONCE = 10_000
_IDS_AT_ONCE = 900
"""Numbers in one IN list; SQLite allows 999 values in its oldest builds."""

_UNIT_ROUNDING = 1e-9
"""Largest relative difference that the same reading in another unit may show."""

SHOTS_WITH_KEYS = (
    select(
        PLAYER.c.name.label("player"),
        PRACTICE_SESSION.c.start.label("session"),
        SHOT.c.club,
        SHOT.c.number,
        *(SHOT.c[name] for name in VALUE_COLUMNS[:-1]),
        PLAYER.c.handed,
        SHOT.c.note,
    )
    .select_from(SHOT)
    .join(PRACTICE_SESSION, SHOT.c.session_id == PRACTICE_SESSION.c.id)
    .join(PLAYER, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
)
"""Every shot with what identifies it, its columns in the order of ``SHOT_COLUMNS``."""


def frame_from_rows(rows: Sequence[Any]) -> pd.DataFrame:
    """Return rows of ``SHOTS_WITH_KEYS`` as the shot table."""
    columns = list(zip(*rows, strict=True)) or [()] * len(SHOT_COLUMNS)
    return shot_table(dict(zip(SHOT_COLUMNS, columns, strict=True)))


@dataclass(frozen=True, slots=True)
class Sorted:
    """Shots of one load laid against those stored."""

    new: pd.DataFrame
    """Rows to write."""
    changed: pd.DataFrame
    """Rows that replace stored ones."""
    changed_ids: tuple[int, ...]
    """The stored rows that they replace."""
    same: int
    """How many were stored already."""


def session_ids(
    connection: Connection, frame: pd.DataFrame, players: dict[str, int]
) -> tuple[list[int], set[int]]:
    """Return the session number of each row, and which of them were stored before this load."""
    owners = [players[name] for name in frame["player"]]
    starts = plain_values(frame["session"])
    wanted = dict.fromkeys(zip(owners, starts, strict=True))

    def stored() -> dict[tuple[int, Any], int]:
        found = {}
        for ids in _parts(sorted(set(owners)), _IDS_AT_ONCE):
            query = select(PRACTICE_SESSION).where(PRACTICE_SESSION.c.player_id.in_(ids))
            found.update({(row.player_id, row.start): row.id for row in connection.execute(query)})
        return found

    before = stored()
    fresh = [
        {"player_id": owner, "start": start}
        for owner, start in wanted
        if (owner, start) not in before
    ]
    if fresh:
        connection.execute(insert(PRACTICE_SESSION), fresh)
    numbers = stored() if fresh else before
    known = {before[key] for key in wanted if key in before}
    return [numbers[key] for key in zip(owners, starts, strict=True)], known


def lay_against_stored(
    connection: Connection, frame: pd.DataFrame, known_sessions: set[int], on_conflict: OnConflict
) -> Sorted:
    """Sort a table (with ``session_id`` and ``line``) into new, changed and same rows.

    Raises ConflictingShots for changed rows when ``on_conflict`` is ``refuse``.
    """
    stored = _stored_shots(connection, known_sessions)
    if stored.empty:
        return Sorted(frame, frame.iloc[:0], (), 0)
    if on_conflict == "append":
        return Sorted(_numbered_after(frame, stored), frame.iloc[:0], (), 0)
    index = pd.MultiIndex.from_frame(stored[["session_id", "club", "number"]])
    place = index.get_indexer(pd.MultiIndex.from_frame(frame[["session_id", "club", "number"]]))
    met = place >= 0
    ours, theirs = frame[met], stored.iloc[place[met]]
    differs = {name: _differs(ours[name], theirs[name]) for name in VALUE_COLUMNS}
    changed = np.logical_or.reduce(list(differs.values()))
    if changed.any() and on_conflict == "refuse":
        raise _conflict(ours, theirs, differs, len(frame))
    ids = tuple(int(i) for i in theirs["id"].to_numpy()[changed])
    return Sorted(frame[~met], ours[changed], ids, int((~changed).sum()))


def insert_shots(connection: Connection, frame: pd.DataFrame, batch_id: int) -> None:
    """Store the rows of a table that has ``session_id``."""
    for rows in _rows(frame):
        for row in rows:
            row["batch_id"] = batch_id
        connection.execute(insert(SHOT), rows)


def replace_shots(connection: Connection, frame: pd.DataFrame, ids: Sequence[int]) -> None:
    """Give stored shots the values of a table, row by row."""
    statement = (
        update(SHOT)
        .where(SHOT.c.id == bindparam("stored_id"))
        .values({name: bindparam(f"new_{name}") for name in VALUE_COLUMNS})
    )
    start = 0
    for rows in _rows(frame):
        connection.execute(
            statement,
            [
                {"stored_id": stored_id, **{f"new_{name}": row[name] for name in VALUE_COLUMNS}}
                for row, stored_id in zip(rows, ids[start : start + len(rows)], strict=True)
            ],
        )
        start += len(rows)


def remove_shot(connection: Connection, shot: Shot) -> bool:
    """Remove one shot, and the load, session and player it leaves without any.

    A shot of the same key with other readings is another one and stays.
    """
    query = (
        SHOTS_WITH_KEYS.add_columns(SHOT.c.id, SHOT.c.session_id, SHOT.c.batch_id)
        .where(PLAYER.c.name == shot.player, PRACTICE_SESSION.c.start == shot.session)
        .where(SHOT.c.club == shot.club, SHOT.c.number == shot.number)
    )
    row = connection.execute(query).first()
    if row is None or shots_of(frame_from_rows([row[:-3]])) != (shot,):
        return False
    connection.execute(delete(SHOT).where(SHOT.c.id == row.id))
    shot_here = exists().where(SHOT.c.batch_id == IMPORT_BATCH.c.id)
    of_load = IMPORT_BATCH.c.id == row.batch_id
    connection.execute(delete(IMPORT_BATCH).where(of_load, ~shot_here))
    remove_empty(connection, {row.session_id})
    return True


def remove_empty(connection: Connection, sessions: set[int]) -> None:
    """Remove those of the sessions that hold no shot, then players without session or change."""
    players: set[int] = set()
    for ids in _parts(sorted(sessions), _IDS_AT_ONCE):
        touched = PRACTICE_SESSION.c.id.in_(ids)
        players |= set(connection.scalars(select(PRACTICE_SESSION.c.player_id).where(touched)))
        shot_here = exists().where(SHOT.c.session_id == PRACTICE_SESSION.c.id)
        connection.execute(delete(PRACTICE_SESSION).where(touched, ~shot_here))
    for ids in _parts(sorted(players), _IDS_AT_ONCE):
        session_here = exists().where(PRACTICE_SESSION.c.player_id == PLAYER.c.id)
        change_here = exists().where(LOGGED_CHANGE.c.player_id == PLAYER.c.id)
        connection.execute(delete(PLAYER).where(PLAYER.c.id.in_(ids), ~session_here, ~change_here))


def _rows(frame: pd.DataFrame) -> Iterator[list[dict[str, Any]]]:
    names = ("session_id", "club", "number", *VALUE_COLUMNS)
    for start in range(0, len(frame), _ROWS_AT_ONCE):
        part = frame.iloc[start : start + _ROWS_AT_ONCE]
        columns = [plain_values(part[name]) for name in names]
        yield [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def _stored_shots(connection: Connection, sessions: set[int]) -> pd.DataFrame:
    rows: list[Any] = []
    for ids in _parts(sorted(sessions), _IDS_AT_ONCE):
        query = SHOTS_WITH_KEYS.add_columns(SHOT.c.id, SHOT.c.session_id)
        rows.extend(connection.execute(query.where(SHOT.c.session_id.in_(ids))))
    frame = frame_from_rows([row[:-2] for row in rows])
    frame["id"] = np.array([row[-2] for row in rows], dtype=np.int64)
    frame["session_id"] = np.array([row[-1] for row in rows], dtype=np.int64)
    return frame


def _numbered_after(frame: pd.DataFrame, stored: pd.DataFrame) -> pd.DataFrame:
    """Return the shots numbered, in their order, after those stored for the session and club."""
    group = ["session_id", "club"]
    last = stored.groupby(group)["number"].max().rename("last").reset_index()
    with_last = frame.merge(last, on=group, how="left")
    order = with_last.groupby(group)["number"].rank(method="first")
    moved = with_last["last"] + order
    numbers = moved.where(with_last["last"].notna(), with_last["number"])
    return frame.assign(number=numbers.to_numpy(dtype=np.int64))


def _differs(ours: pd.Series, theirs: pd.Series) -> np.ndarray[Any, np.dtype[np.bool_]]:
    if ours.name in FLOAT_COLUMNS:
        a, b = ours.to_numpy(), theirs.to_numpy()
        same = np.isclose(a, b, rtol=_UNIT_ROUNDING, atol=_UNIT_ROUNDING, equal_nan=True)
        return np.asarray(~same, dtype=bool)
    a, b = (np.array(plain_values(s), dtype=object) for s in (ours, theirs))
    return np.asarray(a != b, dtype=bool)


def _conflict(
    ours: pd.DataFrame, theirs: pd.DataFrame, differs: dict[str, Any], row_count: int
) -> ConflictingShots:
    lines = ours["line"].to_list()
    keys = list(zip(*(plain_values(ours[name]) for name in KEY_COLUMNS), strict=True))
    problems = []
    for name, where in differs.items():
        mine, stored = plain_values(ours[name]), plain_values(theirs[name])
        for place in np.flatnonzero(where):
            player, session, club, number = keys[place]
            shot = f"{player}, {session_text(session)}, {club}, shot {number}"
            wanted = f"{_shown(stored[place])} as stored for {shot}"
            problems.append(RowProblem(lines[place], name, _shown(mine[place]), wanted))
    problems.sort(key=lambda problem: problem.line)
    shots = int(np.logical_or.reduce(list(differs.values())).sum())
    summary = (
        f"{shots} of {row_count} shots are stored already with other readings, so nothing was "
        f"stored; choose replace if this file is right, append if these are further shots:"
    )
    return ConflictingShots(summary, problems, row_count)


def _shown(value: Any) -> str:
    if value is None:
        return "an empty cell"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _parts(values: Sequence[int], size: int) -> Iterator[Sequence[int]]:
    for start in range(0, len(values), size):
        yield values[start : start + size]
