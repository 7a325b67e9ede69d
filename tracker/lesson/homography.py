"""From a photograph of a marked face to millimetres: a plane homography with its error.

The map from the face's plane to the picture is the normalised direct linear transform (Hartley &
Zisserman 2004, Multiple View Geometry, 2nd ed., algorithm 4.2), made exact in the pixel errors by
Gauss-Newton where there are more than four points. Click errors are carried through the map and
the mark by its first derivatives (same book, ch. 5.2).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import chdtri

from models.arrays import Floats
from tracker.errors import BadRequest
from tracker.interval import Z90, Interval
from tracker.records import Handed

LEAST_POINTS = 4
FLATTEST = 0.02
"""Least height of a triangle of three points, as a share of its longest side."""

MOST_MISFIT_MM = 3.0
"""Largest distance of a reference point from where the others put it."""

DOUBT = 0.99
"""Points are taken as clicked less well than stated when they miss by more than chance says."""


@dataclass(frozen=True, slots=True)
class ReferencePoint:
    """A known place on the face and where it was clicked: mm toe and up, pixels right and down."""

    name: str
    toe_mm: float
    up_mm: float
    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True)
class PhotoStrike:
    """A strike read from a photograph.

    ``covariance_mm2`` is that of toe and up; ``misfit_mm`` the root mean square distance of the
    reference points from their places, None when four points fit by construction.
    """

    toe_mm: float
    up_mm: float
    covariance_mm2: tuple[tuple[float, float], tuple[float, float]]
    misfit_mm: float | None

    @property
    def toe(self) -> Interval:
        """Return the place across the face."""
        return _interval(self.toe_mm, self.covariance_mm2[0][0])

    @property
    def up(self) -> Interval:
        """Return the place up the face."""
        return _interval(self.up_mm, self.covariance_mm2[1][1])


def _interval(value: float, variance: float) -> Interval:
    half = Z90 * float(np.sqrt(variance))
    return Interval(value, value - half, value + half, "mm")


def photo_strike(
    points: Sequence[ReferencePoint],
    mark_px: tuple[float, float],
    *,
    click_sd_px: float,
    handed: Handed | None = None,
) -> PhotoStrike:
    """Return where the mark lies on the face, with the error of the clicks.

    ``click_sd_px`` is the SD of one click in each direction. Raises BadRequest for points that
    define no plane, are mixed up or do not fit together, each named.
    """
    if click_sd_px <= 0:
        raise BadRequest(f"click error: found {click_sd_px} px, wanted more than 0")
    face = np.array([(p.toe_mm, p.up_mm) for p in points], dtype=np.float64).reshape(-1, 2)
    picture = np.array([(p.x_px, p.y_px) for p in points], dtype=np.float64).reshape(-1, 2)
    _check_places(points, face, "on the face")
    _check_places(points, picture, "in the photograph")
    shift_mm, scale_mm = _normalisation(face)
    shift_px, scale_px = _normalisation(picture)
    plane, seen = (face - shift_mm) * scale_mm, (picture - shift_px) * scale_px
    h = _direct_linear(plane, seen)
    _check_order(points, plane, h, handed)
    h = _least_pixel_error(h, plane, seen)
    residual_px = (_project(h, plane) - seen) / scale_px
    freedom = 2 * len(points) - 8
    variance_px2 = click_sd_px**2
    square = float((residual_px**2).sum())
    if freedom and square > chdtri(freedom, 1 - DOUBT) * variance_px2:
        variance_px2 = square / freedom
    misfit = None
    if freedom:
        back = (_project(_inverse(h), seen) - plane) / scale_mm
        _check_fit(points, back)
        misfit = float(np.sqrt((back**2).sum(axis=1).mean()))
    mark = (np.asarray(mark_px, dtype=np.float64) - shift_px) * scale_px
    place = _project(_inverse(h), mark[None])[0]
    covariance = _covariance(h, plane, place) * variance_px2 * (scale_px / scale_mm) ** 2
    toe, up = place / scale_mm + shift_mm
    rows = covariance.tolist()
    return PhotoStrike(
        float(toe),
        float(up),
        ((rows[0][0], rows[0][1]), (rows[1][0], rows[1][1])),
        misfit,
    )


def _normalisation(points: Floats) -> tuple[Floats, float]:
    """Return the shift and scale that put points around 0 at a mean distance of root 2."""
    centre = points.mean(axis=0)
    distance = float(np.linalg.norm(points - centre, axis=1).mean())
    return centre, float(np.sqrt(2)) / distance


def _direct_linear(plane: Floats, seen: Floats) -> Floats:
    """Return the map from plane to picture with its last entry 1, shape (3, 3)."""
    rows = []
    for (x, y), (u, v) in zip(plane, seen, strict=True):
        rows.append([-x, -y, -1, 0, 0, 0, u * x, u * y, u])
        rows.append([0, 0, 0, -x, -y, -1, v * x, v * y, v])
    h = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    # The origin is the middle of the reference points, which no usable photograph puts at infinity.
    return np.asarray(h / h[2, 2])


def _project(h: Floats, points: Floats) -> Floats:
    mapped = np.column_stack([points, np.ones(len(points))]) @ h.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def _inverse(h: Floats) -> Floats:
    return np.asarray(np.linalg.inv(h))


def _slopes(h: Floats, points: Floats) -> Floats:
    """Return derivatives of projected points by the first eight entries, (2 * point, 8)."""
    ones = np.ones(len(points))
    homogeneous = np.column_stack([points, ones])
    depth = homogeneous @ h[2]
    places = _project(h, points)
    slopes = np.zeros((len(points), 2, 8))
    slopes[:, 0, 0:3] = slopes[:, 1, 3:6] = homogeneous / depth[:, None]
    slopes[:, :, 6:8] = -places[:, :, None] * (points / depth[:, None])[:, None, :]
    return slopes.reshape(-1, 8)


def _least_pixel_error(h: Floats, plane: Floats, seen: Floats) -> Floats:
    if len(plane) == LEAST_POINTS:
        return h
    for _ in range(10):
        error = (seen - _project(h, plane)).ravel()
        change = np.linalg.lstsq(_slopes(h, plane), error, rcond=None)[0]
        h = (h.ravel() + np.append(change, 0.0)).reshape(3, 3)
        if float(np.abs(change).max()) < 1e-12:
            break
    return h


def _covariance(h: Floats, plane: Floats, place: Floats) -> Floats:
    """Return the covariance of the mark's place for clicks of unit variance, (2, 2)."""
    slopes = _slopes(h, plane)
    of_map = np.linalg.inv(slopes.T @ slopes)
    here = _slopes(h, place[None])
    depth = float(np.append(place, 1.0) @ h[2])
    seen = _project(h, place[None])[0]
    to_picture = (h[:2, :2] - np.outer(seen, h[2, :2])) / depth
    to_plane = np.linalg.inv(to_picture)
    return np.asarray(to_plane @ (np.eye(2) + here @ of_map @ here.T) @ to_plane.T)


