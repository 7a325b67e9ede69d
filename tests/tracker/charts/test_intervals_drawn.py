"""Gain, trend, change and rank pictures hold the given numbers under titles with units."""

from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest

from tests.tracker.charts.reading import drawing, encodings, layers, titles
from tracker.charts.change import ChangePicture, change_chart
from tracker.charts.gain import GainRow, gain_chart
from tracker.charts.ink import ACCENT, common_grid, density, tables_of
from tracker.charts.rank import RankRow, rank_chart
from tracker.charts.trend import LevelPoint, Marked, RawPoint, Span, Trend, trend_chart
from tracker.interval import Interval

GAINS = (
    GainRow("strike height", Interval(7, 2, 13, "yd"), Interval(15, 9, 22, "yd"), (5, 9.5)),
    GainRow("attack angle", Interval(3, -1, 8, "yd"), Interval(6, 1, 12, "yd")),
)


def test_gain_lines_run_between_the_given_ends():
    rows = tables_of(gain_chart(GAINS))["levers"]
    assert [(r["low90"], r["median"], r["high90"]) for r in rows] == [(2, 7, 13), (-1, 3, 8)]
    assert [(r["low50"], r["high50"]) for r in rows] == [(5, 9.5), (None, None)]
    assert [(r["all_the_way_low90"], r["all_the_way_high90"]) for r in rows] == [(9, 22), (1, 12)]
    ends = {
        (layer["encoding"]["x"]["field"], layer["encoding"]["x2"]["field"])
        for layer in drawing(gain_chart(GAINS), "levers", "rule")
    }
    assert ends == {
        ("low90", "high90"), ("low50", "high50"), ("all_the_way_low90", "all_the_way_high90")
    }  # fmt: skip


def test_a_gain_of_nothing_has_no_sign():
    nothing = GainRow("strike height", Interval(-0.3, -2, 1, "yd"), Interval(0.2, -1, 2, "yd"))
    assert tables_of(gain_chart((nothing,)))["levers"][0]["_text"] == "0 yd"


def test_gain_titles_have_units_and_the_first_lever_is_on_top():
    chart = gain_chart(GAINS)
    assert "gained (yd), right of the line is better" in titles(chart)
    (names,) = {tuple(e["scale"]["domain"]) for e in encodings(chart) if e["field"] == "_name"}
    assert names == ("strike height", "attack angle")


def test_long_names_of_levers_get_the_room_they_need():
    long = replace(GAINS[0], label="a drill with a name of many words " * 4)
    assert gain_chart((long, GAINS[1])).height > gain_chart(GAINS).height


def test_all_the_way_is_drawn_lighter_than_the_lever():
    planned, half, full = (layer["mark"] for layer in drawing(gain_chart(GAINS), "levers", "rule"))
    assert planned["color"] == half["color"] == ACCENT != full["color"]
    assert full["strokeWidth"] < planned["strokeWidth"] < half["strokeWidth"]


TREND = Trend(
    label="strike height",
    unit="mm",
    positive="toward the crown",
    level=(
        LevelPoint(datetime(2026, 3, 1), -6.0, (-6.5, -5.5), (-7.5, -4.5)),
        LevelPoint(datetime(2026, 3, 8), -4.0, (-4.7, -3.4), (-5.6, -2.5)),
    ),
    raw=(RawPoint(datetime(2026, 3, 1), -6.4, 1.2, 18),),
    changes=(Marked(date(2026, 3, 4), "tee it higher"),),
    windows=(Span(date(2026, 3, 1), date(2026, 3, 3), "before"),),
    target=(3.0, 9.0),
)


def test_trend_bands_hold_the_given_ends():
    chart = trend_chart(TREND)
    rows = tables_of(chart)["tendency"]
    assert [r["level"] for r in rows] == [-6.0, -4.0]
    assert [(r["low90"], r["high90"]) for r in rows] == [(-7.5, -4.5), (-5.6, -2.5)]
    assert [(r["low50"], r["high50"]) for r in rows] == [(-6.5, -5.5), (-4.7, -3.4)]
    bands = {
        (layer["encoding"]["y"]["field"], layer["encoding"]["y2"]["field"])
        for layer in drawing(chart, "tendency", "area")
    }
    assert bands == {("low90", "high90"), ("low50", "high50")}


def test_trend_shows_what_was_read_with_the_luck_of_few_shots():
    (raw,) = tables_of(trend_chart(TREND))["session average as read"]
    assert (raw["level"], raw["shots"]) == (-6.4, 18)
    # 95 % point of the standard normal 1.6449 (any table) times a standard error of 1.2
    assert raw["high90"] - raw["level"] == pytest.approx(1.974, abs=5e-4)


