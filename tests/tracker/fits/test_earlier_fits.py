"""Which earlier fits a later one judges."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import make_fit, with_info
from tests.tracker.pages.academy import keep
from tracker.fits.earlier_fits import MOST_JUDGED, chances_of, earlier_fits
from tracker.fits.kept_fits import latest_fit
from tracker.store.store import Store

UP = "strike_up_mm"


@pytest.fixture
def store(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as opened:
        yield opened


def kept(store, days, digest, club="driver"):
    levels = {"Ann": {UP: [-4.0 if d < 14 else 0.0 for d in days]}}
    fit = make_fit(levels, days=days, traits=(UP,), samples=100)
    keep(store, with_info(fit, replace(fit.info, club=club)), digest=digest)


def test_of_one_set_of_shots_the_last_fit_is_judged_and_the_newest_shots_are_not(store):
    for digest in ("a", "a", "b", "c"):
        kept(store, (0, 7, 14, 21), digest)
    kept(store, (0, 7), "d", club="wood")
    kept(store, (0, 7, 14, 21, 28), "c")
    assert earlier_fits(store.fits(), latest_fit(store)) == (2, 3)


def test_of_many_fits_some_are_taken_evenly(store):
    for number in range(12):
        kept(store, (0, 7, 14, 21), f"digest {number}")
    found = earlier_fits(store.fits(), latest_fit(store))
    assert len(found) == MOST_JUDGED
    assert (found[0], found[-1]) == (1, 11)
    assert set(np.diff(found)) == {2}


def test_chances_of_stored_fits_are_judged_by_the_newest(store):
    kept(store, (0, 7, 14, 21), "a")
    kept(store, (0, 7, 14, 21, 28), "b")
    book = chances_of(store, latest_fit(store))
    assert (book.newest, book.fits) == (2, (1,))
    moved = dict(book.kinds)["moved"]
    assert (moved.said, moved.claimed, moved.right) == (1, 1.0, 1.0)


def test_a_first_fit_has_nobody_to_judge(store):
    kept(store, (0, 7, 14, 21), "a")
    assert chances_of(store, latest_fit(store)).every is None
