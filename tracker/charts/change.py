"""How a change is drawn: the tendency before and after, then the change over the zone too small."""

from dataclasses import dataclass

import altair as alt
import numpy as np

from models.arrays import Floats
from tracker.charts.ink import ACCENT, GREY, Sheet, common_grid, density, layered
from tracker.charts.labels import number_axis

_HEIGHT = 420
_UPPER, _LOWER = (0.0, 0.40), (0.60, 1.0)
"""Which part of the height each of the two pictures takes, from the top."""


@dataclass(frozen=True, eq=False, slots=True)
class ChangePicture:
    """Draws of the tendency before and after and of their difference, in the shown unit."""

    label: str
    unit: str
    before: Floats
    after: Floats
    change: Floats
    worthwhile: float


def change_chart(picture: ChangePicture) -> alt.LayerChart:
    """Return the two tendencies above the change; the grey zone is too small to matter."""
    sheet = Sheet()
    upper, lower = _tendencies(sheet, picture), _change(sheet, picture)
    both = layered(upper, lower, apart=("x", "y"))
    return sheet.framed(both, height=_HEIGHT)


def _tendencies(sheet: Sheet, picture: ChangePicture) -> alt.LayerChart:
    grid = common_grid([picture.before, picture.after])
    lift = f"-{1 - _UPPER[1]:.2f} * height"
    x = number_axis(
        "level", f"{picture.label} ({picture.unit})", offset=alt.ExprRef(lift), grid=False
    )
    layers = []
    for name, draws, ink, dash in (
        ("before", picture.before, GREY, [5, 3]),
        ("after", picture.after, ACCENT, [1, 0]),
    ):
        heights = density(draws, grid)
        curve = sheet.drawn(name, _rows("level", grid, heights))
        layers.append(_area(curve, x, _part(_UPPER), ink, dash))
        top = int(heights.argmax())
        word = sheet.drawn(
            f"_{name}", [{"level": float(grid[top]), "likely": float(heights[top]), "_text": name}]
        )
        layers.append(
            word.mark_text(baseline="bottom", dy=-3).encode(x=x, y=_part(_UPPER), text="_text:N")
        )
    return layered(*layers)


def _change(sheet: Sheet, picture: ChangePicture) -> alt.LayerChart:
    zone = picture.worthwhile
    grid = common_grid([picture.change, np.array([-1.3 * zone, 1.3 * zone])])
    heights = density(picture.change, grid)
    x = number_axis("change", f"change in {picture.label} ({picture.unit})", grid=False)
    y, top = _part(_LOWER), float(heights.max())
    small = {"change": -zone, "_to": zone, "likely": 0.0, "_top": top}
    rect = sheet.drawn("too small to matter", [{"change": -zone}, {"change": zone}])
    word = {"change": 0.0, "likely": top, "_text": "grey: too small to matter"}
    return layered(
        rect.mark_rule(opacity=0).encode(x=x),
        sheet.drawn("_zone", [small]).mark_rect(color=GREY, opacity=0.22).encode(
            x=x, x2="_to", y=y, y2="_top"
        ),
        _area(sheet.drawn("change", _rows("change", grid, heights)), x, y, ACCENT, [1, 0]),
        sheet.drawn("_none", [{"change": 0.0, "likely": 0.0, "_top": top}])
        .mark_rule(color=GREY)
        .encode(x=x, y=y, y2="_top"),
        sheet.drawn("_word", [word]).mark_text(baseline="bottom", dy=-4).encode(
            x=x, y=y, text="_text:N"
        ),
    )  # fmt: skip


def _area(layer: alt.Chart, x: alt.X, y: alt.Y, ink: str, dash: list[int]) -> alt.Chart:
    line = {"color": ink, "strokeWidth": 2, "strokeDash": dash}
    area: alt.Chart = layer.mark_area(color=ink, fillOpacity=0.3, line=line)
    return area.encode(x=x, y=y)


def _part(share: tuple[float, float]) -> alt.Y:
    ends = [alt.ExprRef(f"{share[1]} * height"), alt.ExprRef(f"{share[0]} * height")]
    scale = alt.Scale(range=ends, nice=False, zero=True)
    return alt.Y("likely:Q", scale=scale, axis=None, stack=None)


def _rows(field: str, grid: Floats, heights: Floats) -> list[dict[str, float]]:
    return [
        {field: round(float(g), 4), "likely": round(float(h), 6)}
        for g, h in zip(grid, heights, strict=True)
    ]
