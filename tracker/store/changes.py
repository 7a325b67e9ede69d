"""How logged changes are laid against those stored, and read back."""

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, insert, select, update

from tracker.errors import ConflictingShots, RowProblem
from tracker.files.change_log import change_key
from tracker.records import Change
from tracker.store.roster import player_id
from tracker.store.rows import Added, LoggedChange
from tracker.store.tables import LOGGED_CHANGE, PLAYER

_VALUES = ("start", "kind", "name", "trait", "effort_sessions", "note")


def add_changes(
    connection: Connection,
    changes: Iterable[Change],
    lines: Sequence[int],
    *,
    replace: bool,
) -> Added:
    """Store what is new; raise ConflictingShots for another effort or note unless ``replace``."""
    fresh: list[dict[str, Any]] = []
    updates: list[tuple[int, Change]] = []
    problems: list[RowProblem] = []
    same = 0
    stored = {change_key(logged.change): logged for logged in logged_changes(connection)}
    for change, line in zip(changes, lines, strict=True):
        owner = player_id(connection, change.player)
        known = stored.get(change_key(change))
        if known is None:
            fresh.append({"player_id": owner, **_values(change)})
            stored[change_key(change)] = LoggedChange(0, change)
        elif known.change == change:
            same += 1
        elif replace:
            updates.append((known.id, change))
        else:
            problems.append(_conflict(line, known.change, change))
    if problems:
        summary = (
            f"{len(problems)} changes are stored already with other values, so nothing was "
            f"stored; choose replace if these are right:"
        )
        raise ConflictingShots(summary, problems)
    if fresh:
        connection.execute(insert(LOGGED_CHANGE), fresh)
    for number, change in updates:
        same_change = LOGGED_CHANGE.c.id == number
        connection.execute(update(LOGGED_CHANGE).where(same_change).values(**_values(change)))
    return Added(len(fresh), same, len(updates))


def logged_changes(connection: Connection) -> list[LoggedChange]:
    """Return every stored change by player, start and number."""
    query = select(LOGGED_CHANGE.c.id, PLAYER.c.name, *(LOGGED_CHANGE.c[name] for name in _VALUES))
    rows = connection.execute(query.join(PLAYER, LOGGED_CHANGE.c.player_id == PLAYER.c.id))
    found = [
        LoggedChange(number, Change(player, **dict(zip(_VALUES, values, strict=True))))
        for number, player, *values in rows
    ]
    return sorted(found, key=lambda logged: (logged.change.player, logged.change.start, logged.id))


def _values(change: Change) -> dict[str, Any]:
    return {name: getattr(change, name) for name in _VALUES}


def _conflict(line: int, stored: Change, given: Change) -> RowProblem:
    name = "note" if stored.effort_sessions == given.effort_sessions else "effort_sessions"
    found, kept = (getattr(change, name) for change in (given, stored))
    wanted = (
        f"{'an empty cell' if kept is None else kept} as stored for {given.player}, "
        f"{given.start.isoformat()}, {given.name}"
    )
    return RowProblem(line, name, "" if found is None else str(found), wanted)
