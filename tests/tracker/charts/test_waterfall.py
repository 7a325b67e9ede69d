"""Waterfall: each bar starts where the one above ends, intervals sit on it, words say the same."""

import pytest

from tracker.charts.waterfall import Step, Waterfall, in_words, waterfall_figure
from tracker.interval import Interval


def yards(median, low, high):
    return Interval(median, low, high, "yd")


def picture():
    return Waterfall(
        steps=(
            Step("strike height", yards(8.0, 5.0, 11.0)),
            Step("attack angle", yards(-3.0, -6.0, 0.0)),
            Step("not explained", yards(1.0, -4.0, 6.0), explained=False),
        ),
        whole=Step("difference", yards(6.0, 1.0, 11.0)),
    )


def bars(figure):
    return {trace.name: trace for trace in figure.data if trace.type == "bar"}


def test_each_bar_starts_where_the_one_above_ends():
    drawn = bars(waterfall_figure(picture()))
    # 0 -> 8 -> 5 -> 6; the whole stands on zero
    assert [(b.base[0], b.base[0] + b.x[0]) for b in drawn.values()] == [
        (0.0, 8.0),
        (8.0, 5.0),
        (5.0, 6.0),
        (0.0, 6.0),
    ]


def test_interval_lies_at_the_bar_it_belongs_to():
    figure = waterfall_figure(picture())
    lines = {t.name: list(t.x) for t in figure.data if t.name and t.name.endswith("90 % sure")}
    assert lines["attack angle, 90 % sure"] == [2.0, 8.0]  # 8 - 6, 8 + 0
    assert lines["difference, 90 % sure"] == [1.0, 11.0]


def test_unexplained_bar_differs_by_pattern_and_not_by_colour_alone():
    drawn = bars(waterfall_figure(picture()))
    patterns = {name: bar.marker.pattern.shape for name, bar in drawn.items()}
    assert patterns["not explained"] != patterns["strike height"] == patterns["difference"]


def test_every_bar_says_its_amount_with_its_unit():
    figure = waterfall_figure(picture())
    words = {
        t.name: t.text[0].strip() for t in figure.data if t.type == "scatter" and t.mode == "text"
    }
    assert words == {
        "strike height, in words": "+8 yd",
        "attack angle, in words": "-3 yd",
        "not explained, in words": "+1.0 yd",
        "difference, in words": "+6 yd",
    }


def test_axis_holds_every_interval():
    low, high = waterfall_figure(picture()).layout.xaxis.range
    # steps end at 8 + 3, 8 + 0, 5 + 6; lowest are 0 and 5 - 4
    assert low <= 0
    assert high >= 11


def test_small_parts_keep_a_decimal():
    small = Waterfall((Step("attack angle", yards(0.4, -0.2, 1.1)),), Step("all", yards(5, 2, 9)))
    text = in_words(small)
    assert "attack angle +0.4 yd (90 % sure between -0.2 and +1.1)" in text
    assert "all +5 yd (90 % sure between +2 and +9)" in text


@pytest.mark.parametrize("median", [-2.0, 2.0])
def test_words_stand_right_of_the_bar_and_of_its_interval(median):
    one = Waterfall(
        (Step("a", yards(median, median - 1, median + 1)),), Step("all", yards(0, 0, 0))
    )
    figure = waterfall_figure(one)
    (words,) = (t for t in figure.data if t.name == "a, in words")
    assert words.x[0] == max(0.0, median + 1)
