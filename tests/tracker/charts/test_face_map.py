"""The face map holds the given numbers, to scale, and turns round for left-handers."""

import numpy as np
import pytest

from tests.tracker.charts.reading import drawing, encodings, titles
from tracker.charts.face_map import FaceMap, face_chart
from tracker.charts.ink import tables_of
from tracker.charts.outline import Normal2D, cloud_of_draws, ellipse, face_outline

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


def test_shots_lie_where_they_were_read():
    shots = tables_of(face_chart(face()))["shots"]
    assert [(shot["toe_mm"], shot["up_mm"]) for shot in shots] == [(10.0, -3.0), (-5.0, -9.0)]


def half(expression, width, height):
    """Return what the expression of an axis end gives for a drawing of some size."""
    names = {"max": max, "width": width, "height": height}
    return eval(expression["expr"], names)  # noqa: S307


@pytest.mark.parametrize(("width", "height"), [(560, 350), (300, 350), (900, 350)])
def test_axes_are_in_mm_and_to_one_scale_whatever_the_room(width, height):
    x, y = encodings(face_chart(face()))[:2]
    across, up = (half(e["scale"]["domainMax"], width, height) for e in (x, y))
    assert across / width == pytest.approx(up / height)
    assert half(x["scale"]["domainMin"], width, height) == -across
    assert across >= 64  # the whole face, and room around it
    assert up >= 40
    assert all("mm" in title for title in titles(face_chart(face())))


def test_toe_is_left_for_a_right_hander_and_right_for_a_left_hander():
    # Looking at the face from the target, a right-hander's heel (the shaft side) is on the right.
    right, left = face_chart(face("right")), face_chart(face("left"))
    for chart, turned in ((right, True), (left, False)):
        x = encodings(chart)[0]
        assert x["scale"]["reverse"] is turned  # the field is + toward the toe
        assert x["title"].startswith("← toe" if turned else "← heel")
    assert tables_of(left)["shots"] == tables_of(right)["shots"]


def test_regions_have_the_radii_of_a_two_dimensional_normal():
    # For a 2-D Normal P(r < q) = 1 - exp(-q^2 / 2): q50 = 1.17741, q90 = 2.14597.
    for mass, radius in ((0.5, 1.17741), (0.9, 2.14597)):
        x, y = ellipse(TENDENCY, mass)
        assert x.max() - 4.0 == pytest.approx(3 * radius, rel=2e-3)
        assert y.max() + 6.0 == pytest.approx(radius, rel=2e-3)
        drawn = tables_of(face_chart(face()))[f"tendency, {mass * 100:.0f} % sure"]
        assert max(row["toe_mm"] for row in drawn) == pytest.approx(4.0 + 3 * radius, rel=2e-3)


def test_region_of_correlated_draws_holds_its_share():
    rng = np.random.default_rng(3)
    draws = rng.multivariate_normal([1, 2], [[4, 1.5], [1.5, 2]], 20_000)
    cloud = cloud_of_draws(draws[:, 0], draws[:, 1])
    inverse = np.linalg.inv(np.asarray(cloud.covariance))
    off = draws - np.asarray(cloud.mean)
    edge = np.stack(ellipse(cloud, 0.9), axis=1) - np.asarray(cloud.mean)
    limit = np.einsum("ni,ij,nj->n", edge, inverse, edge)
    inside = np.einsum("ni,ij,nj->n", off, inverse, off) < limit.mean()
    assert inside.mean() == pytest.approx(0.9, abs=0.01)


def test_target_window_is_the_given_rectangle():
    window = tables_of(face_chart(face()))["target window"]
    assert {row["toe_mm"] for row in window} == {2.0, 10.0}
    assert {row["up_mm"] for row in window} == {3.0, 9.0}


def test_target_far_out_is_drawn_whole_under_its_word():
    far = face_chart(face(window_up_mm=(30.0, 48.0), window_toe_mm=(50.0, 75.0)))
    x, y = encodings(far)[:2]
    assert half(x["scale"]["domainMax"], 560, 350) > 75
    word = tables_of(far)["_word"][0]["up_mm"]
    assert 48 < word < half(y["scale"]["domainMax"], 560, 350)


def test_the_word_target_stands_above_the_face_where_no_shot_can_be():
    word = tables_of(face_chart(face()))["_word"][0]
    assert word["up_mm"] > face_outline()[1].max()


def test_no_window_and_no_tendency_draw_nothing_in_their_place():
    bare = face(window_toe_mm=None, window_up_mm=None, tendency=None, strikes=())
    assert list(tables_of(face_chart(bare))) == ["_neck", "_centre", "_face"]


def test_shots_are_drawn_over_the_face_and_under_the_tendency():
    order = list(tables_of(face_chart(face())))
    assert order.index("_face") < order.index("shots") < order.index("tendency")
    assert drawing(face_chart(face()), "shots", "circle")


def test_face_is_about_the_size_of_a_driver_face():
    # Common practice, no source: about 100-120 mm across, 50-65 mm high; taller toward the toe.
    toe, up = face_outline()
    assert 100 <= np.ptp(toe) <= 120
    assert 50 <= np.ptp(up) <= 65
    assert np.ptp(up[toe > 25]) > np.ptp(up[toe < -25])
