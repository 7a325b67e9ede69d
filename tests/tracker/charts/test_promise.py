"""The picture of promises: crosses of both intervals, a line of agreement from corner to corner."""

import pytest

from tracker.charts.ink import specification, tables_of
from tracker.charts.promise import PromisePoint, promise_chart, promise_text
from tracker.interval import Interval

POINTS = (
    PromisePoint(
        "Ann, ladder", Interval(5.0, 2.0, 9.0, "yd"), Interval(4.0, 3.0, 5.5, "yd"), "kept"
    ),
    PromisePoint(
        "Bo, ladder", Interval(6.0, 1.0, 8.0, "yd"), Interval(-0.5, -1.0, 0.2, "yd"),
        "less than promised",
    ),
)  # fmt: skip


def layers():
    return specification(promise_chart(POINTS))["layer"]


def test_each_cross_holds_both_intervals_about_its_medians():
    _, across, upward, points = layers()
    row = tables_of(promise_chart(POINTS))["promises"][0]
    assert (row["promised"], row["found"]) == (5.0, 4.0)
    assert (row["from"], row["to"], row["under"], row["over"]) == (2.0, 9.0, 3.0, 5.5)
    assert (across["encoding"]["x"]["field"], across["encoding"]["x2"]["field"]) == ("from", "to")
    assert (upward["encoding"]["y"]["field"], upward["encoding"]["y2"]["field"]) == (
        "under",
        "over",
    )
    titles = [points["encoding"][axis]["title"] for axis in ("x", "y")]
    assert titles == ["promised (yd)", "found (yd)"]


def test_both_axes_reach_alike_so_that_the_diagonal_is_agreement():
    agree, *_, points = layers()
    x, y = (points["encoding"][axis]["scale"]["domain"] for axis in ("x", "y"))
    assert x == y
    # -1 to 9 with a twentieth on either side
    assert x == pytest.approx([-1.5, 9.5])
    assert [(v["promised"], v["found"]) for v in agree["data"]["values"]] == [
        (x[0], x[0]), (x[1], x[1]),
    ]  # fmt: skip


def test_words_say_the_same_as_the_picture():
    assert promise_text(POINTS) == (
        "Ann, ladder: promised +5.0 yd (90 % sure between +2.0 and +9.0), found +4.0 yd (90 % sure "
        "between +3.0 and +5.5), kept; Bo, ladder: promised +6.0 yd (90 % sure between +1.0 and "
        "+8.0), found -0.5 yd (90 % sure between -1.0 and +0.2), less than promised."
    )
