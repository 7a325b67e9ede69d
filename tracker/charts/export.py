"""A picture as a file: SVG, PNG and the numbers that are drawn, without a browser or a network."""

from textwrap import wrap
from typing import Any

import altair as alt

from tracker.charts.ink import specification, tables_of
from tracker.files.csv_table import safe_csv

PNG_SCALE = 2.0
_LETTERS_PER_LINE = 92


def svg(
    chart: alt.LayerChart,
    caption: str = "",
    *,
    font: str = "",
    size: tuple[int, int] | None = None,
) -> str:
    """Return a picture as SVG; words keep the colour of the text around it.

    ``caption`` is written under the picture; ``font`` and ``size`` (width and height, px) take the
    place of the picture's own.
    """
    import vl_convert  # here, since it takes a tenth of a second to load

    spec = _spec(chart, caption)
    if font:
        spec["config"]["font"] = font
    if size is not None:
        spec["width"], spec["height"] = size
    return str(vl_convert.vegalite_to_svg(spec, allowed_base_urls=[]))


def png(chart: alt.LayerChart, caption: str = "") -> bytes:
    """Return a picture as PNG on white, at twice its size."""
    import vl_convert

    spec = {**_spec(chart, caption), "background": "white"}
    return bytes(vl_convert.vegalite_to_png(spec, scale=PNG_SCALE, allowed_base_urls=[]))


def csv(chart: alt.LayerChart) -> bytes:
    """Return what a picture draws as CSV: one row a point, ``what`` says which part it is of.

    A name that a spreadsheet would run as a formula gets a single quote in front.
    """
    rows: list[dict[str, Any]] = []
    for name, table in tables_of(chart).items():
        for row in () if name.startswith("_") else table:
            held = {k: v for k, v in row.items() if not k.startswith("_")}
            if held:
                rows.append({"what": name, **held})
    columns = list(dict.fromkeys(name for row in rows for name in row))
    return safe_csv(columns, ([_cell(row.get(name)) for name in columns] for row in rows))


def _cell(value: Any) -> str:
    return "" if value is None else str(value)


def _spec(chart: alt.LayerChart, caption: str) -> dict[str, Any]:
    spec = specification(chart)
    if caption:
        spec["title"] = {"text": wrap(caption, _LETTERS_PER_LINE), "orient": "bottom", "offset": 12}
    return spec
