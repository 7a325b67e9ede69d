"""Photograph to millimetres: exact on projections, its error calibrated, bad points named."""

import numpy as np
import pytest

from tracker.errors import BadRequest
from tracker.lesson.homography import ReferencePoint, photo_strike

CORNERS = (
    ("top toe", 20.0, 10.0),
    ("top heel", -20.0, 10.0),
    ("bottom heel", -20.0, -10.0),
    ("bottom toe", 20.0, -10.0),
)
MORE = (*CORNERS, ("right of centre", -30.0, 0.0), ("above", 5.0, 18.0))


def camera(tilt_deg=25.0, turn_deg=-15.0, distance_mm=300.0, focal_px=1400.0, hand=-1):
    """A pinhole camera before the face; millimetres toe and up to pixels right and down."""
    a, b = np.radians([tilt_deg, turn_deg])
    turn_up = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    turn_side = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    rotation = turn_up @ turn_side

    def seen(toe, up):
        x, y, z = rotation @ np.array([hand * toe, -up, 0.0]) + [0, 0, distance_mm]
        return focal_px * x / z + 800, focal_px * y / z + 600

    return seen


def clicked(seen, places=CORNERS, noise=None):
    shift = np.zeros((len(places), 2)) if noise is None else noise
    return [
        ReferencePoint(name, toe, up, *(np.array(seen(toe, up)) + off))
        for (name, toe, up), off in zip(places, shift, strict=True)
    ]


@pytest.mark.parametrize("places", [CORNERS, MORE])
@pytest.mark.parametrize("mark", [(0.0, 0.0), (12.3, -7.1), (-35.0, 14.0)])
@pytest.mark.parametrize(("hand", "handed"), [(-1, "right"), (1, "left")])
def test_projection_is_undone_exactly(places, mark, hand, handed):
    seen = camera(hand=hand)
    found = photo_strike(clicked(seen, places), seen(*mark), click_sd_px=2.0, handed=handed)
    assert (found.toe_mm, found.up_mm) == pytest.approx(mark, abs=1e-7)
    if len(places) > 4:
        assert found.misfit_mm == pytest.approx(0, abs=1e-7)
    else:
        assert found.misfit_mm is None


