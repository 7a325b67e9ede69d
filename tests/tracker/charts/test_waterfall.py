"""Waterfall: each bar starts where the one above ends, intervals sit on it, words say the same."""

import pytest

from tests.tracker.charts.reading import encodings, layers
from tracker.charts.ink import tables_of
from tracker.charts.waterfall import DistancePart, Waterfall, in_words, waterfall_chart
from tracker.interval import Interval


def yards(median, low, high):
    return Interval(median, low, high, "yd")


def picture():
    return Waterfall(
        steps=(
            DistancePart("strike height", yards(8.0, 5.0, 11.0)),
            DistancePart("attack angle", yards(-3.0, -6.0, 0.0)),
            DistancePart("not explained", yards(1.0, -4.0, 6.0), explained=False),
        ),
        whole=DistancePart("difference", yards(6.0, 1.0, 11.0)),
    )


def steps(chart):
    return {row["part"]: row for row in tables_of(chart)["steps"]}


def test_each_bar_starts_where_the_one_above_ends():
    drawn = steps(waterfall_chart(picture()))
    # 0 -> 8 -> 5 -> 6; the whole stands on zero
    assert [(b["start"], b["end"]) for b in drawn.values()] == [
        (0.0, 8.0),
        (8.0, 5.0),
        (5.0, 6.0),
        (0.0, 6.0),
    ]


def test_interval_lies_at_the_bar_it_belongs_to():
    drawn = steps(waterfall_chart(picture()))
    ends = {name: (row["_low"], row["_high"]) for name, row in drawn.items()}
    assert ends["attack angle"] == (2.0, 8.0)  # 8 - 6, 8 + 0
    assert ends["difference"] == (1.0, 11.0)


def test_what_a_bar_says_is_told_by_its_form_and_not_by_colour_alone():
    looks = [
        (layer["mark"]["fillOpacity"], "strokeDash" in layer["mark"])
        for layer in layers(waterfall_chart(picture()))
        if layer["mark"]["type"] == "bar"
    ]
    assert len(looks) == len(set(looks)) == 3
    rows = steps(waterfall_chart(picture()))
    assert [row["_look"] for row in rows.values()] == [
        "longer", "shorter", "not explained", "longer"
    ]  # fmt: skip


def test_every_bar_says_its_amount_with_its_unit():
    words = {name: row["_text"] for name, row in steps(waterfall_chart(picture())).items()}
    assert words == {
        "strike height": "+8 yd",
        "attack angle": "-3 yd",
        "not explained": "+1.0 yd",
        "difference": "+6 yd",
    }


def test_axis_holds_every_interval():
    (ends,) = {
        tuple(e["scale"]["domain"])
        for e in encodings(waterfall_chart(picture()))
        if e["field"] == "start"
    }
    # steps end at 8 + 3, 8 + 0, 5 + 6; lowest are 0 and 5 - 4
    assert ends[0] <= 0
    assert ends[1] >= 11


def test_small_parts_keep_a_decimal():
    small = Waterfall(
        (DistancePart("attack angle", yards(0.4, -0.2, 1.1)),),
        DistancePart("all", yards(5, 2, 9)),
    )
    text = in_words(small)
    assert "attack angle +0.4 yd (90 % sure between -0.2 and +1.1)" in text
    assert "all +5 yd (90 % sure between +2 and +9)" in text


@pytest.mark.parametrize("median", [-2.0, 2.0])
def test_words_stand_right_of_the_bar_and_of_its_interval(median):
    one = Waterfall(
        (DistancePart("a", yards(median, median - 1, median + 1)),),
        DistancePart("all", yards(0, 0, 0)),
    )
    assert steps(waterfall_chart(one))["a"]["_word"] == max(0.0, median + 1)
