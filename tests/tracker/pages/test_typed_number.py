"""A typed reading is read in the units shown, or what is wanted is said; never half of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from models.traits import TRAITS
from tracker.errors import BadRequest
from tracker.pages.shared.typed_number import in_other_units, typed_reading, wanted
from tracker.units import SYSTEMS, trait_display


@pytest.mark.parametrize(
    ("trait", "text", "system", "stored"),
    [
        ("club_speed_mps", "100", "yards", 44.704),
        ("club_speed_mps", " 90.0 ", "metres", 25.0),
        ("attack_deg", "-2,5", "yards", -2.5),
        ("attack_deg", "\N{MINUS SIGN}2.5", "yards", -2.5),
        ("attack_deg", "+.5", "yards", 0.5),
        ("spin_rpm", "2450", "yards", 2450.0),
        ("carry_m", "200", "yards", 182.88),
    ],
)
def test_number_is_read_in_the_units_shown(trait, text, system, stored):
    assert typed_reading(trait, text, system) == pytest.approx(stored)


def test_nothing_typed_is_no_reading():
    assert typed_reading("attack_deg", "  ", "yards") is None


@pytest.mark.parametrize("text", ["-", "1-", "2.", "1e1", "nan", "inf", "1_0", "3 4", "2,450"])
def test_half_a_number_or_a_doubtful_one_is_refused(text):
    with pytest.raises(BadRequest, match="Spin: wanted a number from 0 to 14000 rpm"):
        typed_reading("spin_rpm", text, "yards")


@given(some.sampled_from(sorted(TRAITS)), some.sampled_from(SYSTEMS), some.booleans())
def test_the_ends_that_are_named_are_taken_and_what_lies_beyond_is_not(trait, system, upper):
    words = wanted(trait, system).split("from ")[1].split(" ")
    end, sign = (words[2], 1) if upper else (words[0], -1)
    assert typed_reading(trait, end, system) is not None
    how = trait_display(trait, system)
    beyond = float(end) + sign * 2 * 10.0**-how.decimals
    with pytest.raises(BadRequest):
        typed_reading(trait, f"{beyond:.{how.decimals}f}", system)


@pytest.mark.parametrize(
    ("trait", "text", "shown"),
    [
        ("club_speed_mps", "100", "160.9"),  # 1 mile is 1.609344 km
        ("carry_m", "250", "229"),  # 250 x .9144 = 228.6
        ("attack_deg", "-2,5", "-2,5"),
        ("spin_rpm", "2450", "2450"),
        ("club_speed_mps", "", ""),
    ],
)
def test_what_is_typed_goes_along_into_other_units(trait, text, shown):
    assert in_other_units(trait, text, "yards", "metres") == shown


@pytest.mark.parametrize("text", ["-", "1-", "far", "999"])
def test_what_is_no_reading_stays_as_it_was_typed(text):
    assert in_other_units("club_speed_mps", text, "yards", "metres") == text
