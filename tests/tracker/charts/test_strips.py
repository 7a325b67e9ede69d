"""Strips: one a player, first on top, one scale for all, nothing outside its own strip."""

from datetime import date, datetime

import pytest

from tests.tracker.charts.reading import drawing
from tracker.charts import export
from tracker.charts.ink import tables_of
from tracker.charts.strips import Strip, Strips, strips_chart, strips_text
from tracker.charts.trend import LevelPoint, Marked, Span

ODD = "=1+1 <b>*x*</b> | \u202eabc"


def point(day, median):
    return LevelPoint(
        datetime(2026, 3, day), median, (median - 1, median + 1), (median - 2, median + 2)
    )


STRIPS = Strips(
    "strike height",
    "mm",
    "toward the crown",
    (
        Strip(
            "Ann", (point(1, -8.0), point(20, -2.0)), (1.0, 4.0),
            (Marked(date(2026, 3, 10), "ladder"),), None,
        ),
        Strip(
            ODD, (point(5, 0.0), point(25, 8.0)), None, (),
            Span(date(2026, 3, 8), date(2026, 3, 12), "change not logged"),
        ),
    ),
)  # fmt: skip


def table(name):
    return tables_of(strips_chart(STRIPS))[name]


def test_every_value_stands_inside_its_players_strip_first_on_top():
    heights = {"Ann": (1, 2), ODD: (0, 1)}
    for name in ("tendency", "target", "logged change", "change not logged"):
        for row in table(name):
            low, high = heights[row["player"]]
            assert low < row["_from_y"] < row["_to_y"] < high


def test_all_strips_share_one_scale():
    assert STRIPS.reach == (-10.0, 10.0)
    ann, other = (r["_y"] for r in table("tendency") if r["level"] in (-2.0, 8.0))
    # ten units are half of the 20 that .84 of a strip spans
    assert (other - 0) - (ann - 1) == pytest.approx(0.84 * 10 / 20)


def test_a_target_a_logged_and_a_found_change_are_drawn_where_they_are():
    assert [(r["target_low"], r["target_high"]) for r in table("target")] == [(1.0, 4.0)]
    (logged,) = table("logged change")
    assert (logged["name"], logged["day"]) == ("ladder", "2026-03-10T00:00:00")
    (found,) = table("change not logged")
    assert (found["player"], found["until"]) == (ODD, "2026-03-12")
    chart = strips_chart(STRIPS)
    assert drawing(chart, "tendency", "line")
    assert drawing(chart, "tendency", "area")


def test_the_picture_is_said_in_words_and_is_a_file():
    assert strips_text(STRIPS).startswith("Ann from -8.0 to -2.0 mm, ladder on 10 Mar 2026; ")
    assert "change not logged by 12 Mar 2026" in strips_text(STRIPS)
    assert export.png(strips_chart(STRIPS)).startswith(b"\x89PNG")


def test_a_level_that_never_moves_still_has_a_picture():
    flat = Strip(
        "Ann", (LevelPoint(datetime(2026, 3, 1), 1.0, (1.0, 1.0), (1.0, 1.0)),), None, (), None
    )
    chart = strips_chart(Strips("face", "°", "open", (flat,)))
    (row,) = tables_of(chart)["tendency"]
    assert row["_y"] == pytest.approx(0.08)
