"""What is said of how sure a first lever is: few rivals by name, and whether it may do harm."""

from tracker.decisions.distance.gain_words import LeverWords, gain_doubt
from tracker.decisions.distance.levers import Lever
from tracker.interval import Interval

FIRST = "tee ladder"


def doubt(tied, *, clear=False, p_worse=0.05):
    first = LeverWords(
        lever=Lever(FIRST, "drill", "strike_up_mm"),
        gain=Interval(2.0, -1.0, 4.0, "m"),
        mean_gain=2.0,
        mean_alone=2.0,
        effort=1.0,
        p_best=0.4,
        p_worse=p_worse,
        reason="",
    )
    return gain_doubt(first, tied, clear=clear, system="yards")


def test_up_to_three_rivals_are_named():
    assert doubt((FIRST, "a", "b", "c")) == (
        "It is the best choice in about 4 in 10 cases; a, b and c may do better."
    )


def test_of_more_rivals_two_are_named_and_the_rest_counted():
    assert doubt((FIRST, "a", "b", "c", "d")) == (
        "It is the best choice in about 4 in 10 cases; a, b and 2 others may do better."
    )


def test_a_lever_that_may_do_harm_is_to_be_read_again_soon():
    assert doubt((), clear=True, p_worse=0.15) == ""
    assert doubt((), clear=True, p_worse=0.31) == (
        "It makes things worse in about 3 in 10 cases, so read again after a session or two of it."
    )
