"""How names stand beside a picture: in short lines, first on top, as plain text."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import altair as alt

LINE_PIXELS = 15
LETTERS = 22
"""Letters of a name in one line, so that a phone keeps room for the picture."""


def in_lines(*parts: str) -> str:
    """Return names under each other, each broken into short lines."""
    return "\n".join(line for part in parts if part for line in wrap(part, LETTERS))


def lines_high(names: Sequence[str], least: int) -> int:
    """Return how many pixels a row needs so that no name runs into the next one."""
    return max(least, *(LINE_PIXELS * (name.count("\n") + 1) + 6 for name in names), 0)


def named_axis(names: Sequence[str], title: list[str] | None = None) -> alt.Y:
    """Return the axis of rows that are named by their field ``_name``, first on top."""
    return alt.Y(
        "_name:N",
        title=title,
        scale=alt.Scale(domain=list(names)),
        axis=alt.Axis(labelExpr="split(datum.label, '\\n')", labelLimit=220, grid=False),
    )


def number_axis(field: str, title: str, scale: alt.Scale | None = None, **axis: Any) -> alt.X:
    """Return an axis of numbers along the bottom, with few places named; ``axis`` adds to it."""
    held = {"tickCount": 5, "orient": "bottom", **axis}
    chosen = alt.Undefined if scale is None else scale
    return alt.X(f"{field}:Q", title=title, axis=alt.Axis(**held), scale=chosen)


def along(x: alt.X, field: str) -> alt.X:
    """Return the same axis for another field."""
    other = x.copy(deep=False)
    other.shorthand = f"{field}:Q"
    return other


def at_band(y: alt.Y, position: float) -> alt.Y:
    """Return the same axis of names, at another place of a name's band (0 top, 1 bottom)."""
    return y.bandPosition(position)
