"""How what each lever gains is drawn: thick 50 %, thin 90 %, the trait all the way below."""

from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet
from tracker.charts.labels import along, in_lines, lines_high, named_axis, number_axis
from tracker.interval import Interval
from tracker.units import plain_zero

_ROW_PIXELS = 64
_BELOW = 15
"""How far below the lever its trait all the way stands, px."""


@dataclass(frozen=True, slots=True)
class GainRow:
    """One lever: what it and its trait all the way at the target are worth, in the shown unit.

    ``half`` holds the ends of the 50 % interval of the lever; None leaves it out.
    ``chance`` is how often this lever is the best choice, in words.
    """

    label: str
    gain: Interval
    full_fix: Interval
    half: tuple[float, float] | None = None
    chance: str = ""


def gain_chart(rows: Sequence[GainRow]) -> alt.LayerChart:
    """Return the gain intervals, first row on top."""
    sheet = Sheet()
    levers = sheet.drawn("levers", [_row(row) for row in rows])
    unit = rows[0].gain.unit if rows else ""
    x = number_axis("median", f"gained ({unit}), right of the line is better")
    names = [in_lines(row.label, row.chance) for row in rows]
    y = named_axis(names)
    zero = sheet.drawn("no gain", [{"_x": 0}]).mark_rule(color=GREY).encode(x=along(x, "_x"))
    tip = [
        alt.Tooltip("lever:N"),
        *(alt.Tooltip(f"{end}:Q", format=".1f") for end in ("median", "low90", "high90")),
    ]
    layers = (
        zero,
        levers.mark_rule(color=ACCENT, strokeWidth=2.5).encode(
            x=along(x, "low90"), x2="high90", y=y, tooltip=tip
        ),
        levers.mark_rule(color=ACCENT, strokeWidth=11).encode(
            x=along(x, "low50"), x2="high50", y=y
        ),
        levers.mark_circle(
            fill="white", stroke=ACCENT, strokeWidth=2, size=60, opacity=1
        ).encode(x=x, y=y, tooltip=tip),
        levers.mark_text(dy=-15).encode(x=x, y=y, text="_text:N"),
        levers.mark_rule(color=GREY, strokeWidth=1.5, yOffset=_BELOW).encode(
            x=along(x, "all_the_way_low90"), x2="all_the_way_high90", y=y
        ),
        levers.mark_circle(
            fill="white", stroke=GREY, strokeWidth=1.5, size=40, opacity=1, yOffset=_BELOW
        ).encode(x=along(x, "all_the_way"), y=y),
    )  # fmt: skip
    return sheet.framed(*layers, height=lines_high(names, _ROW_PIXELS) * max(len(rows), 2))


def _row(row: GainRow) -> Row:
    gain, full = row.gain, row.full_fix
    half = row.half or (None, None)
    return {
        "lever": row.label,
        "median": gain.median,
        "low90": gain.low90,
        "high90": gain.high90,
        "low50": half[0],
        "high50": half[1],
        "all_the_way": full.median,
        "all_the_way_low90": full.low90,
        "all_the_way_high90": full.high90,
        "unit": gain.unit,
        "_name": in_lines(row.label, row.chance),
        "_text": f"{plain_zero(f'{gain.median:.0f}')} {gain.unit}",
    }
