"""Median and equal-tailed 90 % interval."""

import numpy as np
import pytest

from tracker.interval import Interval


def test_an_interval_leaves_five_percent_on_each_side():
    # draws 0, 1, ..., 100: the 5th, 50th and 95th of a hundred equal steps
    draws = np.arange(101.0)[::-1]
    found = Interval.from_draws(draws, "mm")
    assert (found.low90, found.median, found.high90) == pytest.approx((5.0, 50.0, 95.0))
    assert found.unit == "mm"


def test_an_interval_of_normal_draws_has_the_tabled_ends():
    # the 95 % point of the standard normal distribution is 1.6449 (any statistical table)
    draws = np.random.default_rng(1).normal(10, 2, 400_000)
    found = Interval.from_draws(draws, "m")
    assert found.median == pytest.approx(10, abs=0.02)
    assert (found.low90, found.high90) == pytest.approx((6.7103, 13.2897), abs=0.03)


def test_scaling_keeps_the_ends_in_order():
    flipped = Interval(2.0, 1.0, 4.0, "deg").scaled(-1.0, "deg left")
    assert flipped == Interval(-2.0, -4.0, -1.0, "deg left")


@pytest.mark.parametrize("draws", [[], [1.0, np.nan], [np.inf]])
def test_draws_that_are_not_finite_have_no_interval(draws):
    with pytest.raises(ValueError, match="finite draws"):
        Interval.from_draws(np.array(draws), "m")


def test_json_has_the_four_keys():
    assert Interval(2.0, 1.0, 4.0, "m").as_json() == {
        "median": 2.0,
        "low90": 1.0,
        "high90": 4.0,
        "unit": "m",
    }
