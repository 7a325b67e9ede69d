"""What the commands share that ask the database: how it is opened, what is said of its state."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from tracker.cli.common import err, note_elsewhere, warn_of_problems
from tracker.posterior import Fit
from tracker.store.engine import as_url, is_new_file, shown_url
from tracker.store.store import Store, default_url
from tracker.stuck_device import StuckReadings

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


def warn_of_fit(store: Store, fit: Fit, *parts: str) -> None:
    """Show what is wrong with the parts an answer rests on, and that shots came after the fit.

    A doubt about another part is said as such: the answer does not rest on it.
    """
    warn_of_problems(fit.problems_of(*parts))
    note_elsewhere(fit, *parts)
    if store.data_digest(fit.info.club) != fit.info.data_digest:
        warn_of_problems(("shots or changes were stored after it; run drive-progress fit.",))
