"""Who is stored: the players, by name and by the number of their row."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

import pandas as pd
from sqlalchemy import Connection, insert, select, update

from tracker.errors import ConflictingShots, RowProblem, UnknownPlayer
from tracker.readings.shot_columns import closest
from tracker.readings.shot_frame import plain_values
from tracker.records import Player
from tracker.store.rows import OnConflict
from tracker.store.tables import PLAYER, PRACTICE_SESSION


def stored_players(connection: Connection) -> tuple[Player, ...]:
    """Return every player, those stored first at the front."""
    rows = connection.execute(select(PLAYER.c.name, PLAYER.c.handed).order_by(PLAYER.c.id))
    return tuple(Player(*row) for row in rows)


def player_id(connection: Connection, name: str) -> int:
    """Return a player's number; raise UnknownPlayer, with the closest name, for one not stored."""
    number = connection.scalar(select(PLAYER.c.id).where(PLAYER.c.name == name))
    if number is None:
        near = closest(name, connection.scalars(select(PLAYER.c.name)))
        hint = f"the closest is {near!r}" if near else "load this player's shots first"
        msg = f"player {name!r} is not stored: {hint}"
        raise UnknownPlayer(msg)
    return int(number)


def player_ids(
    connection: Connection, frame: pd.DataFrame, lines: Sequence[int], on_conflict: OnConflict
) -> dict[str, int]:
    """Return the number of every player of the table, adding those not stored yet.

    Raises ConflictingShots where the table says another hand than is stored, unless it replaces.
    """
    stated: dict[str, tuple[str | None, int]] = {}
    hands = zip(frame["player"], plain_values(frame["handed"]), lines, strict=True)
    for player, hand, line in hands:
        stated.setdefault(player, (hand, line))
    stored = {row.name: row for row in connection.execute(select(PLAYER))}
    problems = []
    for player, (hand, line) in stated.items():
        row = stored.get(player)
        if row is None or hand is None or row.handed == hand:
            continue
        if on_conflict == "replace":
            connection.execute(update(PLAYER).where(PLAYER.c.id == row.id).values(handed=hand))
        else:
            problems.append(RowProblem(line, "handed", hand, f"{row.handed}, as stored: {player}"))
    if problems:
        summary = "The file says another hand than is stored, so nothing was stored:"
        raise ConflictingShots(summary, problems)
    fresh = [
        {"name": player, "handed": hand or "right"}
        for player, (hand, _) in stated.items()
        if player not in stored
    ]
    if fresh:
        connection.execute(insert(PLAYER), fresh)
    rows = connection.execute(select(PLAYER.c.name, PLAYER.c.id))
    return {name: number for name, number in rows if name in stated}


def players_on(connection: Connection, day: date) -> tuple[str, ...]:
    """Return who has a session on a day, by name."""
    start = datetime.combine(day, time.min)
    query = (
        select(PLAYER.c.name)
        .join(PRACTICE_SESSION, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
        .where(PRACTICE_SESSION.c.start >= start)
        .where(PRACTICE_SESSION.c.start < start + timedelta(days=1))
    )
    return tuple(sorted(set(connection.scalars(query))))
