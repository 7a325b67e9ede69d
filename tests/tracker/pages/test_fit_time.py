"""How long the next fit takes is said by the last, and what one does while it runs."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from tests.fits import with_info
from tests.pages import drawn_by
from tests.tracker.pages.academy import keep, small_fit
from tracker.fits import background
from tracker.fits.background import queue_job
from tracker.pages.shared.fit_time import (
    before_words,
    duration_words,
    expected_seconds,
    under_way_words,
)
from tracker.store.rows import FitSummary

LAST = FitSummary(
    id=1,
    created_at=datetime(2026, 3, 1, tzinfo=UTC),
    data_digest="",
    seed=1,
    versions={},
    report={},
    seconds=60.0,
    players=12,
    sessions=100,
    shots=900,
    size=1,
    club="driver",
)
BEGUN = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("sessions", "seconds"),
    # 10 s of start and half a second a session
    [(100, 60.0), (200, 110.0), (50, 35.0), (0, 10.0)],
)
def test_twice_the_sessions_take_twice_the_sampling(sessions, seconds):
    assert expected_seconds(LAST, sessions) == seconds


def test_a_quick_fit_is_all_start():
    assert expected_seconds(replace(LAST, seconds=4.0), 1000) == 4.0


@pytest.mark.parametrize("last", [None, replace(LAST, sessions=0), replace(LAST, seconds=0.0)])
def test_without_a_last_fit_nothing_is_promised(last):
    assert expected_seconds(last, 100) is None
    assert "once one has been made" in before_words(None)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "5 s"), (7.6, "10 s"), (42, "40 s"), (89, "90 s"), (90, "2 min"), (310, "5 min")],
)
def test_a_time_is_said_in_round_words(seconds, words):
    assert duration_words(seconds) == words


@pytest.mark.parametrize(
    ("share", "gone", "expected", "words"),
    [
        (0.25, 20, 60.0, "Fitting: drawing, 25 % of this stage; 20 s so far, about 40 s to go."),
        (None, 20, None, "Fitting: drawing; 20 s so far."),
        (0.0, 80, 60.0, "Fitting: drawing; 80 s so far, longer than the last one."),
        (0.5, -3, 60.0, "Fitting: drawing, 50 % of this stage; 5 s so far, about 60 s to go."),
    ],
)
def test_a_running_fit_says_its_stage_and_what_is_left(share, gone, expected, words):
    now = BEGUN + timedelta(seconds=gone)
    assert under_way_words("drawing", share, BEGUN, now, expected) == words


def squad():
    from tracker.pages.squad import page

    page()


def test_the_side_bar_says_how_long_a_fit_takes_and_then_what_it_does(academy, monkeypatch):
    fit = small_fit()
    keep(academy, with_info(fit, replace(fit.info, seconds=42.0)))
    page = drawn_by(squad).run()
    said = [c.value for c in page.sidebar.caption]
    assert "A fit takes about 40 s here, by the last one." in said

    def begin(store, url):
        import os

        job = queue_job(store, os.getpid(), phase="starting")
        store.update_job(job, state="running", done=50, total=200, phase="smoothing the levels")
        return os.getpid()

    monkeypatch.setattr(background, "start_fit", begin)
    page.button(key="fit again").click().run()
    assert not page.exception
    (bar,) = page.sidebar.get("progress")
    assert bar.proto.text.startswith("Fitting: smoothing the levels, 25 % of this stage; ")
    assert bar.proto.value == 25
    assert not page.sidebar.button
