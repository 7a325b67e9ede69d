"""Which group and coach a player was last known to have: by the log, or said by hand since."""

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from tracker.records import LABELS, Label, Labels
from tracker.store.tables import PLAYER, PLAYER_LABEL, PRACTICE_SESSION, SHOT


def player_labels(connection: Connection) -> dict[str, Labels]:
    """Return the labels of every player, by name.

    The newest word counts: that of the last session whose shots have one, or what was said by
    hand after it. Within a session the shot of the highest number speaks.
    """
    last: dict[tuple[str, str], tuple[datetime, str | None]] = {}
    for kind in LABELS:
        query = (
            select(PLAYER.c.name, PRACTICE_SESSION.c.start, SHOT.c[kind])
            .select_from(SHOT)
            .join(PRACTICE_SESSION, SHOT.c.session_id == PRACTICE_SESSION.c.id)
            .join(PLAYER, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
            .where(SHOT.c[kind].is_not(None))
            .order_by(PRACTICE_SESSION.c.start, SHOT.c.number)
        )
        last.update(
            {(name, kind): (start, said) for name, start, said in connection.execute(query)}
        )
    by_hand = select(PLAYER.c.name, PLAYER_LABEL.c.kind, PLAYER_LABEL.c.value, PLAYER_LABEL.c.since)
    for name, kind, said, since in connection.execute(by_hand.join(PLAYER)):
        if since >= last.get((name, kind), (datetime.min, None))[0]:
            last[name, kind] = (since, said)
    names = sorted(connection.scalars(select(PLAYER.c.name)))
    return {n: Labels(**{k: last.get((n, k), (None, None))[1] for k in LABELS}) for n in names}


def set_labels(
    connection: Connection, player_id: int, said: Mapping[Label, str | None], since: datetime
) -> None:
    """Keep what is said of a player from a moment on, in place of what was said before."""
    for kind, value in said.items():
        of_kind = (PLAYER_LABEL.c.player_id == player_id) & (PLAYER_LABEL.c.kind == kind)
        connection.execute(delete(PLAYER_LABEL).where(of_kind))
        row = {"player_id": player_id, "kind": kind, "value": value, "since": since}
        connection.execute(insert(PLAYER_LABEL).values(**row))
