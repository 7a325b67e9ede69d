"""How the rows of one player become another's, shot by shot where both have a session."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd
from sqlalchemy import Connection, Row, delete, func, select, update

from tracker.errors import ConflictingShots, RowProblem
from tracker.readings.shot_frame import VALUE_COLUMNS, session_text
from tracker.store.people import move_rows
from tracker.store.tables import LOGGED_CHANGE, PLAYER, PRACTICE_SESSION, SHOT

_SAME_CHANGE = ("start", "kind", "name", "trait")
_UNIT_ROUNDING = 1e-9
"""Largest relative difference that the same reading in another unit may show."""


@dataclass(frozen=True, slots=True)
class MergedRows:
    """What moved, by table, what both had alike, and how many shots were numbered anew."""

    rows: Mapping[str, int]
    already: int
    appended: int


def merge_rows(connection: Connection, giver: str, taker: str, *, append: bool) -> MergedRows:
    """Give a stored player's rows to another and remove the first.

    Raises ConflictingShots for shots and changes that are the same by their key alone, unless
    ``append`` numbers such shots after the taker's and keeps such changes as the taker's.
    """
    goes, stays = _number(connection, giver), _number(connection, taker)
    merge = _Merge(connection, goes, stays, f"{giver} and {taker}", append)
    merge.sessions()
    merge.changes()
    merge.refuse()
    others = move_rows(connection, giver, taker, but=(PRACTICE_SESSION, LOGGED_CHANGE))
    connection.execute(delete(PLAYER).where(PLAYER.c.id == goes))
    rows = {name: number for name, number in {**merge.moved, **others}.items() if number}
    return MergedRows(rows, merge.already, merge.appended)


class _Merge:
    """Moves one player's sessions and changes to another, gathering what stands against it."""

    def __init__(
        self, connection: Connection, giver: int, taker: int, who: str, append: bool
    ) -> None:
        self.connection = connection
        self.giver, self.taker, self.who = giver, taker, who
        self.append = append
        self.moved = {"practice_session": 0, "shot": 0, "logged_change": 0}
        self.already = 0
        self.appended = 0
        self.problems: list[RowProblem] = []

    def refuse(self) -> None:
        """Raise ConflictingShots with every shot and change that stands against the merge."""
        if self.problems:
            summary = (
                f"{self.who} have {len(self.problems)} shots or changes that are the same by their "
                "number or name but not by what was read, so nothing was merged; --append numbers "
                "such shots after those that are there, and keeps such changes as they are there:"
            )
            raise ConflictingShots(summary, self.problems)

    def sessions(self) -> None:
        """Move whole sessions, and the shots of sessions that both have."""
        theirs = {row.start: row.id for row in self._sessions(self.taker)}
        for session in self._sessions(self.giver):
            target = theirs.get(session.start)
            if target is None:
                own = PRACTICE_SESSION.c.id == session.id
                self.connection.execute(
                    update(PRACTICE_SESSION).where(own).values(player_id=self.taker)
                )
                query = select(func.count()).select_from(SHOT)
                shots = self.connection.scalar(query.where(SHOT.c.session_id == session.id))
                self.moved["practice_session"] += 1
                self.moved["shot"] += int(shots or 0)
            else:
                self._shots(session, target)
                self.connection.execute(
                    delete(PRACTICE_SESSION).where(PRACTICE_SESSION.c.id == session.id)
                )

    def _sessions(self, player: int) -> list[Row[Any]]:
        query = select(PRACTICE_SESSION).where(PRACTICE_SESSION.c.player_id == player)
        return list(self.connection.execute(query))

    def _shots(self, session: Row[Any], target: int) -> None:
        stored = {(row.club, row.number): row for row in self._shots_of(target)}
        last: dict[str, int] = {}
        given = list(self._shots_of(session.id))
        for row in (*stored.values(), *given):
            last[row.club] = max(last.get(row.club, 0), row.number)
        for row in given:
            there = stored.get((row.club, row.number))
            number = row.number
            differ = [] if there is None else _unlike(row, there)
            if there is not None and not differ:
                self.already += 1
                continue  # it goes with its session
            if there is not None and not self.append:
                self.problems += _conflicts(session, row, there, differ)
                continue
            if there is not None:
                last[row.club] += 1
                number = last[row.club]
                self.appended += 1
            own = SHOT.c.id == row.id
            place = {"session_id": target, "number": number}
            self.connection.execute(update(SHOT).where(own).values(place))
            self.moved["shot"] += 1

    def _shots_of(self, session: int) -> Iterator[Row[Any]]:
        query = select(SHOT).where(SHOT.c.session_id == session)
        yield from self.connection.execute(query.order_by(SHOT.c.club, SHOT.c.number))

    def changes(self) -> None:
        """Move the changes that the other does not have."""
        query = select(LOGGED_CHANGE).order_by(LOGGED_CHANGE.c.id)
        rows = list(self.connection.execute(query))
        stored = {_key(row): row for row in rows if row.player_id == self.taker}
        for row in rows:
            if row.player_id != self.giver:
                continue
            own = LOGGED_CHANGE.c.id == row.id
            there = stored.get(_key(row))
            if there is None:
                statement = update(LOGGED_CHANGE).where(own).values(player_id=self.taker)
                self.connection.execute(statement)
                self.moved["logged_change"] += 1
                continue
            for name in ("effort_sessions", "note"):
                found, kept = getattr(row, name), getattr(there, name)
                if found != kept and not self.append:
                    what = f"{row.start.isoformat()}, {row.name}"
                    wanted = f"{_shown(kept)} as for the other: {what}"
                    self.problems.append(RowProblem(0, name, _shown(found), wanted))
            self.already += 1
            self.connection.execute(delete(LOGGED_CHANGE).where(own))


def _number(connection: Connection, name: str) -> int:
    return int(connection.scalars(select(PLAYER.c.id).where(PLAYER.c.name == name)).one())


def _key(row: Row[Any]) -> tuple[Any, ...]:
    return tuple(getattr(row, name) for name in _SAME_CHANGE)


def _unlike(row: Row[Any], there: Row[Any]) -> list[str]:
    """Return the columns in which two shots differ."""

    def same(name: str) -> bool:
        a, b = getattr(row, name), getattr(there, name)
        if isinstance(a, float) and isinstance(b, float):
            return abs(a - b) <= _UNIT_ROUNDING * max(1.0, abs(a), abs(b))
        return bool(a == b)

    return [name for name in VALUE_COLUMNS if not same(name)]


def _conflicts(
    session: Row[Any], row: Row[Any], there: Row[Any], differ: list[str]
) -> list[RowProblem]:
    when = session_text(pd.Timestamp(session.start))
    shot = f"{when}, {row.club}, shot {row.number}"
    return [
        RowProblem(
            0, n, _shown(getattr(row, n)), f"{_shown(getattr(there, n))} as for the other: {shot}"
        )
        for n in differ
    ]


def _shown(value: Any) -> str:
    if value is None:
        return "an empty cell"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
