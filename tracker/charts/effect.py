"""How what changes do is drawn: each effect's interval about zero, over the size that matters."""

from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet
from tracker.charts.labels import along, in_lines, lines_high, named_axis, number_axis
from tracker.interval import Interval

_ROW_PIXELS = 44


@dataclass(frozen=True, slots=True)
class EffectRow:
    """One change: its effect in the shown unit, and the size that matters there (None: unknown).

    ``tried`` says whether anybody has done it: what nobody has is drawn in grey.
    """

    name: str
    effect: Interval
    matters: float | None
    tried: bool = True


def effect_chart(rows: Sequence[EffectRow], label: str, positive: str) -> alt.LayerChart:
    """Return the intervals of effects on one trait, first row on top."""
    unit = rows[0].effect.unit if rows else ""
    sheet = Sheet()
    changes = sheet.drawn("changes", [_row(row) for row in rows])
    names = [in_lines(row.name) for row in rows]
    y = named_axis(names)
    x = number_axis("effect", f"{label} ({unit}, + {positive})")
    colour = alt.condition("datum._tried", alt.value(ACCENT), alt.value(GREY))
    tip = [
        "change:N",
        *(alt.Tooltip(f"{v}:Q", format=".1f") for v in ("effect", "low90", "high90")),
    ]
    zero = sheet.drawn("_zero", [{"_zero": 0}])
    return sheet.framed(
        changes.mark_bar(height=26, color=GREY, opacity=0.18).encode(
            x=along(x, "matters_low"), x2="matters_high", y=y
        ),
        zero.mark_rule(color=GREY, strokeWidth=1.5).encode(x=along(x, "_zero")),
        changes.mark_rule(strokeWidth=3).encode(
            x=along(x, "low90"), x2="high90", y=y, color=colour, tooltip=tip
        ),
        changes.mark_circle(fill="white", strokeWidth=2, size=64, opacity=1).encode(
            x=x, y=y, stroke=colour, tooltip=tip
        ),
        height=lines_high(names, _ROW_PIXELS) * len(rows),
    )


def _row(row: EffectRow) -> Row:
    matters = row.matters
    return {
        "change": row.name,
        "effect": row.effect.median,
        "low90": row.effect.low90,
        "high90": row.effect.high90,
        "matters_low": None if matters is None else -matters,
        "matters_high": matters,
        "unit": row.effect.unit,
        "_name": in_lines(row.name),
        "_tried": row.tried,
    }
