"""What is wrong with a database: its file, its pointers, and values that no log could hold."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Column, Connection, and_, or_, select
from sqlalchemy.exc import DBAPIError

from models.traits import MODELLED, TRAITS
from tracker.errors import DamagedDatabase
from tracker.readings.shot_columns import CONDITIONS
from tracker.records import CHANGE_KINDS
from tracker.store.tables import LOGGED_CHANGE, PLAYER, PRACTICE_SESSION, SHOT

_SLACK = 1e-9
"""Share of a range end that unit conversion may add to a value exactly on it."""
_MOST = 20
"""Problems of one kind that are listed."""

RESTORE = (
    "put the last backup into a new file, drive-progress restore BACKUP --db NEW.db, and use that"
)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, and what to do about it."""

    what: str
    remedy: str


def file_problems(connection: Connection, *, quick: bool = False) -> tuple[Problem, ...]:
    """Return what is wrong with the file of an SQLite database; ``quick`` passes over indexes.

    Another kind of database looks after its files itself.
    """
    if connection.dialect.name != "sqlite":
        return ()
    try:
        pragma = "quick_check" if quick else "integrity_check"
        said = connection.exec_driver_sql(f"PRAGMA {pragma}({_MOST})").scalars().all()
    except DBAPIError as error:
        said = [str(error.orig)]
    return tuple(
        Problem(f"the file is damaged: {' '.join(str(line).split())}", RESTORE)
        for line in said
        if line != "ok"
    )


def refuse_damaged(connection: Connection, address: str) -> None:
    """Raise DamagedDatabase before anything is written into a damaged file."""
    problems = file_problems(connection, quick=True)
    if problems:
        raise DamagedDatabase(address, problems[0].what, problems[0].remedy)


def row_problems(connection: Connection) -> Iterator[Problem]:
    """Yield pointers that lead nowhere, and values that no log could hold."""
    if connection.dialect.name == "sqlite":
        lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        for table, row, target, _ in lost[:_MOST]:
            yield Problem(f"row {row} of {table} belongs to no row of {target}", RESTORE)
    yield from _shots(connection)
    yield from _sessions(connection)
    yield from _changes(connection)


def _shots(connection: Connection) -> Iterator[Problem]:
    ranges = {name: (trait.low, trait.high) for name, trait in TRAITS.items()} | dict(CONDITIONS)
    outside = {name: _outside(SHOT.c[name], *ends) for name, ends in ranges.items()}
    no_reading = and_(~SHOT.c.missed_face, *(SHOT.c[name].is_(None) for name in TRAITS))
    query = (
        select(PLAYER.c.name.label("player"), PRACTICE_SESSION.c.start, SHOT)
        .join(PRACTICE_SESSION, SHOT.c.session_id == PRACTICE_SESSION.c.id)
        .join(PLAYER, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
        .where(or_(*outside.values(), no_reading, SHOT.c.number < 1))
        .limit(_MOST)
    )
    for row in connection.execute(query):
        shot = f"{row.player}, {row.start}, {row.club}, shot {row.number}"
        remedy = "load the shot as it was with --replace, or undo its load"
        found = [
            f"{name} {value!r}, wanted {low:g} to {high:g}"
            for name, (low, high) in ranges.items()
            if (value := getattr(row, name)) is not None and not _within(value, low, high)
        ]
        if row.number < 1:
            found.append(f"number {row.number}, wanted 1 or more")
        yield Problem(f"{shot}: found {'; '.join(found) or 'no reading'}", remedy)


def _sessions(connection: Connection) -> Iterator[Problem]:
    tomorrow = datetime.now(UTC).replace(tzinfo=None) + timedelta(days=2)
    when = PRACTICE_SESSION.c.start
    query = (
        select(PLAYER.c.name, when)
        .join(PLAYER, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
        .where(or_(when < datetime(1980, 1, 1), when > tomorrow))
        .limit(_MOST)
    )
    for name, start in connection.execute(query):
        what = f"{name}: found a session of {start}, wanted one from 1980 to today"
        yield Problem(what, "undo its load, and load it with the right date")


def _changes(connection: Connection) -> Iterator[Problem]:
    table = LOGGED_CHANGE
    query = (
        select(PLAYER.c.name.label("player"), table)
        .join(PLAYER, table.c.player_id == PLAYER.c.id)
        .where(
            or_(
                table.c.kind.not_in(CHANGE_KINDS),
                and_(table.c.trait.is_not(None), table.c.trait.not_in(MODELLED)),
                table.c.effort_sessions <= 0,
            )
        )
        .limit(_MOST)
    )
    for row in connection.execute(query):
        found = f"kind {row.kind!r}, trait {row.trait!r}, effort {row.effort_sessions!r}"
        what = f"{row.player}, {row.start}, {row.name}: found {found}"
        yield Problem(what, "take the change out on the player's page and log it again")


def _outside(column: Column[Any], low: float, high: float) -> Any:
    slack = _SLACK * max(abs(low), abs(high))
    return and_(column.is_not(None), or_(column < low - slack, column > high + slack))


def _within(value: Any, low: float, high: float) -> bool:
    slack = _SLACK * max(abs(low), abs(high))
    return isinstance(value, int | float) and low - slack <= value <= high + slack
