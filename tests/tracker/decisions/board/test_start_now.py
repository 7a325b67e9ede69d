"""A season's first and latest sessions, steps told from creep, and what the way was worth."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import day, make_fit
from tracker.decisions.board.board_words import move_words
from tracker.decisions.board.start_now import (
    ends_of,
    scatter_windows,
    squad_start_now,
    start_now,
    start_now_distance,
    steps_of,
)
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.yardstick import Yardstick, outcome
from tracker.pages.board_view import start_view
from tracker.records import Change

UP, SPEED = "strike_up_mm", "club_speed_mps"
SIX = tuple(range(0, 42, 7))


def still(path, samples=8):
    """Draws that all hold one path."""
    return np.tile(np.asarray(path, dtype=float), (samples, 1))


def test_the_ends_are_the_first_and_the_latest_third():
    fit = make_fit({"Ann": {UP: still([1, 3, 9, 9, 5, 7])}}, days=SIX, samples=8)
    found = start_now(fit, "Ann", UP)
    assert (found.start.median, found.now.median, found.change.median) == (2.0, 6.0, 4.0)
    assert found.first == (day(0), day(7))
    assert found.latest == (day(28), day(35))


def test_since_a_day_the_first_sessions_are_those_after_it():
    fit = make_fit({"Ann": {UP: still([50, 50, 1, 3, 5, 7])}}, days=SIX, samples=8)
    found = start_now(fit, "Ann", UP, since=day(14))
    assert (found.start.median, found.now.median) == (2.0, 6.0)
    assert found.first[0] == day(14)


def test_sessions_without_readings_of_the_trait_are_no_ends():
    path = still([50, 1, 3, 5, 7, 50])
    shots = {("Ann", UP): [0, 15, 15, 15, 15, 0]}
    fit = make_fit({"Ann": {UP: path}}, days=SIX, samples=8, shots=shots)
    found = start_now(fit, "Ann", UP)
    assert (found.start.median, found.now.median) == (2.0, 6.0)


def test_one_day_is_no_way():
    fit = make_fit({"Ann": {UP: 1.0}}, days=(0,))
    assert start_now(fit, "Ann", UP) is None
    assert squad_start_now(fit, ("Ann",), UP) == ()
    assert ends_of(fit.of("Ann", UP)) is None
    assert start_now_distance(fit, "Ann") is None


def test_a_step_is_a_step_and_nothing_creeps_beside_it():
    fit = make_fit(
        {"Ann": {UP: still([0, 0, 0, 4, 4, 4])}, "Ben": {UP: still([0, 0, 0, 3, 3, 3])}},
        days=SIX,
        samples=8,
        changes=[Change("Ann", day(21), "drill", "ladder", UP)],
        change_effect={0: {UP: 4.0}},
        jumps={("Ben", UP): ([3] * 7 + [-1], [3.0] * 7 + [0.0])},
    )
    logged, found = start_now(fit, "Ann", UP), start_now(fit, "Ben", UP)
    (step,) = logged.steps
    assert (step.kind, step.name, step.between, step.chance) == (
        "logged", "ladder", (day(21), day(21)), 1.0,
    )  # fmt: skip
    assert step.size.median == 4.0
    assert logged.creep.median == pytest.approx(0.0)
    (step,) = found.steps
    assert (step.kind, step.between, step.chance) == ("found", (day(14), day(21)), 7 / 8)
    assert step.size.median == 3.0
    assert found.creep.median == pytest.approx(0.0)
    assert move_words(logged, "yards").startswith("+4.0 mm (+4.0 to +4.0) at once: ladder")


def test_a_step_that_there_may_not_have_been_is_not_settled():
    """Its size is +3 mm in 7 of 8 draws and there was none in the last: 90 % is asked for."""
    jumps = {("Ben", UP): ([3] * 7 + [-1], [3.0] * 7 + [0.0])}
    fit = make_fit({"Ben": {UP: still([0, 0, 0, 3, 3, 3])}}, days=SIX, samples=8, jumps=jumps)
    found = start_now(fit, "Ben", UP)
    (step,) = found.steps
    assert step.settled
    assert not step.sure
    assert replace(step, chance=0.95).sure
    assert move_words(found, "yards").startswith(
        "perhaps +3.0 mm (+3.0 to +3.0) at once: not logged, between"
    )
    lead = start_view([found], [found], {}, (), "yards").lead
    assert "A move at one moment is settled for nobody" in lead


def test_what_is_less_likely_than_not_is_no_step_and_changes_outside_are_left_out():
    fit = make_fit(
        {"Ann": {UP: 0.0}},
        days=SIX,
        samples=8,
        changes=[
            Change("Ann", day(7), "drill", "early", UP),
            Change("Ann", day(99), "drill", "later", UP),
        ],
        jumps={("Ann", UP): ([3] * 3 + [-1] * 5, 2.0)},
    )
    one = fit.of("Ann", UP)
    assert [s.name for s in steps_of(one)] == ["early"]
    assert steps_of(one, since=day(14)) == ()


def test_the_worth_is_at_like_speed():
    # nothing but speed differs between the ends, and speed stands on both sides as it is today
    speeds = still([40, 40, 42, 44, 46, 46])
    fit = make_fit({"Ann": {SPEED: speeds}}, days=SIX, samples=8, level_sd=0.0)
    worth = start_now_distance(fit, "Ann")
    assert worth.median == pytest.approx(0.0, abs=1e-9)


def test_the_worth_is_the_difference_of_two_clouds_by_the_yardstick_asked_for():
    fit = make_fit({"Ann": {UP: still([-9, -9, 0, 0, 3, 3])}}, days=SIX, samples=8, level_sd=0.0)
    carry = Yardstick("carry")
    cloud = player_cloud(fit, "Ann", draws=8, shots=16)
    then, now = (outcome(cloud.moved(UP, level), carry).value for level in (-9.0, 3.0))
    found = start_now_distance(fit, "Ann", yardstick=carry)
    assert found.median == pytest.approx(np.median(now - then), rel=1e-9)
    assert found.unit == "m"
    assert start_now_distance(fit, "Ann", yardstick=Yardstick("inside")).unit == "points"


def test_windows_for_scatter_are_the_ends():
    fit = make_fit({"Ann": {UP: 1.0}, "Ben": {UP: 1.0}}, days={"Ann": SIX, "Ben": (0,)})
    windows = scatter_windows(fit, ("Ann", "Ben"), UP)
    assert set(windows) == {"Ann"}
    before, after = windows["Ann"]
    assert (before.start, before.end) == (day(0), day(7))
    assert (after.start, after.end) == (day(28), day(35))
