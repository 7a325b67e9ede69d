"""How predicted and read values of one quantity are compared: dots around the 1:1 line."""

from dataclasses import dataclass

import altair as alt
import numpy as np

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, Sheet
from tracker.interval import Z90


@dataclass(frozen=True, eq=False, slots=True)
class Agreement:
    """Session means of one quantity in the shown unit: predicted, read, and the reading's error."""

    label: str
    unit: str
    predicted: Floats
    observed: Floats
    standard_error: Floats
    names: tuple[str, ...]


def agreement_chart(panel: Agreement) -> alt.LayerChart:
    """Return one quantity's sessions; a dot on the line was predicted exactly as read."""
    sheet = Sheet()
    low, high = shared_range(panel)
    scale, axis = alt.Scale(domain=[low, high], nice=False), alt.Axis(tickCount=5)
    x = alt.X(
        "predicted:Q", title=f"predicted {panel.label} ({panel.unit})", scale=scale, axis=axis
    )
    title = f"read {panel.label} ({panel.unit})"
    y = alt.Y("read:Q", title=title, scale=scale, axis=axis)
    line = sheet.drawn("predicted as read", [{"predicted": v, "read": v} for v in (low, high)])
    rows = [
        {
            "session": name,
            "predicted": float(predicted),
            "read": float(read),
            "low90": float(read - Z90 * error),
            "high90": float(read + Z90 * error),
            "unit": panel.unit,
        }
        for name, predicted, read, error in zip(
            panel.names, panel.predicted, panel.observed, panel.standard_error, strict=True
        )
    ]
    sessions = sheet.drawn("sessions", rows)
    tip = ["session:N", *(alt.Tooltip(f"{v}:Q", format=".1f") for v in ("predicted", "read"))]
    low90 = alt.Y("low90:Q", title=title, scale=scale, axis=axis)
    return sheet.framed(
        line.mark_line(color=GREY, strokeWidth=1.5, strokeDash=[6, 4]).encode(x=x, y=y),
        sessions.mark_rule(color=GREY, opacity=0.6).encode(x=x, y=low90, y2="high90"),
        sessions.mark_circle(color=ACCENT, size=36, opacity=0.8).encode(x=x, y=y, tooltip=tip),
        height=300,
    )


def shared_range(panel: Agreement) -> tuple[float, float]:
    """Return one range for both axes that holds every dot and its error bar."""
    ends = np.concatenate(
        [
            panel.predicted,
            panel.observed - 2 * panel.standard_error,
            panel.observed + 2 * panel.standard_error,
        ]
    )
    margin = 0.05 * float(np.ptp(ends)) or 1.0
    return float(ends.min() - margin), float(ends.max() + margin)
