"""The calibrated threshold: its arithmetic, what moves it, and that it is kept until data move."""

from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

import tracker.decisions.threshold as place
from tests.fits import BROKEN, day, make_fit
from tracker.decisions.change import default_windows
from tracker.decisions.likeness import Likeness, apart
from tracker.decisions.threshold import (
    DEFAULT,
    allowed_alarms,
    calibrated_threshold,
    look_windows,
    smallest_threshold,
    squad_calendars,
    stored_threshold,
    upper_limit,
)
from tracker.posterior import sessions_in
from tracker.records import Change
from tracker.store import Store

TRAIT = "strike_up_mm"
WEEKLY = tuple(range(0, 84, 7))


def squad(players=4, **more):
    levels = {f"P{i}": {TRAIT: float(i)} for i in range(players)}
    return make_fit(levels, days=WEEKLY, traits=(TRAIT,), samples=200, **more)


def drilled(players=3):
    return squad(
        players,
        changes=tuple(Change(f"P{i}", day(35), "drill", "ladder", TRAIT) for i in range(players)),
    )


def test_upper_limit_is_where_so_few_alarms_become_unlikely():
    # by its definition: at the limit, the chance of as few alarms or fewer is 5 %
    limit = upper_limit(84, 2000)
    assert stats.binom.cdf(84, 2000, limit) == pytest.approx(0.05, abs=1e-9)
    most = allowed_alarms(2000)
    assert upper_limit(most, 2000) <= 0.05 < upper_limit(most + 1, 2000)
    assert allowed_alarms(20) == -1  # none in twenty still allows 13.9 %


def test_smallest_threshold_lets_through_as_many_as_allowed_and_no_more():
    surest = np.linspace(0.5, 0.99999, 2000)
    found = smallest_threshold(surest)
    assert (surest >= found.value).sum() <= allowed_alarms(2000)
    assert (surest >= found.value - 2e-4).sum() > allowed_alarms(2000)
    assert found.ever_high <= 0.05


def test_threshold_stays_between_its_ends():
    assert smallest_threshold(np.full(2000, 0.6)).value == 0.95
    assert smallest_threshold(np.full(2000, 0.99999)).value == 0.9995
    assert smallest_threshold(np.full(2000, 0.99999)).ever == 1.0  # and it says so


@pytest.mark.parametrize("changes", [(), (35,), (14, 49), (0,), (200,)])
@pytest.mark.parametrize("sessions", range(2, 13))
def test_look_windows_are_the_windows_of_a_verdict(sessions, changes):
    logged = tuple(Change("P0", day(c), "drill", f"d{c}", TRAIT) for c in changes)
    fit = make_fit(
        {"P0": {TRAIT: 0.0}}, days=WEEKLY[:sessions], traits=(TRAIT,), samples=4, changes=logged
    )
    windows = default_windows(fit, "P0", TRAIT)
    expected = [sessions_in(fit, "P0", TRAIT, w).tolist() for w in windows]
    found = look_windows(WEEKLY[:sessions], changes)
    assert [w.tolist() for w in found] == expected


def test_short_calendars_go_on_at_their_own_pace_and_with_their_own_shots():
    fit = make_fit({"P0": {TRAIT: 0.0}}, days=(0, 14, 28), traits=(TRAIT,), shots=9, samples=4)
    (calendar,) = squad_calendars(fit, TRAIT)
    assert calendar.weeks.tolist() == list(range(0, 24, 2))
    assert calendar.counts.sum(axis=0).tolist() == [9] * 12


def test_players_with_a_logged_change_are_looked_at_harder():
    """A change of open size leaves more to luck than drift alone, so its limit is higher."""
    fit = drilled()
    changed = calibrated_threshold(fit, TRAIT, logged=True, likeness=apart(fit))
    plain = calibrated_threshold(squad(), TRAIT, logged=False, likeness=apart(fit))
    assert changed.value > plain.value
    assert changed.ever_high <= 0.05
    assert calibrated_threshold(fit, TRAIT, logged=False) == DEFAULT


def test_alarms_are_as_rare_in_fresh_seasons_as_promised():
    fit = drilled()
    limit = calibrated_threshold(fit, TRAIT, logged=True, likeness=apart(fit)).value
    rng = np.random.default_rng(99)
    fresh = np.concatenate(
        [
            place.unchanged_surest(fit, TRAIT, c, 1000, apart(fit), rng)
            for c in squad_calendars(fit, TRAIT)
        ]
    )
    assert 0.025 < np.mean(fresh >= limit) < 0.055
    assert np.mean(fresh >= 0.95) > 0.08  # the usual limit would be crossed far more often


def test_days_that_resemble_their_neighbours_fool_those_who_do_not_know_it():
    """Judges who know that days are alike cope; their alarms stay as rare as promised."""
    fit = drilled()
    alike = Likeness(apart(fit).draws, np.full(96, 0.5))
    found = calibrated_threshold(fit, TRAIT, logged=True, likeness=alike)
    assert found.neighbours == 0.5
    assert found.ever_high <= 0.05


def test_without_readings_or_with_problems_the_default_stands(tmp_path):
    silent = squad(2, shots=0)
    assert calibrated_threshold(silent, TRAIT, logged=False) == DEFAULT
    with Store.open(f"sqlite:///{tmp_path / 's.db'}") as store:
        assert stored_threshold(store, squad(report=BROKEN), "P0", TRAIT) == DEFAULT


def test_a_threshold_is_kept_until_the_calendar_changes(tmp_path, monkeypatch):
    runs = []
    real = place.calibrated_threshold
    monkeypatch.setattr(
        place, "calibrated_threshold", lambda *a, **k: runs.append(1) or real(*a, **k)
    )
    fit = squad()
    later = squad()
    later.session_start[0, -1] += np.timedelta64(7, "D")
    with Store.open(f"sqlite:///{tmp_path / 's.db'}") as store:
        first = stored_threshold(store, fit, "P0", TRAIT)
        assert stored_threshold(store, fit, "P1", TRAIT) == first
        assert len(runs) == 1
        stored_threshold(store, later, "P0", TRAIT)
        assert len(runs) == 2


def test_fourteen_players_take_seconds():
    import time

    fit = squad(14)
    calibrated_threshold(fit, TRAIT, logged=False)
    began = time.process_time()
    calibrated_threshold(fit, TRAIT, logged=False)
    assert time.process_time() - began < timedelta(seconds=5).total_seconds()
