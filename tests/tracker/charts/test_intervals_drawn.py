"""Gain, trend, change and rank pictures hold the given numbers under titles with units."""

from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest

from tracker.charts.change import ChangePicture, change_figure
from tracker.charts.gain import GainRow, gain_figure
from tracker.charts.ink import ACCENT, common_grid, density
from tracker.charts.rank import RankRow, rank_figure
from tracker.charts.trend import LevelPoint, Marked, RawPoint, Span, Trend, trend_figure
from tracker.interval import Interval


def named(figure, name):
    return [t for t in figure.data if t.name == name]


GAINS = (
    GainRow("strike height", Interval(7, 2, 13, "yd"), Interval(15, 9, 22, "yd"), (5, 9.5)),
    GainRow("attack angle", Interval(3, -1, 8, "yd"), Interval(6, 1, 12, "yd")),
)


def test_gain_lines_run_between_the_given_ends():
    figure = gain_figure(GAINS)
    assert [tuple(t.x) for t in named(figure, "the lever, 90 %")] == [(2, 13), (-1, 8)]
    assert [tuple(t.x) for t in named(figure, "the same, 50 %")] == [(5, 9.5)]
    assert [tuple(t.x) for t in named(figure, "trait all the way, 90 %")] == [
        (9, 15, 22),
        (1, 6, 12),
    ]


def test_a_gain_of_nothing_has_no_sign():
    nothing = GainRow("strike height", Interval(-0.3, -2, 1, "yd"), Interval(0.2, -1, 2, "yd"))
    (dot,) = [t for t in gain_figure((nothing,)).data if t.name == "strike height"]
    assert dot.text == ("0 yd",)


def test_gain_titles_have_units_and_the_first_lever_is_on_top():
    layout = gain_figure(GAINS).layout
    assert layout.xaxis.title.text == "gained (yd)"
    assert list(layout.yaxis.ticktext) == ["strike height", "attack angle"]
    assert layout.yaxis.range[0] > layout.yaxis.range[1]


def test_all_the_way_is_drawn_lighter_than_the_lever():
    figure = gain_figure(GAINS)
    planned = named(figure, "the lever, 90 %")[0]
    full = named(figure, "trait all the way, 90 %")[0]
    assert planned.line.color == ACCENT != full.line.color
    assert full.line.width < planned.line.width


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
)


def test_trend_bands_hold_the_given_ends():
    figure = trend_figure(TREND)
    (most,), (half,) = named(figure, "90 % sure"), named(figure, "50 % sure")
    assert list(most.y) == [-4.5, -2.5, -5.6, -7.5]
    assert list(half.y) == [-5.5, -3.4, -4.7, -6.5]
    (line,) = named(figure, "tendency")
    assert list(line.y) == [-6.0, -4.0]


def test_trend_shows_what_was_read_with_the_luck_of_few_shots():
    (raw,) = named(trend_figure(TREND), "session average as read, 90 % sure")
    assert list(raw.y) == [-6.4]
    # 95 % point of the standard normal 1.6449 (any table) times a standard error of 1.2
    assert list(raw.error_y.array) == pytest.approx([1.974], abs=5e-4)


def test_trend_marks_changes_and_windows_by_name():
    layout = trend_figure(TREND).layout
    assert {a.text for a in layout.annotations} == {"tee it higher", "before"}
    assert layout.yaxis.title.text == "strike height (mm, + toward the crown)"
    assert layout.xaxis.title.text == "date"


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
    figure = change_figure(picture)
    zones = [s for s in figure.layout.shapes if s.type == "rect"]
    assert [(s.x0, s.x1) for s in zones] == [(-1.6, 1.6)]
    (change,) = named(figure, "change")
    assert change.x[int(np.argmax(change.y))] == pytest.approx(3.0, abs=0.4)
    titles = [figure.layout.xaxis.title.text, figure.layout.xaxis2.title.text]
    assert titles == ["strike height (mm)", "change in strike height (mm)"]


RANKS = (
    RankRow("Cedar", Interval(1.0, 0.2, 1.8, "mm"), (0.7, 1.3), 1.2, (1, 2)),
    RankRow("Alder", Interval(4.0, 2.1, 5.7, "mm"), (3.2, 4.8), 2.1, (1, 3)),
)


def test_rank_picture_shows_levels_and_places_as_intervals():
    figure = rank_figure(RANKS, "strike height", "toward the crown")
    assert [tuple(t.x) for t in named(figure, "90 % sure")] == [(0.2, 1.8), (2.1, 5.7)]
    assert [tuple(t.x) for t in named(figure, "place, 90 % sure")] == [(1, 2), (1, 3)]
    assert list(figure.layout.yaxis.ticktext) == ["Cedar", "Alder"]
    assert figure.layout.xaxis.title.text == "strike height<br>(mm, + toward the crown)"
    assert figure.layout.xaxis2.title.text == "place of 2<br>(1 = best)"


def test_unlogged_change_is_framed_between_its_two_dates_and_named():
    frame = Span(date(2026, 3, 1), date(2026, 3, 8), "change not logged")
    plain, marked = trend_figure(TREND), trend_figure(replace(TREND, unlogged=frame))
    assert len(marked.layout.shapes) == len(plain.layout.shapes) + 1
    (drawn,) = (s for s in marked.layout.shapes if s.line.dash == "dot")
    assert (drawn.x0, drawn.x1) == (datetime(2026, 3, 1), datetime(2026, 3, 9))
    assert frame.name in {a.text for a in marked.layout.annotations}
    assert not any(s.line.dash == "dot" for s in plain.layout.shapes)
