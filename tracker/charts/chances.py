"""How chances are drawn: what was said across, what came right upward, and where both agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Sheet, along
from tracker.interval import sure_between

HEIGHT = 320
UNIT = "in 100"


@dataclass(frozen=True, slots=True)
class ChancePoint:
    """Chances of one size; shares are in 100."""

    said: float
    right: float
    ends: tuple[float, float]
    """Of the share that came right, 90 %."""
    times: int
    """How often such a chance was given."""


def chance_chart(points: Sequence[ChancePoint]) -> alt.LayerChart:
    """Return the chances as dots with 90 % lines; ``points`` holds one at least."""
    lowest = max(0.0, min(50.0, *(point.ends[0] for point in points)) - 2)
    scale = alt.Scale(domain=[lowest, 101], nice=False)
    sheet = Sheet()
    ticks = alt.Axis(tickCount=6)
    across = alt.X("said:Q", title=f"chance given ({UNIT})", scale=scale, axis=ticks)
    upward = alt.Y("right:Q", title=f"came right ({UNIT})", scale=scale, axis=ticks)
    tips = [alt.Tooltip(f"{name}:N") for name in ("chance", "outcome", "times")]
    ends = [{"said": end, "right": end} for end in (lowest, 101)]
    agree = sheet.drawn("as said", ends)
    chances = sheet.drawn("chances", [_row(point) for point in points])
    return sheet.framed(
        agree.mark_line(color=GREY, strokeDash=[5, 4], strokeWidth=1.5).encode(x=across, y=upward),
        chances.mark_rule(color=ACCENT, strokeWidth=2).encode(
            x=across, y=along(upward, "low"), y2="high", tooltip=tips
        ),
        chances.mark_circle(fill="white", stroke=ACCENT, size=70, strokeWidth=2, opacity=1).encode(
            x=across, y=upward, tooltip=tips
        ),
        height=HEIGHT,
    )


def chance_text(points: Sequence[ChancePoint]) -> str:
    """Return the picture as a sentence for those who cannot see it."""
    said = (f"said {p.said:.0f} {UNIT}, {_outcome(p)}, {p.times} times" for p in points)
    return f"{'; '.join(said)}."


def _row(point: ChancePoint) -> dict[str, Any]:
    return {
        "chance": f"said {point.said:.0f} {UNIT}",
        "outcome": _outcome(point),
        "times": point.times,
        "said": point.said,
        "right": point.right,
        "low": point.ends[0],
        "high": point.ends[1],
    }


def _outcome(point: ChancePoint) -> str:
    low, high = (f"{end:.0f}" for end in point.ends)
    return f"came right {point.right:.0f} {UNIT} ({sure_between(low, high)})"
