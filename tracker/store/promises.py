"""How promises are kept beside the changes they are of, and read back."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, insert, select

from tracker.interval import Interval
from tracker.promise import Promise
from tracker.store.changes import logged_changes
from tracker.store.rows import LoggedChange
from tracker.store.tables import PROMISE, utc_now, with_utc


def add_promises(
    connection: Connection, promises: Iterable[tuple[LoggedChange, Promise]]
) -> tuple[Promise, ...]:
    """Keep promises of changes that have none yet; return those that were kept."""
    now = utc_now()
    taken = set(connection.scalars(select(PROMISE.c.change_id)))
    stored = {logged.id for logged in logged_changes(connection)}
    fresh = [
        (logged, promise)
        for logged, promise in promises
        if logged.id in stored and logged.id not in taken
    ]
    if fresh:
        rows = [{"change_id": logged.id, "stored_at": now, **_row(p)} for logged, p in fresh]
        connection.execute(insert(PROMISE), rows)
    return tuple(promise for _, promise in fresh)


def stored_promises(connection: Connection) -> list[tuple[int, Promise]]:
    """Return every promise with the number of its change, by player and start."""
    changes = {logged.id: logged.change for logged in logged_changes(connection)}
    kept = {
        row.change_id: with_utc(row, "stored_at") for row in connection.execute(select(PROMISE))
    }
    return [
        (
            number,
            Promise(
                change=change,
                lever=values["lever"],
                move=Interval(**values["move"]),
                target=values["target"],
                gains={name: Interval(**gain) for name, gain in values["gains"].items()},
                mean_gain_m=values["mean_gain_m"],
                effort_sessions=values["effort_sessions"],
                fit_id=values["fit_id"],
                stored_at=values["stored_at"],
            ),
        )
        for number, change in changes.items()
        if (values := kept.get(number)) is not None
    ]


def _row(promise: Promise) -> dict[str, Any]:
    return {
        "lever": promise.lever,
        "move": dict(promise.move.as_json()),
        "target": promise.target,
        "gains": {name: dict(gain.as_json()) for name, gain in promise.gains.items()},
        "mean_gain_m": promise.mean_gain_m,
        "effort_sessions": promise.effort_sessions,
        "fit_id": promise.fit_id,
    }
