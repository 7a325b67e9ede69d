"""How many promises held, and how large they are beside what was found."""

import numpy as np
import pytest
from scipy.stats import beta

from tests.fits import noise
from tracker.decisions.promises.coverage import coverage_of, promised_over_found


def test_the_share_that_held_has_jeffreys_interval():
    found = coverage_of([1.0] * 8 + [0.0] * 2)
    assert (found.inside, found.of) == (8.0, 10)
    # Jeffreys: the 5 % and 95 % points of Beta(8.5, 2.5)
    assert (found.low90, found.high90) == pytest.approx(beta(8.5, 2.5).ppf([0.05, 0.95]).tolist())
    assert found.low90 == pytest.approx(0.548, abs=0.001)


def test_a_doubtful_promise_counts_in_part():
    found = coverage_of([1.0, 0.5, 0.0])
    assert found.inside == 1.5
    assert found.low90 + found.high90 == pytest.approx(1.0)  # half held: symmetric


def test_no_promise_leaves_the_share_open():
    found = coverage_of([])
    assert (found.inside, found.of) == (0.0, 0)
    assert found.low90 < 0.01
    assert found.high90 > 0.99


def test_promises_of_twice_what_was_found_have_a_ratio_of_two():
    found = [3.0 + 0.1 * noise(2000, seed=1), 1.0 + 0.1 * noise(2000, seed=2)]
    ratio = promised_over_found([6.0, 2.0], found)
    assert ratio is not None
    assert ratio.median == pytest.approx(2.0, abs=0.02)
    assert ratio.low90 < 2.0 < ratio.high90


def test_promises_that_differ_doubt_the_ratio_by_which_there_happened_to_be():
    # one of 4 for 1 and one of 4 for 4: weights w, 1 - w give 4 / (1 + 3 (1 - w)), w uniform
    ratio = promised_over_found([4.0, 4.0], [np.full(4000, 1.0), np.full(4000, 4.0)])
    assert ratio is not None
    assert ratio.median == pytest.approx(4 / 2.5, abs=0.05)
    assert (ratio.low90, ratio.high90) == pytest.approx((4 / 3.85, 4 / 1.15), abs=0.1)


def test_nothing_found_settles_no_ratio():
    assert promised_over_found([5.0], [noise(500, seed=3)]) is None
    assert promised_over_found([], []) is None