def _check_places(points: Sequence[ReferencePoint], places: Floats, where: str) -> None:
    if len(points) < LEAST_POINTS:
        raise BadRequest(
            f"reference points: found {len(points)}, wanted at least {LEAST_POINTS} known places"
        )
    size = float(np.ptp(places, axis=0).max())
    for a, b in combinations(range(len(points)), 2):
        if float(np.linalg.norm(places[a] - places[b])) <= FLATTEST * size:
            raise BadRequest(
                f"{points[a].name} and {points[b].name} are one place {where}; wanted places apart"
            )
    flat = {
        trio
        for trio in combinations(range(len(points)), 3)
        if _flatness(places[[*trio]]) < FLATTEST
    }
    for four in combinations(range(len(points)), LEAST_POINTS):
        if not any(trio in flat for trio in combinations(four, 3)):
            return
    named = ", ".join(points[i].name for i in min(flat))
    raise BadRequest(
        f"{named} lie on one line {where}; wanted four points of which no three are in line, "
        "such as the corners of a rectangle"
    )


def _flatness(corners: Floats) -> float:
    """Return a triangle's least height as a share of its longest side."""
    sides = corners - np.roll(corners, 1, axis=0)
    longest2 = float((sides**2).sum(axis=1).max())
    double_area = abs(float(sides[1, 0] * sides[2, 1] - sides[1, 1] * sides[2, 0]))
    return double_area / longest2


def _check_order(
    points: Sequence[ReferencePoint], plane: Floats, h: Floats, handed: Handed | None
) -> None:
    depth = plane @ h[2, :2] + 1.0
    behind = [p.name for p, d in zip(points, depth, strict=True) if d <= 0]
    if behind:
        raise BadRequest(
            f"{', '.join(behind)}: no photograph of a flat face shows the points like this; they "
            "were probably clicked in another order than listed"
        )
    # Toe points left for a right-hander seen from the front, and pixels count downward.
    mirrored = float(np.linalg.det(h)) < 0
    if handed is not None and mirrored != (handed == "left"):
        raise BadRequest(
            f"the points read as the mirror image of a {handed}-hander's face: click them in the "
            "order listed, or take the photograph without a mirror"
        )


def _check_fit(points: Sequence[ReferencePoint], off_mm: Floats) -> None:
    distance = np.linalg.norm(off_mm, axis=1)
    worst = int(distance.argmax())
    if distance[worst] > MOST_MISFIT_MM:
        raise BadRequest(
            f"{points[worst].name} lies {distance[worst]:.1f} mm from where the other points put "
            f"it, wanted at most {MOST_MISFIT_MM:g} mm; click it again or check its millimetres"
        )
