"""Predicted against read: equal axes, the 1:1 line from corner to corner."""

import numpy as np
import pytest

from tests.tracker.charts.reading import encodings, titles
from tracker.charts.agreement import Agreement, agreement_chart, shared_range
from tracker.charts.ink import specification, tables_of

SPEED = Agreement(
    "ball speed", "mph", np.array([140.0, 150.0]), np.array([141.0, 149.0]),
    np.array([0.5, 1.0]), ("Cedar, 05 Jan 2026", "Alder, 05 Jan 2026"),
)  # fmt: skip
SPIN = Agreement(
    "spin", "rpm", np.array([2500.0]), np.array([2700.0]), np.array([80.0]), ("Cedar",)
)


def test_axes_of_a_panel_are_equal_so_that_the_line_is_the_diagonal():
    chart = agreement_chart(SPEED)
    ends = [list(e["scale"]["domain"]) for e in encodings(chart)]
    assert all(one == ends[0] for one in ends)
    line = tables_of(chart)["predicted as read"]
    assert [row["predicted"] for row in line] == [row["read"] for row in line] == ends[0]


def test_predicted_lies_across_and_read_up():
    dots = tables_of(agreement_chart(SPEED))["sessions"]
    assert [dot["predicted"] for dot in dots] == [140.0, 150.0]
    assert [dot["read"] for dot in dots] == [141.0, 149.0]
    for layer in specification(agreement_chart(SPEED))["layer"]:
        assert layer["encoding"]["x"]["field"] == "predicted"


def test_error_bars_are_ninety_per_cent():
    dots = tables_of(agreement_chart(SPEED))["sessions"]
    # 95 % point of the standard normal: 1.6449
    up = [dot["high90"] - dot["read"] for dot in dots]
    down = [dot["read"] - dot["low90"] for dot in dots]
    assert up == pytest.approx([0.8224, 1.6449], abs=1e-4)
    assert down == pytest.approx(up)


def test_every_dot_and_most_of_its_error_fit_inside():
    low, high = shared_range(SPEED)
    assert low < 140.0
    assert high > 151.0


def test_axes_name_quantity_and_unit():
    assert titles(agreement_chart(SPIN)) == {"predicted spin (rpm)", "read spin (rpm)"}
    assert "read ball speed (mph)" in titles(agreement_chart(SPEED))
