"""Which rows of which table belong to a player, whatever tables there are.

A row belongs to a player who is named in a column ``player``, or whom a foreign key leads to over
any number of tables; a table added later is covered without a line here.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    String,
    Table,
    Text,
    and_,
    delete,
    exists,
    func,
    or_,
    select,
    update,
)
from sqlalchemy.exc import IntegrityError
from sqlalchemy.schema import MetaData

from tracker.store.tables import IMPORT_BATCH, METADATA, PLAYER, SETTING, SHOT

NAME_COLUMN = "player"
"""Column that holds a player's name in tables that do not point to the player's row."""
SOMEONE = "someone"
"""What stands in the place of an erased name."""


@dataclass(frozen=True, slots=True)
class Mention:
    """A text of somebody else's row that says a player's name."""

    table: str
    column: str
    text: str
    free: bool
    """Whether it stands in a note or the like, in which ``erase_rows`` covers the name."""


def owned_by(table: Table, player: str) -> ColumnElement[bool] | None:
    """Return the condition for a player's rows of a table; None where rows have no player."""
    found: list[ColumnElement[bool]] = []
    if table.name == PLAYER.name:
        found.append(table.c.name == player)
    for column in table.columns:
        if column.name == NAME_COLUMN and not column.foreign_keys:
            found.append(column == player)
        for key in column.foreign_keys:
            inner = owned_by(key.column.table, player)
            if inner is not None:
                found.append(column.in_(select(key.column).where(inner)))
    return or_(*found) if found else None


def rows_of(
    connection: Connection, player: str, metadata: MetaData = METADATA
) -> Mapping[str, tuple[Mapping[str, Any], ...]]:
    """Return a player's rows of every table that has any, by table; a row is values by column."""
    found = {}
    for table in metadata.sorted_tables:
        own = owned_by(table, player)
        if own is not None:
            query = select(table).where(own).order_by(*table.primary_key)
            rows = tuple(dict(row._mapping) for row in connection.execute(query))
            if rows:
                found[table.name] = rows
    return found


def count_rows(
    connection: Connection, player: str, metadata: MetaData = METADATA
) -> Mapping[str, int]:
    """Return how many rows of a player each table has; tables without any are left out."""
    found = {}
    for table in metadata.sorted_tables:
        own = owned_by(table, player)
        if own is not None:
            query = select(func.count()).select_from(table).where(own)
            found[table.name] = int(connection.scalar(query) or 0)
    return {name: number for name, number in found.items() if number}


def loads_of(connection: Connection, player: str) -> tuple[Mapping[str, Any], ...]:
    """Return the loads that brought a player's shots; a row is values by column."""
    own = owned_by(SHOT, player)
    if own is None:
        raise ValueError("shots lead to no player")
    batches = select(SHOT.c.batch_id).where(own)
    query = select(IMPORT_BATCH).where(IMPORT_BATCH.c.id.in_(batches)).order_by(IMPORT_BATCH.c.id)
    return tuple(dict(row._mapping) for row in connection.execute(query))


def erase_rows(connection: Connection, player: str, metadata: MetaData = METADATA) -> None:
    """Remove a player's rows from every table, the loads left without a shot, and the name.

    The name is covered in the texts of other rows too; see ``mentions``.
    """
    brought = [row["id"] for row in loads_of(connection, player)]
    for table in reversed(metadata.sorted_tables):
        own = owned_by(table, player)
        if own is not None:
            connection.execute(delete(table).where(own))
    shot_here = exists().where(SHOT.c.batch_id == IMPORT_BATCH.c.id)
    emptied = (IMPORT_BATCH.c.id.in_(brought), ~shot_here)
    connection.execute(delete(IMPORT_BATCH).where(*emptied))
    _cover(connection, player, metadata)


def rename_rows(
    connection: Connection, old: str, new: str, metadata: MetaData = METADATA
) -> Mapping[str, int]:
    """Give a player's rows another name; return how many rows say it, by table."""
    touched = {}
    for table in metadata.sorted_tables:
        column = _name_column(table)
        if column is not None:
            changed = connection.execute(
                update(table).where(column == old).values({column.name: new})
            )
            touched[table.name] = changed.rowcount
    return {name: number for name, number in touched.items() if number}


