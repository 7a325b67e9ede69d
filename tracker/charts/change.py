"""How a change is drawn: the tendency before and after, then the change over the zone too small."""

from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, accent, common_grid, density, framed, grey


@dataclass(frozen=True, eq=False, slots=True)
class ChangePicture:
    """Draws of the tendency before and after and of their difference, in the shown unit."""

    label: str
    unit: str
    before: Floats
    after: Floats
    change: Floats
    worthwhile: float


def change_figure(picture: ChangePicture) -> go.Figure:
    """Return the two tendencies above the change; the grey zone is too small to matter."""
    figure = make_subplots(rows=2, cols=1, vertical_spacing=0.24)
    grid = common_grid([picture.before, picture.after])
    sides = (
        ("before", picture.before, GREY, grey(0.25)),
        ("after", picture.after, ACCENT, accent(0.3)),
    )
    for name, draws, ink, fill in sides:
        figure.add_scatter(
            x=grid, y=density(draws, grid), mode="lines", name=name, fill="tozeroy",
            fillcolor=fill, line={"color": ink, "width": 2}, hoverinfo="skip", row=1, col=1,
        )  # fmt: skip
    zone = picture.worthwhile
    wide = common_grid([picture.change, np.array([-1.3 * zone, 1.3 * zone])])
    figure.add_scatter(
        x=wide, y=density(picture.change, wide), mode="lines", name="change", fill="tozeroy",
        fillcolor=accent(0.3), line={"color": ACCENT, "width": 2, "dash": "dot"},
        hoverinfo="skip", row=2, col=1,
    )  # fmt: skip
    figure.add_vrect(
        x0=-zone, x1=zone, fillcolor=grey(0.22), line_width=0, layer="below", row=2, col=1,
    )  # fmt: skip
    figure.add_annotation(  # above the picture: inside, a narrow screen would put it on the curve
        x=0, xref="x2", y=1, yref="y2 domain", yanchor="bottom", showarrow=False,
        text="grey: too small to matter", font={"size": 13},
    )  # fmt: skip
    figure.add_vline(x=0, line={"color": GREY, "width": 1}, row=2, col=1)
    framed(figure, height=520)
    figure.update_xaxes(title_text=f"{picture.label} ({picture.unit})", row=1, col=1)
    figure.update_xaxes(title_text=f"change in {picture.label} ({picture.unit})", row=2, col=1)
    for row in (1, 2):
        figure.update_yaxes(
            title_text=f"how likely (per {picture.unit})", showticklabels=False, row=row, col=1
        )
    return figure
