"""Predicted against read: equal axes, the 1:1 line from corner to corner."""

import numpy as np
import pytest

from tracker.charts.agreement import Agreement, agreement_figure, shared_range

SPEED = Agreement(
    "ball speed", "mph", np.array([140.0, 150.0]), np.array([141.0, 149.0]),
    np.array([0.5, 1.0]), ("Cedar, 05 Jan 2026", "Alder, 05 Jan 2026"),
)  # fmt: skip
SPIN = Agreement(
    "spin", "rpm", np.array([2500.0]), np.array([2700.0]), np.array([80.0]), ("Cedar",)
)


def test_axes_of_a_panel_are_equal_so_that_the_line_is_the_diagonal():
    figure = agreement_figure(SPEED)
    assert figure.layout.xaxis.range == figure.layout.yaxis.range
    line = figure.data[0]
    assert list(line.x) == list(line.y) == list(figure.layout.xaxis.range)


def test_predicted_lies_across_and_read_up():
    dots = agreement_figure(SPEED).data[1]
    assert list(dots.x) == [140.0, 150.0]
    assert list(dots.y) == [141.0, 149.0]


def test_error_bars_are_ninety_per_cent():
    dots = agreement_figure(SPEED).data[1]
    # 95 % point of the standard normal: 1.6449
    assert dots.error_y.array == pytest.approx([0.8224, 1.6449], abs=1e-4)


def test_every_dot_and_most_of_its_error_fit_inside():
    low, high = shared_range(SPEED)
    assert low < 140.0
    assert high > 151.0


def test_axes_name_quantity_and_unit():
    assert agreement_figure(SPIN).layout.xaxis.title.text == "predicted spin (rpm)"
    assert agreement_figure(SPEED).layout.yaxis.title.text == "read ball speed (mph)"
