"""How a driver face is drawn to scale in millimetres, with strikes, tendency and target on it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet
from tracker.charts.outline import (
    HALF_HEIGHT_MM,
    HALF_WIDTH_MM,
    NECK_TOE_MM,
    NECK_UP_MM,
    VIEW_TOE_MM,
    VIEW_UP_MM,
    Normal2D,
    ellipse,
    face_outline,
)
from tracker.records import Handed

HEIGHT = 350
_TARGET_WORD_MM = VIEW_UP_MM - 2.5
"""How high the word stands: above the face, where no shot can be read."""


@dataclass(frozen=True, slots=True)
class FaceMap:
    """What goes on the face: strikes as (toe, up) in mm, + toward the toe and the crown."""

    handed: Handed
    strikes: tuple[tuple[float, float], ...]
    tendency: Normal2D | None
    scatter: Normal2D | None
    window_toe_mm: tuple[float, float] | None
    window_up_mm: tuple[float, float] | None


def face_chart(face: FaceMap) -> alt.LayerChart:
    """Return the face as the player looks at it from the front: toe left for a right-hander."""
    sheet = Sheet()
    x, y = _axes(face)
    layers = [*_club(sheet, x, y)]
    if face.strikes:
        rows = [{"toe_mm": round(t, 1), "up_mm": round(u, 1)} for t, u in face.strikes]
        mark = sheet.drawn("shots", rows).mark_circle(color=GREY, size=22, opacity=0.6, clip=True)
        layers.append(mark.encode(x=x, y=y, tooltip=["toe_mm:Q", "up_mm:Q"]))
    if face.scatter is not None:
        region = _region(sheet, "9 in 10 shots", face.scatter, 0.9)
        layers.append(_line(region, x, y, color=GREY, strokeWidth=1.5, strokeDash=[2, 3]))
    if face.tendency is not None:
        layers += _tendency(sheet, face.tendency, x, y)
    layers += _window(sheet, face, x, y)
    return sheet.framed(*layers, height=HEIGHT)


def _closed(toe: Iterable[float], up: Iterable[float]) -> list[Row]:
    return [
        {"toe_mm": round(float(t), 2), "up_mm": round(float(u), 2), "_order": place}
        for place, (t, u) in enumerate(zip(toe, up, strict=True))
    ]


def _region(sheet: Sheet, name: str, cloud: Normal2D, mass: float) -> alt.Chart:
    return sheet.drawn(name, _closed(*ellipse(cloud, mass)))


def _line(layer: alt.Chart, x: alt.X, y: alt.Y, **mark: Any) -> alt.Chart:
    """Return a layer drawn as a line through its rows in their order."""
    line: alt.Chart = layer.mark_line(clip=True, **mark)
    return line.encode(x=x, y=y, order="_order:Q")


def _filled(layer: alt.Chart, x: alt.X, y: alt.Y, **mark: Any) -> alt.Chart:
    return _line(layer, x, y, interpolate="linear-closed", filled=True, **mark)


def _club(sheet: Sheet, x: alt.X, y: alt.Y) -> Sequence[alt.Chart]:
    neck = sheet.drawn("_neck", _closed(NECK_TOE_MM, NECK_UP_MM))
    centre = sheet.drawn("_centre", [{"toe_mm": 0.0, "up_mm": 0.0}])
    return (
        _filled(neck, x, y, fill=GREY, fillOpacity=0.1),
        _filled(
            sheet.drawn("_face", _closed(*face_outline())), x, y,
            fill=GREY, fillOpacity=0.1, stroke=GREY, strokeWidth=1.5,
        ),
        centre.mark_point(shape="cross", filled=True, color=GREY, size=60).encode(x=x, y=y),
    )  # fmt: skip


def _tendency(sheet: Sheet, tendency: Normal2D, x: alt.X, y: alt.Y) -> Sequence[alt.Chart]:
    middle = [{"toe_mm": round(tendency.mean[0], 1), "up_mm": round(tendency.mean[1], 1)}]
    regions = [
        _filled(
            _region(sheet, f"tendency, {mass * 100:.0f} % sure", tendency, mass), x, y,
            fill=ACCENT, fillOpacity=opacity, stroke=ACCENT, strokeWidth=1.5,
        )
        for mass, opacity in ((0.9, 0.25), (0.5, 0.5))
    ]  # fmt: skip
    dot = sheet.drawn("tendency", middle).mark_circle(color=ACCENT, size=34, opacity=1)
    return (*regions, dot.encode(x=x, y=y, tooltip=["toe_mm:Q", "up_mm:Q"]))


def _window(sheet: Sheet, face: FaceMap, x: alt.X, y: alt.Y) -> Sequence[alt.Chart]:
    """Return the target's frame, whole, and its name above the face, led to it by a thin line."""
    if face.window_toe_mm is None and face.window_up_mm is None:
        return ()
    toe = face.window_toe_mm or (-HALF_WIDTH_MM, HALF_WIDTH_MM)
    up = face.window_up_mm or (-HALF_HEIGHT_MM, HALF_HEIGHT_MM)
    corners = _closed((toe[0], toe[1], toe[1], toe[0], toe[0]), (up[0], up[0], up[1], up[1], up[0]))
    frame = _line(
        sheet.drawn("target window", corners),
        x,
        y,
        color=ACCENT,
        strokeWidth=2.5,
        strokeDash=[7, 4],
    )
    middle, word = sum(toe) / 2, max(_TARGET_WORD_MM, up[1] + 6.0)
    lead = [{"toe_mm": middle, "up_mm": up[1], "_to": word - 1.5}]
    leader = sheet.drawn("_line to the word", lead).mark_rule(
        color=ACCENT, strokeWidth=1, opacity=0.8
    )
    named = sheet.drawn("_word", [{"toe_mm": middle, "up_mm": word, "_text": "target"}])
    return (
        frame,
        leader.encode(x=x, y=y, y2="_to"),
        named.mark_text(baseline="bottom", dy=3).encode(x=x, y=y, text="_text:N"),
    )


