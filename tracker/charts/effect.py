"""How what changes do is drawn: each effect's interval about zero, over the size that matters."""

from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt

from tracker.charts.ink import ACCENT, GREY
from tracker.interval import Interval

_ROW_PIXELS = 44
_LABEL_PIXELS = 220


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
    data = alt.Data(values=[_row(place, row) for place, row in enumerate(rows)])
    y = alt.Y(
        "change:N",
        sort=None,
        title=None,
        axis=alt.Axis(labelLimit=_LABEL_PIXELS, ticks=False, domain=False),
    )
    x = alt.X(
        "low90:Q",
        title=f"{label} ({unit}, + {positive})",
        scale=alt.Scale(nice=True),
        axis=alt.Axis(tickCount=6),
    )
    colour = alt.condition("datum.tried", alt.value(ACCENT), alt.value(GREY))
    tip = [
        "change:N",
        *(alt.Tooltip(f"{v}:Q", format="+.1f") for v in ("effect", "low90", "high90")),
    ]
    base = alt.Chart(data)
    zero = alt.Chart(alt.Data(values=[{"zero": 0}]))
    return alt.layer(
        base.mark_bar(height=26, color=GREY, opacity=0.18).encode(
            x=alt.X("matters_low:Q"), x2="matters_high:Q", y=y
        ),
        zero.mark_rule(color=GREY, strokeWidth=1.5).encode(x="zero:Q"),
        base.mark_rule(strokeWidth=3).encode(x=x, x2="high90:Q", y=y, color=colour, tooltip=tip),
        base.mark_circle(fill="white", strokeWidth=2, size=64, opacity=1).encode(
            x="effect:Q", y=y, stroke=colour, tooltip=tip
        ),
    ).properties(
        height=_ROW_PIXELS * len(rows),
        autosize=alt.AutoSizeParams(type="fit-x", contains="padding"),
    )


def _row(place: int, row: EffectRow) -> dict[str, object]:
    matters = row.matters
    return {
        "place": place,
        "change": row.name,
        "effect": row.effect.median,
        "low90": row.effect.low90,
        "high90": row.effect.high90,
        "matters_low": None if matters is None else -matters,
        "matters_high": matters,
        "tried": row.tried,
    }