def move_rows(
    connection: Connection,
    giver: str,
    taker: str,
    *,
    but: Iterable[Table],
    metadata: MetaData = METADATA,
) -> Mapping[str, int]:
    """Give one player's rows to another, but for tables that are moved with more care.

    Where the other has a row that leaves no room, that one stays and the first goes. Returns how
    many rows moved, by table.
    """
    left_out = {table.name for table in but} | {PLAYER.name}
    numbers = {
        name: connection.scalar(select(PLAYER.c.id).where(PLAYER.c.name == name))
        for name in (giver, taker)
    }
    moved: dict[str, int] = {}
    for table in metadata.sorted_tables:
        if table.name in left_out:
            continue
        for column in table.columns:
            direct = any(key.column.table.name == PLAYER.name for key in column.foreign_keys)
            named = column.name == NAME_COLUMN and not column.foreign_keys
            if direct or named:
                was, becomes = (numbers[n] if direct else n for n in (giver, taker))
                for row in connection.execute(select(table).where(column == was)).all():
                    own = and_(*(key == row._mapping[key.name] for key in table.primary_key))
                    done = _given(connection, update(table).where(own).values({column: becomes}))
                    moved[table.name] = moved.get(table.name, 0) + done
                connection.execute(delete(table).where(column == was))
    return {name: number for name, number in moved.items() if number}


def mentions(
    connection: Connection, player: str, metadata: MetaData = METADATA
) -> tuple[Mention, ...]:
    """Return where texts of others' rows say a player's name.

    Notes, messages and the names of loaded files are free texts, in which ``erase_rows`` covers the
    name; in any other column the name is reported only, since it may be a drill's as well.
    """
    says = name_pattern(player, _other_names(connection, player))
    found = []
    for table in metadata.sorted_tables:
        own = owned_by(table, player)
        for column in table.columns:
            if not isinstance(column.type, String) or _is_name(table, column.name):
                continue
            query = select(column).where(column.is_not(None)).distinct()
            texts = connection.scalars(query if own is None else query.where(~own))
            for text in texts:
                if says(text) != text:
                    free = _is_free_text(table, column.name)
                    found.append(Mention(table.name, column.name, text, free))
    return tuple(found)


def _is_free_text(table: Table, column: str) -> bool:
    """Return whether a column holds what people or programs wrote freely."""
    kind = table.c[column].type
    return isinstance(kind, Text) or (table.name, column) == (IMPORT_BATCH.name, "source")


def name_pattern(player: str, others: Iterable[str] = ()) -> Any:
    """Return a function that covers a name in a text, where it stands as words of its own.

    Longer names of ``others`` that hold the name stay as they are, and so does the name of another
    spelling: only letter by letter the same is the player.
    """
    longer = sorted((n for n in others if n != player and player in n), key=len, reverse=True)
    words = [r"[\s_-]+".join(map(re.escape, name.split())) for name in (*longer, player)]
    pattern = re.compile(r"(?<![^\W_])(?:" + "|".join(f"({w})" for w in words) + r")(?![^\W_])")

    def covered(text: str) -> str:
        plain = unicodedata.normalize("NFC", text)
        hidden = pattern.sub(lambda m: SOMEONE if m[len(words)] is not None else m[0], plain)
        return text if hidden == plain else hidden

    return covered


def _given(connection: Connection, statement: Any) -> int:
    """Run a statement; return how many rows it changed, none where a row leaves no room."""
    try:
        with connection.begin_nested():
            return int(connection.execute(statement).rowcount)
    except IntegrityError:
        return 0


def _cover(connection: Connection, player: str, metadata: MetaData) -> None:
    says = name_pattern(player, _other_names(connection, player))
    for table in metadata.sorted_tables:
        for column in table.columns:
            if isinstance(column.type, String) and _is_free_text(table, column.name):
                for text in connection.scalars(select(column).distinct()).all():
                    if text is not None and says(text) != text:
                        connection.execute(
                            update(table).where(column == text).values({column.name: says(text)})
                        )
    kept = connection.execute(select(SETTING)).all()
    named = [row.key for row in kept if row.key == player or _holds(row.value, player)]
    connection.execute(delete(SETTING).where(SETTING.c.key.in_(named)))


def _holds(value: Any, player: str) -> bool:
    if isinstance(value, Mapping):
        return any(key == player or _holds(inner, player) for key, inner in value.items())
    if isinstance(value, list):
        return any(_holds(inner, player) for inner in value)
    return bool(value == player)


def _other_names(connection: Connection, player: str) -> tuple[str, ...]:
    return tuple(connection.scalars(select(PLAYER.c.name).where(PLAYER.c.name != player)))


def _name_column(table: Table) -> Any:
    if table.name == PLAYER.name:
        return table.c.name
    column = table.c.get(NAME_COLUMN)
    return column if column is not None and not column.foreign_keys else None


def _is_name(table: Table, column: str) -> bool:
    found = _name_column(table)
    return found is not None and found.name == column
