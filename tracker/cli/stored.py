"""What the commands share that ask the database: how it is opened, what is said of its state."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Annotated, Any

import typer

from tracker.cli.common import err, note_elsewhere, parse_day, warn_of_problems
from tracker.posterior import Fit
from tracker.readings.stuck_device import StuckReadings
from tracker.store.engine import as_url, default_url, is_new_file, shown_url
from tracker.store.store import Store

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


def fit_asked_for(store: Store, club: str, as_of: str | None) -> Fit:
    """Return the latest fit of a club, or with ``as_of`` the latest of that day; say which."""
    from tracker.fits.kept_fits import fit_as_of, latest_fit

    day = parse_day(as_of, "--as-of")
    if day is None:
        return latest_fit(store, club)
    fit = fit_as_of(store, day, club)
    err.print(f"As of {day}: fit {fit.info.fit_id}, made on {fit.info.created_at.date()}.")
    return fit


def fit_json(store: Store, fit: Fit) -> Mapping[str, Any]:
    """Return which fit an answer is from, when it was made (UTC), and who is in it alone."""
    from tracker.fits.kept_fits import not_stored

    made = fit.info.created_at.isoformat(timespec="seconds")
    return {
        "fit_id": fit.info.fit_id,
        "fitted_at": made,
        "not_stored": list(not_stored(store, fit)),
    }


def say_not_stored(store: Store, fit: Fit) -> None:
    """Say on standard error which players of a fit are no longer stored."""
    from tracker.fits.kept_fits import not_stored, not_stored_words

    gone = not_stored_words(not_stored(store, fit))
    if gone:
        err.print(gone)


def warn_of_fit(store: Store, fit: Fit, *parts: str, as_of: str | None = None) -> None:
    """Show what is wrong with the parts an answer rests on, and that shots came after the fit.

    A doubt about another part is said as such: the answer does not rest on it. An answer asked
    for as of an earlier day is not told of shots that came later.
    """
    warn_of_problems(fit.problems_of(*parts))
    note_elsewhere(fit, *parts)
    say_not_stored(store, fit)
    if as_of is None and store.data_digest(fit.info.club) != fit.info.data_digest:
        warn_of_problems(("shots or changes were stored after it; run drive-progress fit.",))
