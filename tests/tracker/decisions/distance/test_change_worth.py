"""What a measured move is worth: its sign, two clouds' difference, and when it cannot be told."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import BROKEN, day, make_fit, noise, with_info
from tracker.decisions.distance.change_worth import ChangeWorth, change_worth, worth_sentence
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.yardstick import CARRY, TOWARD, Yardstick
from tracker.interval import Interval
from tracker.player_trait import Window

UP, SPEED = "strike_up_mm", "club_speed_mps"
BEFORE, AFTER = Window(day(0), day(10)), Window(day(11), day(40))
PHYSICS = {"drag_factor": 0.98 + 0.005 * noise(400, seed=9)}


def calibrated(levels, **more):
    return make_fit({"Ana": levels}, physics=PHYSICS, **more)


def test_a_low_strike_that_rises_is_worth_metres_and_back_again_costs_as_much():
    rising = change_worth(calibrated({UP: [-9.0, -9.0, -4.0, -4.0]}), "Ana", UP, BEFORE, AFTER)
    assert rising.gain.unit == "m"
    assert rising.gain.low90 > 1.0
    fit = calibrated({UP: [-9.0, -9.0, -4.0, -4.0]})
    back = change_worth(fit, "Ana", UP, AFTER, BEFORE)
    assert back.gain.median == pytest.approx(-rising.gain.median)
    assert back.gain.low90 == pytest.approx(-rising.gain.high90)


def test_worth_is_the_difference_of_the_carry_at_both_levels_of_every_draw():
    fit = calibrated({UP: [-9.0, -9.0, -4.0, -4.0]})
    cloud, one = player_cloud(fit, "Ana"), fit.of("Ana", UP)
    carries = [cloud.moved(UP, one.tendency(w)).carry() for w in (BEFORE, AFTER)]
    low, median, high = np.quantile(carries[1] - carries[0], [0.05, 0.5, 0.95])
    found = change_worth(fit, "Ana", UP, BEFORE, AFTER, CARRY).gain
    assert (found.low90, found.median, found.high90) == pytest.approx((low, median, high))


def test_no_move_is_worth_nothing_but_what_is_open():
    gain = change_worth(calibrated({UP: -6.0}), "Ana", UP, BEFORE, AFTER).gain
    assert gain.low90 < 0 < gain.high90
    assert abs(gain.median) < 0.3


def test_two_metres_a_second_of_club_speed_are_worth_some_ten_metres():
    # common practice, no source: about 2.5 yd of carry a mph, so 2 m/s (4.5 mph) about 10 m
    fit = calibrated({SPEED: [44.0, 44.0, 46.0, 46.0]}, level_sd=0.1)
    assert 7 < change_worth(fit, "Ana", SPEED, BEFORE, AFTER, CARRY).gain.median < 13


def test_the_chance_to_stay_inside_is_told_in_points():
    fit = calibrated({"face_deg": [4.0, 4.0, 0.0, 0.0]})
    gain = change_worth(fit, "Ana", "face_deg", BEFORE, AFTER, Yardstick("inside")).gain
    assert gain.unit == "points"


@pytest.mark.parametrize(
    ("fit", "trait", "why"),
    [
        (make_fit({"Ana": {UP: -6.0}}), UP, "not been learned from this squad's own balls"),
        (
            make_fit({"Ana": {UP: -6.0}}, physics=PHYSICS, reports={"loft_deg": BROKEN}),
            UP,
            "did not pass its checks",
        ),
        (
            with_info(
                one := make_fit({"Ana": {UP: -6.0}}, physics=PHYSICS),
                replace(one.info, club="7 iron"),
            ),
            UP,
            "driver alone",
        ),
    ],
)
def test_what_cannot_be_told_is_said_with_the_reason(fit, trait, why):
    found = change_worth(fit, "Ana", trait, BEFORE, AFTER)
    assert found.gain is None
    assert worth_sentence(found, "yards").startswith("Can't tell yet: ")
    assert why in worth_sentence(found, "yards")


def said(median, low, high, system="yards"):
    return worth_sentence(ChangeWorth(TOWARD, Interval(median, low, high, "m")), system)


def test_a_gain_a_cost_and_what_may_be_nothing_are_said_each_in_its_way():
    assert said(4.572, 0.9144, 8.2296) == (
        "The move is worth +5 yd toward the target (90 % sure between +1 and +9 yd), all else as "
        "it is today."
    )
    assert said(4.572, 0.9144, 8.2296, "metres").startswith("The move is worth +5 m toward")
    assert said(-4.572, -8.2296, -0.9144) == (
        "The move costs 5 yd toward the target (90 % sure between 1 and 9 yd), all else as it is "
        "today."
    )
    assert said(0.9144, -1.8288, 3.6576).endswith(
        "all else as it is today: it may be worth nothing."
    )
