"""How promises are drawn: promised across, found upward, 90 % each, and where both agree."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Sheet
from tracker.charts.labels import along
from tracker.interval import Interval, sure_between
from tracker.units import plain_zero

HEIGHT = 340


@dataclass(frozen=True, slots=True)
class PromisePoint:
    """One promise: what it is of, what was promised and found in the shown unit, how it stands."""

    label: str
    promised: Interval
    found: Interval
    status: str


def promise_chart(points: Sequence[PromisePoint]) -> alt.LayerChart:
    """Return the promises as crosses of two intervals; ``points`` holds one at least."""
    unit = points[0].promised.unit
    low, high = _reach(points)
    sheet = Sheet()
    scale = alt.Scale(domain=[low, high], nice=False)
    across = alt.X("promised:Q", title=f"promised ({unit})", scale=scale)
    upward = alt.Y("found:Q", title=f"found ({unit})", scale=scale)
    tips = [alt.Tooltip(f"{name}:N") for name in ("what", "promise", "outcome", "so")]
    agree = sheet.drawn("as promised", [{"promised": end, "found": end} for end in (low, high)])
    promises = sheet.drawn("promises", [_row(point) for point in points])
    over = upward.copy(deep=False)
    over.shorthand = "under:Q"
    return sheet.framed(
        agree.mark_line(color=GREY, strokeDash=[5, 4], strokeWidth=1.5).encode(x=across, y=upward),
        promises.mark_rule(color=GREY, strokeWidth=1.5).encode(
            x=along(across, "from"), x2="to", y=upward, tooltip=tips
        ),
        promises.mark_rule(color=ACCENT, strokeWidth=1.5).encode(
            x=across, y=over, y2="over", tooltip=tips
        ),
        promises.mark_circle(fill="white", stroke=ACCENT, size=60, strokeWidth=2, opacity=1).encode(
            x=across, y=upward, tooltip=tips
        ),
        height=HEIGHT,
    )


def promise_text(points: Sequence[PromisePoint]) -> str:
    """Return the picture as a sentence for those who cannot see it."""
    return (
        "; ".join(
            f"{p.label}: promised {_words(p.promised)}, found {_words(p.found)}, {p.status}"
            for p in points
        )
        + "."
    )


def _row(point: PromisePoint) -> dict[str, Any]:
    promised, found = point.promised, point.found
    return {
        "what": point.label,
        "promise": f"promised {_words(promised)}",
        "outcome": f"found {_words(found)}",
        "so": point.status,
        "promised": promised.median,
        "found": found.median,
        "from": promised.low90,
        "to": promised.high90,
        "under": found.low90,
        "over": found.high90,
    }


def _words(interval: Interval) -> str:
    low, middle, high = (
        plain_zero(f"{value:+.1f}") for value in (interval.low90, interval.median, interval.high90)
    )
    return f"{middle} {interval.unit} ({sure_between(low, high)})"


def _reach(points: Sequence[PromisePoint]) -> tuple[float, float]:
    """Return the ends of both axes, so that the line of agreement runs corner to corner."""
    ends = [v for p in points for i in (p.promised, p.found) for v in (i.low90, i.high90)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    room = 0.05 * ((high - low) or 1.0)
    return low - room, high + room
