"""Who changed is held against the squad's limit, and the flags shown are kept honest together."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fits import BROKEN, day, make_fit, with_info
from tracker.decisions.board.changed import MOST_WRONG, Flag, kept_honest, who_changed
from tracker.interval import Interval
from tracker.records import Change

UP, TOE = "strike_up_mm", "strike_toe_mm"


def flag(chance, player="Ann"):
    days = (day(0), day(7)), (day(14), day(21))
    return Flag(player, UP, chance, 0.9, Interval(1, 0, 2, "mm"), *days, "")


def moved(share, samples=100):
    """Draws whose later half is above the first with the given chance."""
    up = np.arange(samples) < round(share * samples)
    return np.stack([np.zeros(samples)] * 2 + [np.where(up, 1.0, -1.0)] * 2, axis=1)


def test_the_squads_limit_decides_by_trait_and_by_whether_a_change_is_logged():
    fit = make_fit(
        {"Ann": {UP: moved(0.97)}, "Ben": {UP: moved(0.97)}},
        samples=100,
        changes=[Change("Ben", day(10), "drill", "ladder", UP)],
    )
    asked = []

    def limit(trait, logged):
        asked.append((trait, logged))
        return 0.98 if logged else 0.96

    found = who_changed(fit, (UP,), limit)
    assert [f.player for f in found.flags] == ["Ann"]
    assert asked == [(UP, False), (UP, True)]
    assert found.looked_at == 2
    assert found.flags[0].chance == pytest.approx(0.97)
    assert found.expected_wrong == pytest.approx(0.03)


def test_a_flag_says_the_logged_change_and_the_days_it_compares():
    fit = make_fit(
        {"Ben": {UP: moved(1.0)}},
        samples=100,
        changes=[Change("Ben", day(10), "drill", "ladder", UP)],
    )
    (found,) = who_changed(fit, (UP,), lambda *_: 0.9).flags
    assert found.logged == "ladder"
    assert (found.before, found.after) == ((day(0), day(7)), (day(14), day(21)))
    assert found.change.median == 1.0


def test_a_trait_in_doubt_players_not_asked_for_and_too_few_sessions_are_left_out():
    fit = make_fit(
        {"Ann": {UP: moved(1.0), TOE: moved(1.0)}, "Ben": {UP: moved(1.0)}, "Cy": {UP: 1.0}},
        days={"Ann": (0, 7, 14, 21), "Ben": (0, 7, 14, 21), "Cy": (0, 7)},
        samples=100,
    )
    doubtful = with_info(fit, replace(fit.info, reports={TOE: BROKEN}))
    found = who_changed(doubtful, (UP, TOE), lambda *_: 0.9, players={"Ann", "Cy"})
    assert [(f.player, f.trait) for f in found.flags] == [("Ann", UP)]
    assert found.looked_at == 1


def test_a_change_of_method_that_nobody_links_is_no_change():
    shots = {("Ann", UP): [[15, 15, 0, 0], [0, 0, 15, 15]]}
    apart = make_fit(
        {"Ann": {UP: moved(1.0)}}, samples=100, methods=("photo", "spray"), shots=shots
    )
    assert who_changed(apart, (UP,), lambda *_: 0.9).looked_at == 0
    both = {**shots, ("Ben", UP): [[5, 5, 5, 5], [5, 5, 5, 5]]}
    linked = make_fit(
        {"Ann": {UP: moved(1.0)}, "Ben": {UP: 0.0}},
        samples=100,
        methods=("photo", "spray"),
        shots=both,
    )
    assert [f.player for f in who_changed(linked, (UP,), lambda *_: 0.99).flags] == ["Ann"]


def test_the_bar_is_raised_until_a_tenth_is_the_most_that_may_be_wrong():
    # 1 - P: 0, .1, .2 average .1; with the .3 of the next they would average .15
    found = kept_honest([flag(0.7), flag(1.0), flag(0.8), flag(0.9)], 9)
    assert [f.chance for f in found.flags] == [1.0, 0.9, 0.8]
    assert found.expected_wrong == pytest.approx(0.1)
    assert found.bar == 0.8
    assert found.held_back == 1
    assert kept_honest([flag(0.5)], 1).flags == ()


@given(st.lists(st.floats(0.5, 1.0), max_size=30))
def test_never_more_than_a_tenth_is_expected_to_be_wrong_and_no_flag_more_would_fit(chances):
    found = kept_honest([flag(c) for c in chances], len(chances))
    wrong = [1 - f.chance for f in found.flags]
    assert found.expected_wrong <= MOST_WRONG + 1e-9
    assert found.expected_wrong == pytest.approx(np.mean(wrong) if wrong else 0.0)
    assert len(found.flags) + found.held_back == len(chances)
    if found.held_back:
        rest = sorted(chances, reverse=True)[len(found.flags)]
        assert np.mean([*wrong, 1 - rest]) > MOST_WRONG
