"""Which earlier fits a later one judges, and the judging with what is stored."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from tracker.decisions.checks.chances import ChanceBook, chance_book
from tracker.errors import UnreadableFit
from tracker.fits.kept_fits import fit_of_row
from tracker.posterior import Fit
from tracker.store.rows import FitSummary
from tracker.store.store import Store

MOST_JUDGED: Final = 6
"""Earlier fits that are read; more of them are taken evenly over the season."""


def chances_of(store: Store, fit: Fit) -> ChanceBook:
    """Return what a fit makes of the chances that earlier ones of its club gave."""
    numbers = earlier_fits(store.fits(), fit)
    return chance_book(fit, _read(store, numbers), tuple(store.promises().values()))


def earlier_fits(fits: Sequence[FitSummary], newest: Fit) -> tuple[int, ...]:
    """Return the numbers of the fits to be judged, the earliest first.

    Of several of the same shots and changes the last is taken; of those that the newest has seen,
    none.
    """
    by_digest: dict[str, int] = {}
    for one in sorted(fits, key=lambda f: f.id):
        if one.club == newest.info.club and one.id < newest.info.fit_id:
            by_digest[one.data_digest] = one.id
    by_digest.pop(newest.info.data_digest, None)
    numbers = sorted(by_digest.values())
    if len(numbers) <= MOST_JUDGED:
        return tuple(numbers)
    places = np.linspace(0, len(numbers) - 1, MOST_JUDGED).round().astype(int)
    return tuple(numbers[place] for place in places)


def _read(store: Store, numbers: Sequence[int]) -> Iterator[Fit]:
    for number in numbers:
        try:
            yield fit_of_row(store.load_fit(number))
        except UnreadableFit:
            continue  # of an earlier version: the page's list of fits says so
