"""How new the fit is gets said at every click without reading every shot at every click."""

from dataclasses import replace
from datetime import datetime

import pytest

from tests.tracker.pages.academy import CHANGES
from tracker.pages.shared import freshness
from tracker.records import Change, Shot


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def looks(monkeypatch):
    """Count the full looks, each of which takes two seconds by the clock."""
    clock, taken = Clock(), []
    real = freshness._look

    def slow(store, version, stored, fit, clock):
        taken.append(version)
        begun = clock.now
        found = real(store, version, stored, fit, clock)
        clock.now = begun + 2.0
        return replace(found, taken_at=clock.now, seconds=2.0)

    monkeypatch.setattr(freshness, "_look", slow)
    monkeypatch.setattr(freshness, "_looks", {})
    return clock, taken


def said(store, clock):
    rows = store.rows_by_table()["shot"]
    return freshness.since_fit(store, store.data_version(), rows, store.fits()[0], clock=clock)


def live_shot(number, **more):
    return Shot("Alder", datetime(2026, 2, 20), number, {"strike_up_mm": 1.0}, **more)


def test_clicks_of_a_live_lesson_are_counted_without_reading_all_shots(academy, looks):
    clock, taken = looks
    assert said(academy, clock) == ""
    for n in range(1, 6):
        clock.now += 3.0
        academy.add_shots([live_shot(n)])
        was = "shot was" if n == 1 else "shots were"
        assert said(academy, clock) == f"{n} {was} loaded after this fit: fit again."
    assert len(taken) == 1
    for n in (5, 4):
        clock.now += 1.0
        academy.remove_shot(live_shot(n))
    assert said(academy, clock) == "3 shots were loaded after this fit: fit again."
    assert len(taken) == 1


def test_a_lesson_taken_back_leaves_the_fit_as_new_as_before(academy, looks):
    clock, taken = looks
    said(academy, clock)
    academy.add_shots([live_shot(1)])
    said(academy, clock)
    academy.remove_shot(live_shot(1))
    assert said(academy, clock) == ""
    assert len(taken) == 2


def test_same_number_of_shots_with_other_changes_is_noticed(academy, looks):
    clock, _ = looks
    assert said(academy, clock) == ""
    academy.add_changes([Change("Alder", CHANGES[0].start, "drill", "gate", "path_deg", 1)])
    assert said(academy, clock) == freshness.NEWER


def test_another_club_is_told_apart_at_the_next_full_look(academy, looks):
    clock, taken = looks
    said(academy, clock)
    academy.add_shots([live_shot(1, club="7-iron")])
    clock.now += 39.0  # two seconds of looking are a twentieth of forty
    assert said(academy, clock).startswith("1 shot was")
    clock.now += 1.0
    assert said(academy, clock) == ""
    assert len(taken) == 2
