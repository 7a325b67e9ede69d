"""How a record is said in JSON."""

from dataclasses import dataclass
from datetime import date, datetime

import pytest

from tracker.as_json import fields_json, json_value
from tracker.interval import Interval

CARRY = Interval(200.0, 190.0, 212.0, "m")
SAID = {"median": 200.0, "low90": 190.0, "high90": 212.0, "unit": "m"}


@dataclass(frozen=True, slots=True)
class Day:
    carry: Interval
    shots: int
    note: str | None = None


def test_chosen_fields_are_said_under_their_names_in_the_order_asked_for():
    found = fields_json(Day(CARRY, 20), "shots carry note")
    assert found == {"shots": 20, "carry": SAID, "note": None}
    assert list(found) == ["shots", "carry", "note"]


def test_a_field_that_a_record_lacks_is_an_error():
    with pytest.raises(AttributeError, match="carries"):
        fields_json(Day(CARRY, 20), "carries")


def test_days_intervals_and_what_holds_them_take_forms_that_json_knows():
    assert json_value(date(2026, 5, 31)) == "2026-05-31"
    assert json_value(datetime(2026, 5, 31, 14, 30)) == "2026-05-31T14:30:00"
    assert json_value((date(2026, 5, 31), None)) == ["2026-05-31", None]
    assert json_value({"carry": CARRY, "words": ("a", 1.5)}) == {"carry": SAID, "words": ["a", 1.5]}
