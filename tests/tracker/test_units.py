"""Units in and out, against the numbers that define them."""

import pytest

from models.traits import TRAITS
from tracker.interval import Interval
from tracker.units import SUFFIXES, display, range_text, shown, trait_display, value_text

# the yard is 0.9144 m exactly (international yard and pound agreement, 1959), so the inch is
# 25.4 mm and the mile 1609.344 m; 0 C is 32 F and 100 C is 212 F


@pytest.mark.parametrize(
    ("stored", "suffix", "value", "expected"),
    [
        ("m", "yd", 1.0, 0.9144),
        ("m", "m", 123.4, 123.4),
        ("mm", "in", 1.0, 25.4),
        ("mm", "cm", 1.5, 15.0),
        ("mps", "mph", 1.0, 0.44704),
        ("mps", "kmh", 90.0, 25.0),
        ("c", "f", 32.0, 0.0),
        ("c", "f", 212.0, 100.0),
        ("c", "f", -40.0, -40.0),
        ("deg", "deg", -3.5, -3.5),
        ("rpm", "rpm", 2600.0, 2600.0),
    ],
)
def test_a_suffix_converts_to_the_stored_unit(stored, suffix, value, expected):
    assert SUFFIXES[stored][suffix](value) == pytest.approx(expected, rel=1e-14, abs=1e-12)


def test_every_trait_ends_in_a_unit_that_can_be_read():
    assert {name.rpartition("_")[2] for name in TRAITS} <= set(SUFFIXES)


@pytest.mark.parametrize(
    ("trait", "system", "value", "text"),
    [
        ("carry_m", "yards", 228.6, "250 yd"),
        ("carry_m", "metres", 228.6, "229 m"),
        ("club_speed_mps", "yards", 44.704, "100.0 mph"),
        ("club_speed_mps", "metres", 25.0, "90.0 km/h"),
        ("attack_deg", "yards", -1.25, "-1.2°"),
        ("strike_toe_mm", "metres", 4.0, "4.0 mm"),
        ("spin_rpm", "yards", 2599.6, "2600 rpm"),
    ],
)
def test_a_stored_value_is_shown_in_the_picked_units(trait, system, value, text):
    assert value_text(value, trait_display(trait, system)) == text


def test_a_signed_value_carries_its_sign_and_zero_none():
    yards = display("distance", "yards")
    assert value_text(9.144, yards, signed=True) == "+10 yd"
    assert value_text(-9.144, yards, signed=True) == "-10 yd"
    assert value_text(-0.1, yards, signed=True) == "0 yd"


def test_an_interval_is_shown_in_words_and_in_the_picked_unit():
    stored = Interval(6.4, 3.6576, 10.0584, "m")
    assert range_text(stored, display("distance", "yards")) == "90 % sure between 4 and 11 yd"
    in_yards = shown(stored, "distance", "yards")
    assert (in_yards.low90, in_yards.high90) == pytest.approx((4.0, 11.0))
    assert in_yards.unit == "yd"