def words(chart):
    return {
        row["_text"]: layer
        for layer in layers(chart)
        if layer["mark"]["type"] == "text"
        for row in tables_of(chart)[layer["data"]["name"]]
    }


def test_trend_marks_changes_windows_and_the_target_by_name():
    chart = trend_chart(TREND)
    assert set(words(chart)) == {"tee it higher", "before", "target"}
    assert titles(chart) == {"strike height (mm, + toward the crown)"}
    assert tables_of(chart)["logged changes"] == [
        {"day": "2026-03-04T00:00:00", "name": "tee it higher"}
    ]


def test_no_word_stands_over_the_dots_of_a_trend():
    frame = Span(date(2026, 3, 1), date(2026, 3, 8), "change not logged")
    chart = trend_chart(replace(TREND, unlogged=frame))
    lines = {}
    for text, layer in words(chart).items():
        if text == "target":  # right of the last day
            assert layer["mark"]["align"] == "left"
            continue
        assert layer["encoding"]["y"] == {"value": 0}  # the upper edge, and above it
        assert layer["mark"]["baseline"] == "bottom"
        lines[text] = layer["mark"]["dy"]
    assert lines["change not logged"] < lines["before"] < 0
    assert lines["tee it higher"] < lines["change not logged"]


def test_target_is_drawn_whole_over_all_the_time():
    chart = trend_chart(TREND)
    (target,) = tables_of(chart)["target"]
    assert (target["low"], target["high"]) == (3.0, 9.0)
    assert (target["_from"], target["_to"]) == ("2026-03-01T00:00:00", "2026-03-08T00:00:00")
    assert "target" not in tables_of(trend_chart(replace(TREND, target=None)))


def test_density_matches_the_normal_it_was_drawn_from():
    draws = np.random.default_rng(5).normal(2.0, 1.5, 20_000)
    grid = common_grid([draws])
    heights = density(draws, grid)
    # Normal density at its mean: 1 / (1.5 sqrt(2 pi)) = 0.26596
    assert heights.max() == pytest.approx(0.26596, rel=0.03)
    assert np.trapezoid(heights, grid) == pytest.approx(1.0, abs=0.01)


def test_change_picture_shades_the_zone_too_small_to_matter():
    rng = np.random.default_rng(7)
    before, after = rng.normal(-6, 0.5, 500), rng.normal(-3, 0.5, 500)
    picture = ChangePicture("strike height", "mm", before, after, after - before, 1.6)
    chart = change_chart(picture)
    (zone,) = tables_of(chart)["_zone"]
    assert (zone["change"], zone["_to"]) == (-1.6, 1.6)
    top = max(tables_of(chart)["change"], key=lambda row: row["likely"])
    assert top["change"] == pytest.approx(3.0, abs=0.4)
    assert titles(chart) == {"strike height (mm)", "change in strike height (mm)"}


RANKS = (
    RankRow("Cedar", Interval(1.0, 0.2, 1.8, "mm"), (0.7, 1.3), 1.2, (1, 2), (3.0, 9.0)),
    RankRow("Alder", Interval(4.0, 2.1, 5.7, "mm"), (3.2, 4.8), 2.1, (1, 3)),
)


def test_rank_picture_shows_levels_places_and_targets_as_intervals():
    chart = rank_chart(RANKS, "strike height", "toward the crown")
    rows = tables_of(chart)["players"]
    assert [(r["low90"], r["high90"]) for r in rows] == [(0.2, 1.8), (2.1, 5.7)]
    assert [(r["place_low90"], r["place_high90"]) for r in rows] == [(1, 2), (1, 3)]
    assert [(r["target_low"], r["target_high"]) for r in rows] == [(3.0, 9.0), (None, None)]
    assert [r["player"] for r in rows] == ["Cedar", "Alder"]
    assert titles(chart) == {"strike height (mm, + toward the crown)", "place (1 = best)"}
    (frame,) = drawing(chart, "players", "bar")
    assert frame["encoding"]["x"]["field"] == "target_low"
    assert frame["encoding"]["x2"]["field"] == "target_high"


def test_unlogged_change_is_framed_between_its_two_dates_and_named():
    frame = Span(date(2026, 3, 1), date(2026, 3, 8), "change not logged")
    plain, marked = trend_chart(TREND), trend_chart(replace(TREND, unlogged=frame))
    (drawn,) = tables_of(marked)[frame.name]
    assert (drawn["day"], drawn["_to"]) == ("2026-03-01T00:00:00", "2026-03-09T00:00:00")
    assert frame.name in words(marked)
    assert frame.name not in tables_of(plain)
