"""What of that which is stored now an answer by an earlier fit may use: what that fit had seen."""

from collections.abc import Iterable
from datetime import date

import pandas as pd

from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.records import Change
from tracker.store.rows import LoggedChange


def belief_words(fit: Fit) -> str:
    """Say that an answer is an earlier fit's, and which."""
    info = fit.info
    return (
        f"As believed by fit {info.fit_id} of {info.created_at:%d %B %Y}, before what came later."
    )


def shots_seen(fit: Fit, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of a table of shots whose sessions a fit knows."""
    known = {(p.name, start) for p in fit.players for start in fit.sessions(p.name)}
    pairs = zip(frame["player"], frame["session"], strict=True)
    return frame[[pair in known for pair in pairs]]


def changes_seen(fit: Fit, logged: Iterable[LoggedChange]) -> tuple[LoggedChange, ...]:
    """Return the logged changes that a fit knows."""
    known = {_what(change) for change in fit.changes}
    return tuple(one for one in logged if _what(one.change) in known)


def promised_by(
    fit: Fit, promises: Iterable[Promise], day: date | None = None
) -> tuple[Promise, ...]:
    """Return what was promised by a fit or by one before it, with ``day`` until that day (UTC)."""
    return tuple(
        one
        for one in promises
        if one.fit_id <= fit.info.fit_id
        and (day is None or one.stored_at is None or one.stored_at.date() <= day)
    )


def _what(change: Change) -> tuple[str, date, str, str, str | None]:
    return change.player, change.start, change.kind, change.name, change.trait
