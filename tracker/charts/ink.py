"""The one accent, the greys and the frame that every picture shares, legible on light and dark."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import altair as alt
import numpy as np
from altair.utils import schemapi

from models.arrays import Floats

# every part would be held against the library's schema as it is made, which takes a third of a
# picture's time; the tests of the pictures switch it on again
schemapi.disable_debug_mode()

ACCENT = "#1B7F9E"
"""A mid blue-green: contrast at least 4:1 on both page backgrounds (WCAG 2.2 asks 3:1 of graphics),
and told from grey by lightness as well as hue."""

GREY = "#7F868C"
INK = "currentColor"
"""Words take the colour of the text around the picture, whether the page is light, dark or paper.
"""

FONT = "Source Sans, Liberation Sans, sans-serif"
TEXT_SIZE = 13
WIDTH = 560
"""Width of the drawing in a file, px; a page stretches it to the room there is."""

Row = Mapping[str, Any]


class _Layer(alt.Chart):
    """A layer that knows the class of each channel.

    The library's own way looks for the class of a field's name among all of its classes each time,
    and takes most of a picture's time.
    """

    def encode(self, **channels: Any) -> "_Layer":  # type: ignore[override] # a few channels
        """Return the layer with its channels; a text is a field, a list is several."""
        made = {name: _channel(name, value) for name, value in channels.items()}
        encoded: _Layer = super().encode(**made)
        return encoded


def _channel(name: str, value: Any) -> Any:
    if isinstance(value, list):
        return [_channel(name, one) for one in value]
    kind = f"{name[0].upper()}{name[1:]}"
    if isinstance(value, str):
        return getattr(alt, kind)(value)
    if isinstance(value, dict):  # a fixed value, which may depend on a condition
        return getattr(alt, f"{kind}Value")(**value)
    return value


class Sheet:
    """The numbers of one picture, each table under the name of what it draws.

    Layers name their table instead of holding it, so that several can draw the same one. A table
    or a field whose name starts with ``_`` serves the drawing alone.
    """

    def __init__(self) -> None:
        self._tables: dict[str, list[dict[str, Any]]] = {}

    def drawn(self, name: str, rows: Iterable[Row]) -> alt.Chart:
        """Return a layer, still without its mark, of the rows that are kept under a name."""
        if name in self._tables:
            raise ValueError(f"two tables of one picture are named {name!r}")
        self._tables[name] = [dict(row) for row in rows]
        return _Layer(alt.NamedData(name=name))

    def framed(self, *layers: alt.Chart | alt.LayerChart, height: float) -> alt.LayerChart:
        """Return layers as one picture in the shared frame: clear background, quiet grid."""
        picture = layered(*layers)
        picture.width, picture.height = WIDTH, height
        picture.background = "transparent"
        picture.padding = {"left": 4, "right": 8, "top": 4, "bottom": 4}
        picture.config = _look()
        picture.datasets = self._tables
        return picture


def layered(*layers: alt.Chart | alt.LayerChart, apart: tuple[str, ...] = ()) -> alt.LayerChart:
    """Return layers on top of each other; ``apart`` names the scales each has for itself.

    Put in place as they are: the library's own way copies every layer many times to look for
    parameters that it shares, of which there are none here, and takes most of a picture's time.
    """
    picture = alt.LayerChart()
    picture.layer = list(layers)
    if apart:
        picture.resolve = alt.Resolve(scale=dict.fromkeys(apart, "independent"))
    return picture


def _look() -> alt.Config:
    return alt.Config(
        font=FONT,
        view=alt.ViewConfig(stroke=None),
        axis=alt.AxisConfig(
            domain=False,
            ticks=False,
            gridColor=GREY,
            gridOpacity=0.22,
            labelColor=INK,
            labelFontSize=TEXT_SIZE,
            labelPadding=6,
            labelSeparation=8,
            titleColor=INK,
            titleFontSize=TEXT_SIZE,
            titleFontWeight="normal",
            titlePadding=8,
        ),
        # a picture speaks as a whole: its parts are not read out one by one
        mark=alt.MarkConfig(aria=False),
        text=alt.MarkConfig(color=INK, fontSize=TEXT_SIZE),
        title=alt.TitleConfig(
            color=INK, fontSize=TEXT_SIZE, fontWeight="normal", anchor="start"
        ),
    )  # fmt: skip


def tables_of(chart: alt.LayerChart) -> Mapping[str, list[dict[str, Any]]]:
    """Return the rows that a picture draws, by the name of what they draw."""
    tables: Mapping[str, list[dict[str, Any]]] = chart.datasets
    return tables


def specification(chart: alt.LayerChart) -> dict[str, Any]:
    """Return a picture as the plain data it is drawn from, each table where it is first drawn.

    A drawing library parses dates only in rows that stand beside their layer.
    """
    spec = _plain(chart)
    spec["config"] = chart.config.to_dict(validate=False)
    _put_in(spec, dict(chart.datasets))
    return {"$schema": alt.SCHEMA_URL, **spec}


def _plain(chart: Any) -> dict[str, Any]:
    """Return a layer, or layers on top of each other, as plain data.

    Written out layer by layer, for the reason given at ``layered``.
    """
    if not hasattr(chart, "layer"):
        spec: dict[str, Any] = chart.to_dict(validate=False, context=_INSIDE)
        return spec
    kept = {name: getattr(chart, name) for name in ("width", "height", "background", "padding")}
    spec = {name: value for name, value in kept.items() if value is not alt.Undefined}
    if chart.resolve is not alt.Undefined:
        spec["resolve"] = chart.resolve.to_dict()
    return {**spec, "layer": [_plain(layer) for layer in chart.layer]}


_INSIDE = {"top_level": False}


def _put_in(spec: dict[str, Any], tables: dict[str, Any]) -> None:
    data = spec.get("data")
    if data is not None and data["name"] in tables:
        data["values"] = tables.pop(data["name"])
    for layer in spec.get("layer", ()):
        _put_in(layer, tables)


def density(draws: Floats, grid: Floats) -> Floats:
    """Return a Gaussian kernel density of ``draws`` on ``grid``, Silverman's (1986) bandwidth."""
    q25, q75 = np.quantile(draws, [0.25, 0.75])
    spread = min(float(draws.std()), float(q75 - q25) / 1.349) or float(draws.std())
    if spread == 0:
        spread = float(grid[-1] - grid[0]) / 100 or 1.0
    width = 0.9 * spread * draws.size**-0.2
    heights = np.exp(-0.5 * ((grid[:, None] - draws[None, :]) / width) ** 2).sum(axis=1)
    return np.asarray(heights / (draws.size * width * np.sqrt(2 * np.pi)), dtype=np.float64)


def common_grid(several: Sequence[Floats], points: int = 160) -> Floats:
    """Return evenly spaced places that hold all but the outermost draws of every set."""
    low = min(float(np.quantile(d, 0.002)) for d in several)
    high = max(float(np.quantile(d, 0.998)) for d in several)
    margin = 0.08 * (high - low) or 1.0
    return np.linspace(low - margin, high + margin, points)


def along(y: alt.Y, field: str) -> alt.Y:
    """Return an upright axis with another field of numbers along it."""
    other = y.copy(deep=False)
    other.shorthand = f"{field}:Q"
    return other
