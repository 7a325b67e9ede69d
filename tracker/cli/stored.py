"""What the commands share that ask the database: how it is opened, what is said of its state."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tracker.cli.common import err, note_elsewhere, parse_day, warn_of_problems
from tracker.posterior import Fit
from tracker.readings.stuck_device import StuckReadings
from tracker.store.engine import as_url, default_url, is_new_file, shown_url
from tracker.store.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from tracker.decisions.verdict.threshold import Kept

AsOfOption = Annotated[
    str | None,
    typer.Option(
        "--as-of", metavar="DATE", help="Answer by the newest fit made on or before that date."
    ),
]

STUCK_SHOWN = 20
"""Findings of stuck devices said one by one."""


@contextmanager
def open_store(db: str | None) -> Iterator[Store]:
    """Open the database, saying on first use of the default one where it lies."""
    url = database_url(db)
    fresh = db is None and is_new_file(url)
    with Store.open(url) as store:
        if fresh:
            err.print(f"Shots are kept in {shown_url(url)}")
        yield store


def database_url(db: str | None) -> str:
    """Return the database's URL; a bare file name means an SQLite file."""
    return default_url() if db is None else as_url(db)


def name_stuck(stuck: Sequence[StuckReadings]) -> None:
    """Say on standard error what a stuck device gave."""
    for found in stuck[:STUCK_SHOWN]:
        err.print(found.sentence)
    if len(stuck) > STUCK_SHOWN:
        err.print(f"and {len(stuck) - STUCK_SHOWN} more such; --json lists them all.")


@dataclass(frozen=True, eq=False, slots=True)
class Belief:
    """What a command answers by: a club's latest fit, or the one of an earlier day."""

    store: Store
    fit: Fit
    day: date | None
    """The day that was asked for; None for now."""
    kept: "Kept"
    """Where the fit's limits are kept: those of an earlier fit for this run alone."""

    @property
    def is_stale(self) -> bool:
        """Return whether shots came after the fit; those after an earlier day are no fault."""
        info = self.fit.info
        return self.day is None and self.store.data_digest(info.club) != info.data_digest

    def shots(self, player: str | None = None) -> "pd.DataFrame":
        """Return the stored shots of the fit's club, as of an earlier day those that it had seen.

        Raises UnknownPlayer for a player who is not stored.
        """
        from tracker.fits.beliefs import shots_seen

        frame = self.store.shots_frame(player, self.fit.info.club)
        return frame if self.day is None else shots_seen(self.fit, frame)

    def as_json(self) -> Mapping[str, Any]:
        """Return which fit answers, when it was made (UTC), and who is in it alone."""
        from tracker.fits.kept_fits import not_stored

        info = self.fit.info
        return {
            "fit_id": info.fit_id,
            "fitted_at": info.created_at.isoformat(timespec="seconds"),
            "not_stored": list(not_stored(self.store, self.fit)),
        }

    def say_not_stored(self) -> None:
        """Say on standard error which players of the fit are no longer stored."""
        from tracker.fits.kept_fits import not_stored, not_stored_words

        gone = not_stored_words(not_stored(self.store, self.fit))
        if gone:
            err.print(gone)

    def warn(self, *parts: str) -> None:
        """Show what is wrong with the parts an answer rests on, and that shots came after the fit.

        A doubt about another part is said as such: the answer does not rest on it.
        """
        warn_of_problems(self.fit.problems_of(*parts))
        note_elsewhere(self.fit, *parts)
        self.say_not_stored()
        if self.is_stale:
            warn_of_problems(("shots or changes were stored after it; run drive-progress fit.",))


def belief_asked_for(store: Store, club: str, as_of: str | None) -> Belief:
    """Return the latest fit of a club, or with ``as_of`` the latest of that day; say which."""
    from tracker.decisions.verdict.threshold import Aside
    from tracker.fits.kept_fits import fit_as_of, latest_fit

    day = parse_day(as_of, "--as-of")
    if day is None:
        return Belief(store, latest_fit(store, club), None, store)
    fit = fit_as_of(store, day, club)
    err.print(f"As of {day}: fit {fit.info.fit_id}, made on {fit.info.created_at.date()}.")
    return Belief(store, fit, day, Aside(store))
