"""Which group and coach a player was last known to have: by the log, or said by hand since."""

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy import Connection, func, insert, select

from tracker.records import LABELS, Label, Labels
from tracker.store.tables import PLAYER, PLAYER_LABEL, PRACTICE_SESSION, SHOT


def player_labels(connection: Connection) -> dict[str, Labels]:
    """Return the labels of every player, by name.

    The newest word counts: that of the last session whose shots have one, or what was said by
    hand after it. Within a session the shot of the highest number speaks.
    """
    last: dict[tuple[str, str], tuple[datetime, str | None]] = {}
    for kind in LABELS:
        said = (PLAYER.c.name, PRACTICE_SESSION.c.start, SHOT.c[kind])
        query = (
            select(*said)
            .select_from(SHOT)
            .join(PRACTICE_SESSION, SHOT.c.session_id == PRACTICE_SESSION.c.id)
            .join(PLAYER, PRACTICE_SESSION.c.player_id == PLAYER.c.id)
            .where(SHOT.c[kind].is_not(None))
            .group_by(*said)
            .order_by(PRACTICE_SESSION.c.start, func.max(SHOT.c.number))
        )
        for name, start, word in connection.execute(query):
            last[name, kind] = (start, word)
    by_hand = select(PLAYER.c.name, PLAYER_LABEL.c.kind, PLAYER_LABEL.c.value, PLAYER_LABEL.c.since)
    in_order = by_hand.join(PLAYER).order_by(PLAYER_LABEL.c.since, PLAYER_LABEL.c.id)
    for name, kind, said, since in connection.execute(in_order):
        if since >= last.get((name, kind), (datetime.min, None))[0]:
            last[name, kind] = (since, said)
    names = sorted(connection.scalars(select(PLAYER.c.name)))
    return {n: Labels(**{k: last.get((n, k), (None, None))[1] for k in LABELS}) for n in names}


def set_labels(
    connection: Connection, player_id: int, said: Mapping[Label, str | None], since: datetime
) -> None:
    """Keep what is said of a player from a moment on."""
    rows = [
        {"player_id": player_id, "kind": kind, "value": value, "since": since}
        for kind, value in said.items()
    ]
    connection.execute(insert(PLAYER_LABEL), rows)
