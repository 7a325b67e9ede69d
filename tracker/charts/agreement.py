"""How predicted and read values of one quantity are compared: dots around the 1:1 line."""

from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, framed, grey
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


def agreement_figure(panel: Agreement) -> go.Figure:
    """Return one quantity's sessions; a dot on the line was predicted exactly as read."""
    low, high = shared_range(panel)
    figure = go.Figure()
    figure.add_scatter(
        x=[low, high], y=[low, high], mode="lines", name="predicted as read", hoverinfo="skip",
        line={"color": GREY, "width": 1.5, "dash": "dash"},
    )  # fmt: skip
    figure.add_scatter(
        x=panel.predicted, y=panel.observed, mode="markers", name=panel.label,
        error_y={
            "type": "data", "array": Z90 * panel.standard_error,
            "color": grey(0.55), "thickness": 1, "width": 0,
        },
        marker={"color": ACCENT, "size": 6, "opacity": 0.8},
        customdata=list(panel.names),
        hovertemplate=(
            f"%{{customdata}}: predicted %{{x:.1f}}, read %{{y:.1f}} {panel.unit}<extra></extra>"
        ),
    )  # fmt: skip
    framed(figure, height=340, legend=False)
    common = {"range": [low, high], "nticks": 5}
    figure.update_xaxes(title_text=f"predicted {panel.label} ({panel.unit})", **common)
    figure.update_yaxes(title_text=f"read {panel.label} ({panel.unit})", **common)
    return figure


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
