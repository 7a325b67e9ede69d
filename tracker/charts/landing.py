"""How a player's drives are drawn from above: where they come down now and after a lever."""

from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt
import numpy as np

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, Sheet
from tracker.charts.outline import cloud_of_draws, ellipse

HEIGHT = 420
_DOTS = 150
"""Drives of each cloud that are drawn as dots."""


@dataclass(frozen=True, eq=False, slots=True)
class Landings:
    """Where drives come down, in the shown unit; ``right`` of the line of aim is positive."""

    name: str
    carry: Floats
    right: Floats


@dataclass(frozen=True, eq=False, slots=True)
class DrivesFromAbove:
    """The drives now, the same ones after a lever (None where there is none), and the corridor."""

    unit: str
    now: Landings
    after: Landings | None
    corridor: float
    """Width of the corridor around the line of aim, in the shown unit."""


def landing_chart(drives: DrivesFromAbove) -> alt.LayerChart:
    """Return the drives from above, to one scale; a ring holds 9 in 10 of them."""
    sheet = Sheet()
    both = [drives.now] if drives.after is None else [drives.now, drives.after]
    x, y = _axes(drives, both)
    half = drives.corridor / 2
    sides = sheet.drawn("corridor", [{"right": -half, "_to": half}])
    layers: list[alt.Chart] = [
        sides.mark_rect(
            fill=GREY, fillOpacity=0.1, stroke=GREY, strokeDash=[7, 4], clip=True
        ).encode(x=x, x2="_to")
    ]
    looks = ((GREY, [5, 3], "circle"), (ACCENT, [1, 0], "triangle-up"))
    for landings, (ink, dash, shape) in zip(both, looks, strict=False):
        layers += _cloud(sheet, landings, x, y, ink, dash, shape)
    return sheet.framed(*layers, height=HEIGHT)


def _cloud(
    sheet: Sheet, landings: Landings, x: alt.X, y: alt.Y, ink: str, dash: list[int], shape: str
) -> list[alt.Chart]:
    places = _places(landings)
    dots = sheet.drawn(landings.name, places).mark_point(
        shape=shape, filled=True, color=ink, size=16, opacity=0.45, clip=True
    )
    ring = [
        {"right": float(r), "carry": float(c), "_order": place}
        for place, (r, c) in enumerate(
            zip(
                *ellipse(cloud_of_draws(landings.right.ravel(), landings.carry.ravel()), 0.9),
                strict=True,
            )
        )
    ]
    middle = {"right": float(landings.right.mean()), "carry": float(landings.carry.mean())}
    line = sheet.drawn(f"{landings.name}, 9 in 10", ring).mark_line(
        color=ink, strokeWidth=2, strokeDash=dash, clip=True
    )
    dot = sheet.drawn(f"{landings.name}, middle", [middle]).mark_point(
        shape="cross", filled=True, color=ink, size=90, opacity=1
    )
    return [
        dots.encode(x=x, y=y),
        line.encode(x=x, y=y, order="_order:Q"),
        dot.encode(x=x, y=y),
    ]


def _places(landings: Landings) -> list[dict[str, float]]:
    carry, right = landings.carry.ravel(), landings.right.ravel()
    # at random: at even steps they would be the same few shots of each draw
    some = np.random.default_rng(1).permutation(carry.size)[:_DOTS]
    return [
        {"right": round(float(r), 1), "carry": round(float(c), 1)}
        for r, c in zip(right[some], carry[some], strict=True)
    ]


def _axes(drives: DrivesFromAbove, both: Sequence[Landings]) -> tuple[alt.X, alt.Y]:
    """Return equal scales that hold every ring and the corridor, whatever room there is."""
    rings = [ellipse(cloud_of_draws(one.right.ravel(), one.carry.ravel()), 0.9) for one in both]
    wide = max(drives.corridor / 2, *(float(abs(r).max()) for r, _ in rings)) * 1.08
    low = min(float(c.min()) for _, c in rings)
    high = max(float(c.max()) for _, c in rings)
    middle, tall = (low + high) / 2, (high - low) / 2 * 1.1
    x_half = f"max({wide}, {tall} * width / height)"
    y_half = f"max({tall}, {wide} * height / width)"
    unit = drives.unit
    return (
        alt.X(
            "right:Q",
            title=f"← left \u2003\u2003 {unit} beside the line of aim \u2003\u2003 right →",
            scale=_scale(f"-{x_half}", x_half),
            axis=alt.Axis(tickCount=7, labelExpr="format(abs(datum.value), 'd')"),
        ),
        alt.Y(
            "carry:Q",
            title=f"carry ({unit})",
            scale=_scale(f"{middle} - {y_half}", f"{middle} + {y_half}"),
            axis=alt.Axis(tickCount=6),
        ),
    )


def _scale(low: str, high: str) -> alt.Scale:
    ends = {"domainMin": alt.ExprRef(low), "domainMax": alt.ExprRef(high)}
    return alt.Scale(nice=False, zero=False, **ends)
