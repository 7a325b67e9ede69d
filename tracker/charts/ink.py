"""The one accent, the greys and the frame that every picture shares, legible on light and dark."""

from collections.abc import Mapping, Sequence

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

ACCENT = "#1B7F9E"
"""A mid blue-green: contrast at least 4:1 on both page backgrounds (WCAG 2.2 asks 3:1 of graphics),
and told from grey by lightness as well as hue."""

GREY = "#7F868C"
FAINT = "rgba(127, 134, 140, 0.22)"
CLEAR = "rgba(0, 0, 0, 0)"

PICTURE_CONFIG: Mapping[str, object] = {"displayModeBar": False, "scrollZoom": False}
"""How the page shows a picture: no tool bar, and a finger that scrolls past does not zoom."""


def accent(alpha: float) -> str:
    """Return the accent with some transparency."""
    return f"rgba(27, 127, 158, {alpha})"


def grey(alpha: float) -> str:
    """Return the middle grey with some transparency."""
    return f"rgba(127, 134, 140, {alpha})"


def framed(figure: go.Figure, *, height: int, legend: bool = True) -> go.Figure:
    """Give a figure the shared frame: clear background, quiet grid, legend under the picture."""
    figure.update_layout(
        height=height,
        paper_bgcolor=CLEAR,
        plot_bgcolor=CLEAR,
        font={"size": 14},
        margin={"l": 8, "r": 12, "t": 24, "b": 8},
        showlegend=legend,
        legend={"orientation": "h", "x": 0, "xanchor": "left", "y": -0.16, "yanchor": "top"},
        hovermode="closest",
        dragmode=False,
    )
    quiet = {"gridcolor": FAINT, "zeroline": False, "automargin": True, "title_font_size": 14}
    figure.update_xaxes(**quiet, showgrid=True)
    figure.update_yaxes(**quiet)
    return figure


def density(draws: NDArray[np.float64], grid: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a Gaussian kernel density of ``draws`` on ``grid``, Silverman's (1986) bandwidth."""
    q25, q75 = np.quantile(draws, [0.25, 0.75])
    spread = min(float(draws.std()), float(q75 - q25) / 1.349) or float(draws.std())
    if spread == 0:
        spread = float(grid[-1] - grid[0]) / 100 or 1.0
    width = 0.9 * spread * draws.size**-0.2
    heights = np.exp(-0.5 * ((grid[:, None] - draws[None, :]) / width) ** 2).sum(axis=1)
    return np.asarray(heights / (draws.size * width * np.sqrt(2 * np.pi)), dtype=np.float64)


def common_grid(several: Sequence[NDArray[np.float64]], points: int = 160) -> NDArray[np.float64]:
    """Return evenly spaced places that hold all but the outermost draws of every set."""
    low = min(float(np.quantile(d, 0.002)) for d in several)
    high = max(float(np.quantile(d, 0.998)) for d in several)
    margin = 0.08 * (high - low) or 1.0
    return np.linspace(low - margin, high + margin, points)
