"""The calibrated threshold: its arithmetic, what moves it, and that it is kept until data move."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import tracker.decisions.verdict.threshold as place
from models.sampling.report import SamplerReport
from tests.fits import BROKEN, CLEAN, day, make_fit
from tracker.decisions.verdict.threshold import (
    DEFAULT,
    LOWEST,
    allowed_alarms,
    calibrated_thresholds,
    kept_threshold,
    smallest_thresholds,
    squad_calendars,
    upper_limit,
)
from tracker.decisions.verdict.verdict import default_windows, offered_windows
from tracker.decisions.verdict.windows import default_split, offered_split, shortest_run
from tracker.records import Change
from tracker.store.store import Store

TRAIT = "strike_up_mm"
WEEKLY = tuple(range(0, 84, 7))


def squad(players=4, **more):
    levels = {f"P{i}": {TRAIT: float(i)} for i in range(players)}
    settings = {
        "days": WEEKLY,
        "traits": (TRAIT,),
        "samples": 200,
        "jump_chance": 0.3,
        "drift": {TRAIT: 0.4},
        "day_alike": {TRAIT: 0.3},
    } | more
    return make_fit(levels, **settings)


def drilled(players=3, **more):
    return squad(
        players,
        changes=tuple(Change(f"P{i}", day(35), "drill", "ladder", TRAIT) for i in range(players)),
        **more,
    )


def fresh_seasons(fit, number=1000, seed=99):
    rng = np.random.default_rng(seed)
    parts = [place.unchanged_surest(c, number, rng) for c in squad_calendars(fit, TRAIT)]
    return np.concatenate(parts, axis=1)


def test_upper_limit_is_where_so_few_alarms_become_unlikely():
    # by its definition: at the limit, the chance of as few alarms or fewer is 5 %
    limit = upper_limit(84, 2000)
    assert stats.binom.cdf(84, 2000, limit) == pytest.approx(0.05, abs=1e-9)
    most = allowed_alarms(2000)
    assert upper_limit(most, 2000) <= 0.04 < upper_limit(most + 1, 2000)
    assert allowed_alarms(20) == -1  # none in twenty still allows 13.9 %


def test_smallest_threshold_lets_through_as_many_as_allowed_and_no_more():
    surest = np.linspace(0.5, 0.99999, 2000)
    found = smallest_thresholds(surest, np.full(2000, 0.5))["usual"]
    assert (surest >= found.value).sum() <= allowed_alarms(2000)
    assert (surest >= found.value - 2e-4).sum() > allowed_alarms(2000)
    assert found.ever_high <= 0.04


def test_threshold_stays_between_its_ends():
    never = np.full(2000, 0.5)
    assert smallest_thresholds(np.full(2000, 0.6), never)["usual"].value == 0.91
    highest = smallest_thresholds(np.full(2000, 0.99999), never)["usual"]
    assert (highest.value, highest.ever) == (0.9995, 1.0)  # and it says so


def test_both_looks_together_fool_in_one_season_of_twenty():
    """Seasons 0 to 199 are sure by the offered look alone, so that they must share the 4.5 %."""
    rng = np.random.default_rng(2)
    usual, offered = rng.uniform(0.5, 1.0, 4000), np.full(4000, 0.5)
    usual[:200], offered[:200] = 0.5, np.linspace(0.9, 1.0, 200)
    found = smallest_thresholds(usual, offered)
    alone = int((offered >= found["offered"].value).sum())
    assert upper_limit(alone, 4000) <= 0.01
    assert upper_limit(alone + 1, 4000) > 0.01
    either = (usual >= found["usual"].value) | (offered >= found["offered"].value)
    assert found["usual"].ever == pytest.approx(either.mean())
    assert 0 <= allowed_alarms(4000) - either.sum() <= 2  # limits go by steps of 1e-4


@pytest.mark.parametrize("changes", [(), (35,), (14, 49), (0,), (200,)])
@pytest.mark.parametrize("sessions", range(2, 13))
def test_the_rule_of_default_windows_is_one(sessions, changes):
    logged = tuple(Change("P0", day(c), "drill", f"d{c}", TRAIT) for c in changes)
    fit = make_fit(
        {"P0": {TRAIT: 0.0}}, days=WEEKLY[:sessions], traits=(TRAIT,), samples=4, changes=logged
    )
    windows = default_windows(fit, "P0", TRAIT)
    expected = [fit.of("P0", TRAIT).places_in(w).tolist() for w in windows]
    found = default_split(WEEKLY[:sessions], changes)
    assert [found.before.tolist(), found.after.tolist()] == expected


def test_default_windows_worked_by_hand():
    # the change of day 49 has sessions on both sides; before it back to that of day 14
    found = default_split(WEEKLY, (14, 49))
    assert (found.before.tolist(), found.after.tolist()) == ([2, 3, 4, 5, 6], [7, 8, 9, 10, 11])
    assert found.change == 49
    thirds = default_split(WEEKLY[:9], ())
    assert (thirds.before.tolist(), thirds.after.tolist()) == ([0, 1, 2], [6, 7, 8])
    assert default_split((0, 0), ()) is None


def test_default_windows_share_no_day():
    # three days are too few for two each; the sessions of one day stay together
    for days, before, after in (
        ((0, 7), [0], [1]),
        ((0, 7, 14), [0], [2]),
        ((0, 0, 7, 14, 14), [0, 1], [3, 4]),
        ((0, 7, 14, 21), [0, 1], [2, 3]),
        ((0, 0, 7, 7), [0, 1], [2, 3]),
    ):
        found = default_split(days, ())
        assert (found.before.tolist(), found.after.tolist()) == (before, after), days
    # a session on the day of the change is after it
    found = default_split((0, 7, 7, 14), (7,))
    assert (found.before.tolist(), found.after.tolist()) == ([0], [1, 2, 3])
    assert not found.judgeable


def test_offered_windows_leave_out_where_the_change_may_lie():
    jump = np.array([0.0, 0.0, 0.02, 0.4, 0.3, 0.02, 0.0, 0.0])
    found = offered_split(jump)  # 3 and 4 hold .70 of .74
    assert (found.before.tolist(), found.after.tolist()) == ([0, 1, 2], [4, 5, 6, 7])
    assert offered_split(jump * 0.6) is None
    assert shortest_run(np.array([0.0, 0.05, 0.9, 0.05])) == (2, 2)
    assert shortest_run(np.array([0.0, 0.5, 0.0, 0.5])) == (1, 3)


def test_windows_offered_to_a_reader_are_those_that_were_calibrated():
    at = np.repeat([3, 4, 5, -1], [60, 20, 5, 15])
    fit = make_fit(
        {"P0": {TRAIT: 0.0}}, days=WEEKLY[:8], traits=(TRAIT,), samples=100,
        jumps={("P0", TRAIT): (at, np.where(at > 0, 9.0, 0.0))},
    )  # fmt: skip
    windows = offered_windows(fit, "P0", TRAIT)
    share = np.array([np.mean(at == s) if s else 0.0 for s in range(8)])
    found = offered_split(share)
    for places, window in zip((found.before, found.after), windows, strict=True):
        assert fit.of("P0", TRAIT).places_in(window).tolist() == places.tolist()


@pytest.mark.parametrize(("changed", "offered"), [(50, True), (49, False)])
def test_dates_are_offered_from_an_even_chance_on(changed, offered):
    at = np.where(np.arange(100) < changed, 4, -1)
    fit = make_fit(
        {"P0": {TRAIT: 0.0}}, days=WEEKLY[:8], traits=(TRAIT,), samples=100,
        jumps={("P0", TRAIT): (at, np.where(at > 0, 9.0, 0.0))},
    )  # fmt: skip
    assert (offered_windows(fit, "P0", TRAIT) is not None) is offered
    share = np.where(np.arange(8) == 4, changed / 100, 0.0)
    assert (offered_split(share) is not None) is offered


def test_short_calendars_go_on_at_their_own_pace_and_with_their_own_shots():
    fit = make_fit({"P0": {TRAIT: 0.0}}, days=(0, 14, 28), traits=(TRAIT,), shots=9, samples=4)
    (calendar,) = squad_calendars(fit, TRAIT)
    assert calendar.weeks.tolist() == list(range(0, 24, 2))
    assert calendar.counts.sum(axis=0).tolist() == [9] * 12


def test_a_change_begins_in_the_calendar_on_its_own_day():
    calendar = squad_calendars(drilled(1), TRAIT)[0]  # weekly; the change is of the sixth day
    assert calendar.started.tolist() == [[False] * 5 + [True] * 7]


def test_a_long_break_sets_no_pace_for_the_sessions_to_come():
    fit = make_fit({"P0": {TRAIT: 0.0}}, days=(0, 7, 14, 70), traits=(TRAIT,), samples=4)
    (calendar,) = squad_calendars(fit, TRAIT)
    assert calendar.weeks.tolist() == [0, 1, 2, *range(10, 19)]


def test_a_single_shot_a_session_fools_no_more_than_many():
    """Whatever is read of a session, what the judge expects of its mean is what is simulated."""
    for shots in (1, 60):
        usual, _ = fresh_seasons(squad(2, shots=shots), 500)
        assert np.mean(usual >= 0.99) < 0.03, shots


def test_players_with_a_logged_change_are_looked_at_harder():
    """A change of open size leaves more to luck than drift alone, so its limit is higher."""
    fit = drilled()
    changed = calibrated_thresholds(fit, TRAIT, logged=True)["usual"]
    plain = calibrated_thresholds(squad(), TRAIT, logged=False)["usual"]
    assert changed.value > plain.value
    assert changed.ever_high <= 0.04
    assert changed.neighbours == pytest.approx(0.3)
    assert set(calibrated_thresholds(fit, TRAIT, logged=False).values()) == {DEFAULT}


def test_no_power_is_wasted_where_the_limit_is_above_its_floor():
    """Of 2,001 seasons 65 may fool: 3.2 %, unless so few do at the lowest limit already."""
    for fit, logged in ((drilled(), True), (squad(), False)):
        found = calibrated_thresholds(fit, TRAIT, logged=logged)["usual"]
        assert found.value == LOWEST or found.ever > 0.031


def test_alarms_are_as_rare_in_fresh_seasons_as_promised():
    fit = drilled()
    limits = calibrated_thresholds(fit, TRAIT, logged=True)
    usual, offered = fresh_seasons(fit)
    either = (usual >= limits["usual"].value) | (offered >= limits["offered"].value)
    assert 0.025 < np.mean(either) < 0.055
    assert np.mean(offered >= limits["offered"].value) < 0.015
    assert np.mean(usual >= 0.95) > 0.08  # the usual limit would be crossed far more often


def test_a_judge_who_expects_no_unlogged_change_offers_no_dates():
    usual, offered = fresh_seasons(drilled(jump_chance=0.0), 200)
    assert (offered == 0.5).all()
    assert usual.max() > 0.9


def test_dates_are_offered_where_sessions_jump():
    """Not a question of luck alone: with a real jump of 5 SDs the model proposes its date."""
    fit = squad(1)
    (calendar,) = squad_calendars(fit, TRAIT)
    rng = np.random.default_rng(1)
    real = place._unchanged_means

    def jumping(*arguments):
        return real(*arguments) + 15.0 * (np.arange(12) >= 6)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(place, "_unchanged_means", jumping)
        _, offered = place.unchanged_surest(calendar, 100, rng)
    assert np.mean(offered > 0.99) > 0.9


def test_four_sessions_are_looked_at_once():
    """The first look comes with the fourth session, which here is also the last."""
    fit = squad(1)
    (calendar,) = squad_calendars(fit, TRAIT)
    short = replace(
        calendar,
        weeks=calendar.weeks[:4],
        counts=calendar.counts[:, :4],
        started=calendar.started[:, :4],
    )
    usual, _ = place.unchanged_surest(short, 50, np.random.default_rng(4))
    assert (usual > 0.5).all()
    assert usual.std() > 0.02


def test_a_season_that_turns_in_its_last_session_is_noticed():
    fit = squad(1)
    (calendar,) = squad_calendars(fit, TRAIT)
    real = place._unchanged_means

    def turning(*arguments):
        return real(*arguments) + 60.0 * (np.arange(12) == 11)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(place, "_unchanged_means", turning)
        usual, _ = place.unchanged_surest(calendar, 100, np.random.default_rng(1))
    assert np.mean(usual > 0.999) > 0.95


def test_without_readings_or_with_problems_of_the_trait_the_default_stands(tmp_path):
    silent = squad(2, shots=0)
    assert set(calibrated_thresholds(silent, TRAIT, logged=False).values()) == {DEFAULT}
    with Store.open(f"sqlite:///{tmp_path / 's.db'}") as store:
        assert kept_threshold(store, squad(report=BROKEN), "P0", TRAIT) == DEFAULT
        reports: dict[str, SamplerReport] = {TRAIT: CLEAN, "attack_deg": BROKEN}
        other = kept_threshold(store, squad(reports=reports), "P0", TRAIT)
        assert other != DEFAULT  # another trait's doubts are none of this one's


def test_a_threshold_is_kept_until_the_calendar_changes(tmp_path, monkeypatch):
    runs = []
    real = place.calibrated_thresholds
    monkeypatch.setattr(
        place, "calibrated_thresholds", lambda *a, **k: runs.append(1) or real(*a, **k)
    )
    fit = squad()
    later = squad()
    later.session_start[0, -1] += np.timedelta64(7, "D")
    with Store.open(f"sqlite:///{tmp_path / 's.db'}") as store:
        first = kept_threshold(store, fit, "P0", TRAIT)
        assert kept_threshold(store, fit, "P1", TRAIT) == first
        kept_threshold(store, fit, "P1", TRAIT, offered=True)  # both looks come of one run
        assert len(runs) == 1
        kept_threshold(store, later, "P0", TRAIT)
        assert len(runs) == 2
