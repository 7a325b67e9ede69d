"""Which change the player's page opens on: the surest one, never one that did nothing."""

import pytest

from tests.fits import day, make_fit
from tracker.decisions.verdict.telling import most_telling
from tracker.records import Change

NOTHING = Change("Ash", day(10), "drill", "mirror swings", "strike_toe_mm", 4)
RISE = Change("Ash", day(10), "drill", "tee it higher", "strike_up_mm", 4)
OTHERS = Change("Birch", day(10), "drill", "mirror swings", "strike_toe_mm", 4)
LEVELS = {
    "Ash": {"strike_up_mm": [-8.0, -8.0, -4.0, -4.0], "strike_toe_mm": 3.0},
    "Birch": {"strike_up_mm": 2.0, "strike_toe_mm": [0.0, 0.0, 1.0, 1.0]},
}


@pytest.mark.parametrize("changes", [(RISE, NOTHING, OTHERS), (OTHERS, NOTHING, RISE)])
def test_the_change_that_moved_comes_first_whatever_was_logged_last(changes):
    fit = make_fit(LEVELS, changes=changes)
    assert most_telling(fit) == ("Ash", "strike_up_mm")
    assert most_telling(fit, "Ash") == ("Ash", "strike_up_mm")
    assert most_telling(fit, "Birch") == ("Birch", "strike_toe_mm")


def test_without_a_change_nothing_is_named():
    fit = make_fit(LEVELS)
    assert most_telling(fit) == (None, None)
    assert most_telling(make_fit(LEVELS, changes=(RISE,)), "Birch") == (None, None)
