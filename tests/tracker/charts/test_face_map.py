"""The face map holds the given numbers, to scale, and turns round for left-handers."""

from itertools import pairwise

import numpy as np
import pytest

from tracker.charts.face_map import (
    FaceMap,
    Normal2D,
    ellipse,
    face_figure,
    face_outline,
    strike_cloud,
)

TENDENCY = Normal2D((4.0, -6.0), ((9.0, 0.0), (0.0, 1.0)))
STRIKES = ((10.0, -3.0), (-5.0, -9.0))


def face(handed="right", **changes):
    parts = {
        "handed": handed,
        "strikes": STRIKES,
        "tendency": TENDENCY,
        "scatter": None,
        "window_toe_mm": (2.0, 10.0),
        "window_up_mm": (3.0, 9.0),
    }
    return FaceMap(**(parts | changes))


def trace(figure, name):
    (found,) = [t for t in figure.data if t.name == name]
    return found


def test_shots_lie_where_they_were_read():
    shots = trace(face_figure(face()), "shots")
    assert list(shots.x) == [10.0, -5.0]
    assert list(shots.y) == [-3.0, -9.0]


def test_axes_are_in_mm_and_to_one_scale():
    layout = face_figure(face()).layout
    assert "(mm" in layout.xaxis.title.text
    assert "(mm" in layout.yaxis.title.text
    assert (layout.yaxis.scaleanchor, layout.yaxis.scaleratio) == ("x", 1)
    assert {b - a for a, b in pairwise(layout.xaxis.tickvals)} == {10.0}


def test_toe_is_left_for_a_right_hander_and_right_for_a_left_hander():
    # Looking at the face from the target, a right-hander's heel (the shaft side) is on the right.
    right, left = face_figure(face("right")), face_figure(face("left"))
    assert right.layout.xaxis.range[0] > 0 > right.layout.xaxis.range[1]
    assert left.layout.xaxis.range[0] < 0 < left.layout.xaxis.range[1]
    for figure in (right, left):
        toe, heel = (
            next(a for a in figure.layout.annotations if a.text == f"{name} side")
            for name in ("toe", "heel")
        )
        assert toe.x > 40
        assert heel.x < -40
    assert list(trace(left, "shots").x) == list(trace(right, "shots").x)


def test_regions_have_the_radii_of_a_two_dimensional_normal():
    # For a 2-D Normal P(r < q) = 1 - exp(-q^2 / 2): q50 = 1.17741, q90 = 2.14597.
    for mass, radius in ((0.5, 1.17741), (0.9, 2.14597)):
        x, y = ellipse(TENDENCY, mass)
        assert x.max() - 4.0 == pytest.approx(3 * radius, rel=2e-3)
        assert y.max() + 6.0 == pytest.approx(radius, rel=2e-3)


def test_region_of_correlated_draws_holds_its_share():
    rng = np.random.default_rng(3)
    draws = rng.multivariate_normal([1, 2], [[4, 1.5], [1.5, 2]], 20_000)
    cloud = strike_cloud(draws[:, 0], draws[:, 1])
    inverse = np.linalg.inv(np.asarray(cloud.covariance))
    off = draws - np.asarray(cloud.mean)
    edge = np.stack(ellipse(cloud, 0.9), axis=1) - np.asarray(cloud.mean)
    limit = np.einsum("ni,ij,nj->n", edge, inverse, edge)
    inside = np.einsum("ni,ij,nj->n", off, inverse, off) < limit.mean()
    assert inside.mean() == pytest.approx(0.9, abs=0.01)


def test_target_window_is_the_given_rectangle():
    window = trace(face_figure(face()), "target window")
    assert (min(window.x), max(window.x)) == (2.0, 10.0)
    assert (min(window.y), max(window.y)) == (3.0, 9.0)


def test_no_window_and_no_tendency_draw_nothing_in_their_place():
    bare = face(window_toe_mm=None, window_up_mm=None, tendency=None, strikes=())
    assert [t.name for t in face_figure(bare).data] == ["neck", "face", "face centre"]


def test_face_is_about_the_size_of_a_driver_face():
    # Common practice, no source: about 100-120 mm across, 50-65 mm high; taller toward the toe.
    toe, up = face_outline()
    assert 100 <= np.ptp(toe) <= 120
    assert 50 <= np.ptp(up) <= 65
    assert np.ptp(up[toe > 25]) > np.ptp(up[toe < -25])