def test_four_points_solve_heckberts_closed_form():
    """Unit square to quadrilateral (Heckbert 1989, Fundamentals of Texture Mapping, ch. 2.2.3)."""
    quad = np.array([(100.0, 120.0), (420.0, 90.0), (460.0, 390.0), (80.0, 350.0)])
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = quad
    dx1, dx2, sx = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
    dy1, dy2, sy = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
    g = (sx * dy2 - sy * dx2) / (dx1 * dy2 - dy1 * dx2)
    h = (dx1 * sy - dy1 * sx) / (dx1 * dy2 - dy1 * dx2)
    u, v = 0.3, 0.8
    w = g * u + h * v + 1
    x = ((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / w
    y = ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / w
    square = [("a", 0.0, 0.0), ("b", 1.0, 0.0), ("c", 1.0, 1.0), ("d", 0.0, 1.0)]
    points = [ReferencePoint(*p, *q) for p, q in zip(square, quad.tolist(), strict=True)]
    found = photo_strike(points, (x, y), click_sd_px=1.0)
    assert (found.toe_mm, found.up_mm) == pytest.approx((u, v), abs=1e-9)


def test_error_at_the_middle_of_a_square_is_the_closed_form():
    """There the mark is where the diagonals cross, each coordinate off by half a corner's variance:
    together with the mark's own click, 1.5 times the variance of one click."""
    scale, sd = 10.0, 3.0
    square = [("a", 15.0, 15.0), ("b", -15.0, 15.0), ("c", -15.0, -15.0), ("d", 15.0, -15.0)]
    points = [ReferencePoint(n, t, u, 500 - scale * t, 500 - scale * u) for n, t, u in square]
    found = photo_strike(points, (500.0, 500.0), click_sd_px=sd, handed="right")
    expected = 1.5 * (sd / scale) ** 2
    assert found.covariance_mm2[0][0] == pytest.approx(expected)
    assert found.covariance_mm2[1][1] == pytest.approx(expected)
    assert found.covariance_mm2[0][1] == pytest.approx(0, abs=1e-9)
    half = 1.6448536 * np.sqrt(expected)
    assert found.toe.high90 - found.toe_mm == pytest.approx(half)


@pytest.mark.parametrize("places", [CORNERS, MORE])
def test_ninety_percent_intervals_hold_the_mark_nine_times_in_ten(places):
    rng = np.random.default_rng(4)
    seen, mark, sd = camera(), (14.0, -12.0), 3.0
    inside, squares = [], []
    for _ in range(600):
        points = clicked(seen, places, rng.normal(0, sd, (len(places), 2)))
        click = np.array(seen(*mark)) + rng.normal(0, sd, 2)
        found = photo_strike(points, (click[0], click[1]), click_sd_px=sd, handed="right")
        inside += [i.low90 <= m <= i.high90 for i, m in
                   zip((found.toe, found.up), mark, strict=True)]  # fmt: skip
        off = np.array([found.toe_mm, found.up_mm]) - mark
        squares.append(off @ np.linalg.solve(np.array(found.covariance_mm2), off))
    assert np.mean(inside) == pytest.approx(0.9, abs=0.025)
    assert np.mean(squares) == pytest.approx(2.0, abs=0.25)


def test_clicks_worse_than_stated_get_the_error_that_the_points_show():
    """The variance shown, averaged over photographs, is that of the true click error."""
    rng = np.random.default_rng(7)
    seen, true_sd = camera(), 4.0
    honest = photo_strike(clicked(seen, MORE), seen(0, 0), click_sd_px=true_sd)
    shown = [
        photo_strike(
            clicked(seen, MORE, rng.normal(0, true_sd, (6, 2))), seen(0, 0), click_sd_px=0.5
        ).covariance_mm2[0][0]
        for _ in range(300)
    ]
    assert np.mean(shown) == pytest.approx(honest.covariance_mm2[0][0], rel=0.1)


def test_more_points_narrow_the_error():
    seen = camera()
    four, six = (
        photo_strike(clicked(seen, p), seen(15, -5), click_sd_px=3.0).covariance_mm2[0][0]
        for p in (CORNERS, MORE)
    )
    assert six < four


def moved(points, place, **changes):
    changed = list(points)
    p = changed[place]
    values = {"name": p.name, "toe_mm": p.toe_mm, "up_mm": p.up_mm, "x_px": p.x_px, "y_px": p.y_px}
    changed[place] = ReferencePoint(**{**values, **changes})
    return changed


def test_bad_points_are_refused_by_name():
    seen = camera()
    good = clicked(seen)
    with pytest.raises(BadRequest, match="found 3, wanted at least 4"):
        photo_strike(good[:3], (0, 0), click_sd_px=2)
    with pytest.raises(BadRequest, match="top toe and top heel are one place in the photograph"):
        photo_strike(
            moved(good, 1, x_px=good[0].x_px + 1, y_px=good[0].y_px), (0, 0), click_sd_px=2
        )
    middle = seen(0.0, 10.0)
    in_line = moved(good, 2, toe_mm=0.0, up_mm=10.0, x_px=middle[0], y_px=middle[1])
    with pytest.raises(BadRequest, match="top toe, top heel, bottom heel lie on one line"):
        photo_strike(in_line, (0, 0), click_sd_px=2)
    swapped = moved(
        moved(good, 2, x_px=good[3].x_px, y_px=good[3].y_px), 3, x_px=good[2].x_px,
        y_px=good[2].y_px,
    )  # fmt: skip
    with pytest.raises(BadRequest, match="another order"):
        photo_strike(swapped, (800, 600), click_sd_px=2)
    with pytest.raises(BadRequest, match="mirror image of a left-hander"):
        photo_strike(good, (800, 600), click_sd_px=2, handed="left")
    with pytest.raises(BadRequest, match="wanted more than 0"):
        photo_strike(good, (800, 600), click_sd_px=0)


def test_a_point_far_from_its_place_is_named():
    seen = camera()
    six = clicked(seen, MORE)
    wrong = moved(six, 5, toe_mm=-9.0)
    with pytest.raises(BadRequest, match=r"lies .* mm from where the other points put it"):
        photo_strike(wrong, seen(0, 0), click_sd_px=2, handed="right")
