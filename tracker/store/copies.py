"""Every row of a database as plain values and back, the same for every kind of database."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import (
    Connection,
    Date,
    DateTime,
    LargeBinary,
    Table,
    delete,
    func,
    insert,
    select,
    text,
    update,
)

from tracker.errors import BadRequest
from tracker.store.tables import DATA_STATE, FIT_JOB, METADATA, SETTING

COPIED: tuple[str, ...] = tuple(t.name for t in METADATA.sorted_tables if t is not DATA_STATE)
"""Tables whose rows are copied, those that others point to first."""

_ROWS_AT_ONCE = 5_000

PlainRow = dict[str, Any]
"""A row by column: what JSON knows, and bytes."""


def plain_rows(connection: Connection, name: str) -> Iterator[PlainRow]:
    """Yield the rows of a table in order of their keys; dates and times are ISO texts."""
    table = METADATA.tables[name]
    for row in connection.execute(select(table).order_by(*table.primary_key)):
        yield {column: _plain(value) for column, value in row._mapping.items()}


def byte_columns(name: str) -> tuple[str, ...]:
    """Return the columns of a table that hold bytes."""
    columns = METADATA.tables[name].columns
    return tuple(c.name for c in columns if isinstance(c.type, LargeBinary))


def holds_anything(connection: Connection) -> bool:
    """Return whether a database holds more than settings and finished jobs."""
    tables = (METADATA.tables[n] for n in COPIED if n not in (SETTING.name, FIT_JOB.name))
    return any(connection.scalar(select(func.count()).select_from(t)) for t in tables)


def replace_all_rows(connection: Connection, rows: Mapping[str, Sequence[PlainRow]]) -> None:
    """Put rows in the place of all that a database holds.

    Raises BadRequest for a table or column that this version does not know.
    """
    for name in rows:
        _check_known(name, rows[name])
    for table in reversed(METADATA.sorted_tables):
        if table is not DATA_STATE:
            connection.execute(delete(table))
    for name in COPIED:
        table, given = METADATA.tables[name], rows.get(name, ())
        for start in range(0, len(given), _ROWS_AT_ONCE):
            part = [_stored(table, row) for row in given[start : start + _ROWS_AT_ONCE]]
            connection.execute(insert(table), part)
        _count_on(connection, table)
    # pages keep what they read by this number, so it must be one that they have not seen
    connection.execute(update(DATA_STATE).values(version=DATA_STATE.c.version + 1))


def _check_known(name: str, rows: Sequence[PlainRow]) -> None:
    known = METADATA.tables[name].columns.keys() if name in COPIED else ()
    unknown = sorted({column for row in rows for column in row} - set(known))
    if name not in COPIED or unknown:
        what = f"column {unknown[0]!r} of table" if unknown and known else "table"
        msg = f"it holds a {what} {name!r} that this version does not know; update the program"
        raise BadRequest(msg)


def _plain(value: Any) -> Any:
    if isinstance(value, memoryview):
        return bytes(value)
    return value.isoformat() if isinstance(value, date | datetime) else value


def _stored(table: Table, row: PlainRow) -> PlainRow:
    """Return a row as the database takes it; a column that it does not have is empty."""
    values = {column.name: row.get(column.name) for column in table.columns}
    for column in table.columns:
        value = values[column.name]
        if value is None:
            continue
        if isinstance(column.type, DateTime):
            values[column.name] = datetime.fromisoformat(value)
        elif isinstance(column.type, Date):
            values[column.name] = date.fromisoformat(value)
    return values


def _count_on(connection: Connection, table: Table) -> None:
    """See that new rows are numbered after those put back; SQLite does it by itself."""
    if connection.dialect.name == "postgresql" and "id" in table.columns:
        highest = connection.scalar(select(func.max(table.c.id)))
        if highest is not None:
            sequence = text("SELECT setval(pg_get_serial_sequence(:name, 'id'), :highest)")
            connection.execute(sequence, {"name": table.name, "highest": highest})
