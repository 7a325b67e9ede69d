"""Names that look alike to a person: pointed out, each pair once, with what to do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.store.look_alike import look_alikes, seen_as


@pytest.mark.parametrize(
    "other",
    [
        "ANN LEE",
        "Ann  Lee",
        "Änn Lee",
        "Ann\u200b Lee",
        "Ａnn Lee",
        "Ann\u3164Lee",
    ],
)
def test_what_looks_the_same_is_pointed_out(other):
    found = look_alikes([other], ["Ann Lee", other])
    (one,) = found
    assert (one.name, one.other) == (other, "Ann Lee")
    assert "drive-progress merge" in one.sentence
    assert "drive-progress rename" in one.sentence


def test_an_invisible_character_is_written_out():
    (one,) = look_alikes(["Ann\u200b"], ["Ann"])
    assert one.sentence.startswith("Ann<U+200B> and Ann look alike")


def test_different_people_are_left_alone_and_a_pair_is_named_once():
    assert look_alikes(["Ann", "Anna"], ["Ann", "Anna", "Bob"]) == ()
    assert len(look_alikes(["Ann", "ANN"], ["Ann", "ANN"])) == 1


@given(st.text(min_size=1, max_size=12))
def test_a_name_looks_like_itself_in_another_case_and_with_nothing_visible_added(name):
    assert seen_as(name + "\u200d") in (seen_as(name), name + "\u200d")
    assert seen_as(seen_as(name)) == seen_as(name)
