import numpy as np
import pytest

from tracker.readings.rounding import coarsest_step, reading_step, with_rounding

READ = np.random.default_rng(3).normal(2.0, 3.0, 60)


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0, 5.0])
def test_the_step_of_rounded_readings_is_seen(step):
    assert reading_step("attack_deg", np.round(READ / step) * step) == pytest.approx(step)


def test_whole_miles_an_hour_are_seen_in_metres_a_second():
    mph = np.round(96 + READ)
    assert reading_step("club_speed_mps", mph * 0.44704) == pytest.approx(0.44704)


def test_tenths_of_an_inch_are_seen_in_millimetres():
    assert reading_step("strike_toe_mm", np.round(READ) / 10 * 25.4) == pytest.approx(2.54)


def test_readings_with_all_their_digits_have_no_step():
    assert reading_step("attack_deg", READ) == 0.0


def test_few_or_equal_readings_tell_no_step():
    assert reading_step("attack_deg", np.round(READ[:9])) is None
    assert reading_step("attack_deg", np.full(50, 2.0)) is None
    assert reading_step("attack_deg", np.full(50, np.nan)) is None


def test_a_hand_typed_reading_does_not_hide_the_step_of_the_rest():
    assert reading_step("attack_deg", np.append(np.round(READ), 2.37)) == 1.0


def test_zeros_tell_nothing_about_the_step():
    zeros = np.zeros(500)
    assert reading_step("attack_deg", np.append(zeros, np.round(READ, 1))) == pytest.approx(0.1)


def test_one_reading_lies_on_the_coarsest_step_it_is_a_multiple_of():
    assert coarsest_step("attack_deg", -2.3) == pytest.approx(0.1)
    assert coarsest_step("attack_deg", 15.0) == 5.0
    assert coarsest_step("attack_deg", 1.23456) == 0.0


def test_rounding_adds_a_twelfth_of_the_square_of_the_step():
    assert with_rounding(0.5, 1.0) == pytest.approx(np.sqrt(0.25 + 1 / 12))
    assert with_rounding(0.5, 0.0) == 0.5
    assert with_rounding(0.5, None) == 0.5


def test_a_twelfth_is_what_rounding_adds():
    exact = np.random.default_rng(4).normal(0.3, 1.2, 200_000)
    assert np.var(np.round(exact)) - np.var(exact) == pytest.approx(1 / 12, rel=0.05)
