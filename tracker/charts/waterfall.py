"""How the parts of a carry difference are drawn: steps from nothing to the whole, 90 % each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Sheet
from tracker.charts.labels import along, at_band, in_lines, named_axis, number_axis
from tracker.interval import Interval, sure_between
from tracker.units import plain_zero

_THICK = 0.5
"""Height of a bar as a share of its row."""
_ROW_PIXELS = 48
_INTERVAL_PIXELS = 17
"""How far below the middle of its bar an interval lies, px."""


@dataclass(frozen=True, slots=True)
class DistancePart:
    """One part of a difference in the shown unit; not ``explained`` is what the physics misses."""

    label: str
    part: Interval
    explained: bool = True


@dataclass(frozen=True, slots=True)
class Waterfall:
    """The parts, first on top, and the whole difference."""

    steps: tuple[DistancePart, ...]
    whole: DistancePart

    @property
    def starts(self) -> tuple[float, ...]:
        """Return where each part's bar starts: at the end of the one above, the first at 0."""
        starts = [0.0]
        for step in self.steps[:-1]:
            starts.append(starts[-1] + step.part.median)
        return tuple(starts)


def waterfall_chart(waterfall: Waterfall) -> alt.LayerChart:
    """Return the steps top to bottom; solid goes longer, hollow shorter, dashed is unexplained."""
    sheet = Sheet()
    steps = [*waterfall.steps, waterfall.whole]
    starts = [*waterfall.starts, 0.0]
    rows = [_row(step, start) for step, start in zip(steps, starts, strict=True)]
    for row, below in pairwise(rows):
        row["_below"] = below["_name"]
    low, high = _reach(waterfall)
    scale = alt.Scale(domain=[low, high], nice=False)
    x = number_axis("start", f"carry ({waterfall.whole.part.unit})", scale)
    y = named_axis([row["_name"] for row in rows])
    tip = ["part:N", *(alt.Tooltip(f"{end}:Q", format=".1f") for end in _ENDS)]
    zero = sheet.drawn("no difference", [{"_x": 0}]).mark_rule(color=GREY).encode(x=along(x, "_x"))
    steps_drawn = sheet.drawn("steps", rows)
    interval = {"x": along(x, "_low"), "x2": "_high", "y": y}
    layers = [zero]
    for look, mark in _LOOKS.items():
        part = sheet.drawn(f"_{look}", [row for row in rows if row["_look"] == look])
        bar = part.mark_bar(height={"band": _THICK}, strokeWidth=2, **mark)
        layers.append(bar.encode(x=x, x2="end", y=y, tooltip=tip))
    layers += [
        sheet.drawn("_links", rows[:-1])
        .mark_rule(color=GREY, strokeWidth=1)
        .encode(
            x=along(x, "end"),
            y=at_band(y, 0.5 + _THICK / 2),
            y2=alt.Y2("_below:N", bandPosition=0.5 - _THICK / 2),
        ),
        steps_drawn.mark_rule(color=GREY, strokeWidth=1.5, yOffset=_INTERVAL_PIXELS).encode(
            **interval
        ),
        *(
            steps_drawn.mark_tick(
                color=GREY, thickness=1.5, size=7, yOffset=_INTERVAL_PIXELS
            ).encode(x=along(x, end), y=y)
            for end in ("_low", "_high")
        ),
        steps_drawn.mark_text(align="left", dx=8).encode(x=along(x, "_word"), y=y, text="_text:N"),
    ]
    return sheet.framed(*layers, height=_ROW_PIXELS * len(steps))


_LOOKS: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "longer": {"fill": ACCENT, "fillOpacity": 0.85, "stroke": ACCENT},
        "shorter": {"fill": ACCENT, "fillOpacity": 0.0, "stroke": ACCENT},
        "not explained": {
            "fill": GREY, "fillOpacity": 0.12, "stroke": GREY, "strokeDash": [4, 3],
        },
    }
)  # fmt: skip
"""How a bar looks by what it says; never told by colour alone."""
_ENDS = ("median", "low90", "high90")


def _row(step: DistancePart, start: float) -> dict[str, Any]:
    part = step.part
    look = "longer" if part.median >= 0 else "shorter"
    low, high, end = start + part.low90, start + part.high90, start + part.median
    return {
        "part": step.label,
        "median": part.median,
        "low90": part.low90,
        "high90": part.high90,
        "start": start,
        "end": end,
        "unit": part.unit,
        "_name": in_lines(step.label),
        "_look": look if step.explained else "not explained",
        "_low": low,
        "_high": high,
        "_word": max(high, start, end),
        "_text": f"{_signed(part.median, 1 if abs(part.median) < 3 else 0)} {part.unit}",
    }


def _reach(waterfall: Waterfall) -> list[float]:
    """Return the ends of the axis: every bar and interval inside, room for words on the right."""
    pairs = zip((*waterfall.steps, waterfall.whole), (*waterfall.starts, 0.0), strict=True)
    ends = [0.0]
    for step, start in pairs:
        ends += [start + v for v in (step.part.low90, step.part.median, step.part.high90)]
        ends.append(start)
    low, high = min(ends), max(ends)
    room = (high - low) or 1.0
    return [low - 0.06 * room, high + 0.22 * room]


def _decimals(part: Interval) -> int:
    return 1 if max(abs(part.low90), abs(part.high90)) < 3 else 0


def _signed(value: float, decimals: int) -> str:
    return plain_zero(f"{value:+.{decimals}f}")


def in_words(waterfall: Waterfall) -> str:
    """Return the steps as a sentence for those who cannot see the picture."""
    steps: Sequence[DistancePart] = (*waterfall.steps, waterfall.whole)
    parts = []
    for step in steps:
        places = _decimals(step.part)
        median, low, high = (
            _signed(v, places) for v in (step.part.median, step.part.low90, step.part.high90)
        )
        parts.append(f"{step.label} {median} {step.part.unit} ({sure_between(low, high)})")
    return "; ".join(parts) + "."