def _axes(face: FaceMap) -> tuple[alt.X, alt.Y]:
    """Return equal scales that hold the whole face and target; x turns round with the hand.

    The room there is decides what else is seen: on a narrow screen more above and below.
    """
    wide = max(VIEW_TOE_MM, *(abs(v) + 4 for v in face.window_toe_mm or ()), 0.0)
    high = max(VIEW_UP_MM, *(abs(v) + 10 for v in face.window_up_mm or ()), 0.0)
    x_half = f"max({wide}, {high} * width / height)"
    y_half = f"max({high}, {wide} * height / width)"
    ticks = [float(v) for v in range(-60, 61, 10)]
    common: dict[str, Any] = {
        "values": ticks,
        "labelExpr": "datum.value % 20 == 0 ? format(abs(datum.value), 'd') : ''",
        "labelFlush": False,
    }
    toe_left = face.handed == "right"
    return (
        alt.X(
            "toe_mm:Q",
            title="← toe side \u2003\u2003 mm from the face centre \u2003\u2003 heel side →"
            if toe_left
            else "← heel side \u2003\u2003 mm from the face centre \u2003\u2003 toe side →",
            scale=_scale(x_half, reverse=toe_left),
            axis=alt.Axis(**common),
        ),
        alt.Y(
            "up_mm:Q",
            title="mm below and above the centre",
            scale=_scale(y_half),
            axis=alt.Axis(**common),
        ),
    )


def _scale(half: str, *, reverse: bool = False) -> alt.Scale:
    ends = {"domainMin": alt.ExprRef(f"-{half}"), "domainMax": alt.ExprRef(half)}
    return alt.Scale(nice=False, zero=False, reverse=reverse, **ends)
