"""One load of shots as a whole: stored all or not at all, listed, and taken back."""

from collections.abc import Sequence

import pandas as pd
from sqlalchemy import Connection, delete, select

from tracker.errors import BadRequest
from tracker.readings.shot_frame import KEY_COLUMNS
from tracker.store.roster import player_ids
from tracker.store.rows import Added, ImportBatch, OnConflict
from tracker.store.shots import (
    insert_shots,
    lay_against_stored,
    remove_empty,
    replace_shots,
    session_ids,
)
from tracker.store.tables import IMPORT_BATCH, SHOT, new_id, utc_now, with_utc


def refuse_given_twice(frame: pd.DataFrame) -> None:
    """Raise BadRequest for a table that gives two shots under one key."""
    repeated = frame.duplicated(list(KEY_COLUMNS))
    if repeated.any():
        first = frame[repeated].iloc[0]
        msg = f"{first['player']}, shot {first['number']} is given twice for one session and club"
        raise BadRequest(msg)


def add_load(
    connection: Connection,
    frame: pd.DataFrame,
    *,
    on_conflict: OnConflict,
    source: str,
    source_digest: str | None,
    lines: Sequence[int] | None,
) -> Added:
    """Store a table of shots as ``Store.add_shots`` says; a load that stores nothing leaves none.

    Raises ConflictingShots for a hand or a shot that is stored with another value.
    """
    if on_conflict == "append" and _loaded_before(connection, source_digest):
        return Added(0, len(frame), 0)
    frame = frame.assign(line=list(lines) if lines is not None else 0)
    players = player_ids(connection, frame, frame["line"].to_list(), on_conflict)
    numbers, known = session_ids(connection, frame, players)
    frame["session_id"] = numbers
    rows = lay_against_stored(connection, frame, known, on_conflict)
    added = Added(len(rows.new), rows.same, len(rows.changed))
    if added.stored or added.replaced:
        batch_id = new_id(
            connection,
            IMPORT_BATCH,
            source=source,
            source_digest=source_digest,
            loaded_at=utc_now(),
            stored=added.stored,
            already_stored=added.already_stored,
            replaced=added.replaced,
        )
        insert_shots(connection, rows.new, batch_id)
        replace_shots(connection, rows.changed, rows.changed_ids)
    return added


def stored_loads(connection: Connection) -> tuple[ImportBatch, ...]:
    """Return the loads that stored or replaced shots, the latest first."""
    columns = [c for c in IMPORT_BATCH.columns if c.name != "source_digest"]
    rows = connection.execute(select(*columns).order_by(IMPORT_BATCH.c.id.desc()))
    return tuple(ImportBatch(**with_utc(row, "loaded_at")) for row in rows)


def remove_load(connection: Connection, batch_id: int) -> None:
    """Remove the shots that one load added, and sessions and players it leaves without any."""
    of_load = SHOT.c.batch_id == batch_id
    sessions = set(connection.scalars(select(SHOT.c.session_id).where(of_load).distinct()))
    connection.execute(delete(SHOT).where(of_load))
    connection.execute(delete(IMPORT_BATCH).where(IMPORT_BATCH.c.id == batch_id))
    remove_empty(connection, sessions)


def _loaded_before(connection: Connection, source_digest: str | None) -> bool:
    if source_digest is None:
        return False
    same = select(IMPORT_BATCH.c.id).where(IMPORT_BATCH.c.source_digest == source_digest)
    return connection.scalar(same.limit(1)) is not None
