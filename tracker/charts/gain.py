"""How what each lever gains is drawn: thick 50 %, thin 90 %, the trait all the way below."""

from collections.abc import Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

from tracker.charts.ink import ACCENT, GREY, accent, framed, grey
from tracker.interval import Interval
from tracker.units import plain_zero

_FULL_FIX_OFFSET = 0.26


@dataclass(frozen=True, slots=True)
class GainRow:
    """One lever: what it and its trait all the way at the target are worth, in the shown unit.

    ``half`` holds the ends of the 50 % interval of the lever; None leaves it out.
    ``chance`` is how often this lever is the best choice, in words.
    """

    label: str
    gain: Interval
    full_fix: Interval
    half: tuple[float, float] | None = None
    chance: str = ""


def gain_figure(rows: Sequence[GainRow]) -> go.Figure:
    """Return the gain intervals, first row on top."""
    figure = go.Figure()
    unit = rows[0].gain.unit if rows else ""
    for place, row in enumerate(rows):
        _bar(figure, row, place)
    figure.add_vline(x=0, line={"color": GREY, "width": 1})
    figure.update_yaxes(
        tickvals=list(range(len(rows))),
        ticktext=[_name(row) for row in rows],
        range=[len(rows) - 0.3, -0.6],
        showgrid=False,
    )
    figure.update_xaxes(title_text=f"gained ({unit})")
    framed(figure, height=90 + 66 * max(len(rows), 2), legend=False)
    figure.update_yaxes(title_text="lever")
    return figure


def _name(row: GainRow) -> str:
    """Return the lever over how often it is the best choice."""
    if not row.chance:
        return row.label
    return f"{row.label}<br><span style='font-size:12px'>{row.chance}</span>"


def _bar(figure: go.Figure, row: GainRow, place: int) -> None:
    gain, full = row.gain, row.full_fix
    hover = (
        f"{row.label}: {gain.median:.1f} {gain.unit}, "
        f"90 % sure between {gain.low90:.1f} and {gain.high90:.1f}<extra></extra>"
    )
    once = place == 0
    median = plain_zero(f"{gain.median:.0f}")
    figure.add_scatter(
        x=[gain.low90, gain.high90], y=[place, place], mode="lines", hovertemplate=hover,
        line={"color": ACCENT, "width": 2.5}, name="the lever, 90 %",
    )  # fmt: skip
    if row.half is not None:
        figure.add_scatter(
            x=list(row.half), y=[place, place], mode="lines", hovertemplate=hover,
            line={"color": ACCENT, "width": 11}, name="the same, 50 %",
        )  # fmt: skip
    figure.add_scatter(
        x=[gain.median], y=[place], mode="markers+text", hovertemplate=hover,
        marker={"color": "white", "size": 8, "line": {"color": ACCENT, "width": 2}},
        text=[f"{median} {gain.unit}"], textposition="top center", name=row.label,
        cliponaxis=False,
    )  # fmt: skip
    lower = place + _FULL_FIX_OFFSET
    hover_full = (
        f"{row.label}, trait all the way: {full.median:.1f} {full.unit}, "
        f"90 % sure between {full.low90:.1f} and {full.high90:.1f}<extra></extra>"
    )
    figure.add_scatter(
        x=[full.low90, full.median, full.high90], y=[lower] * 3,
        mode="lines+markers+text" if once else "lines+markers",
        text=["", "all the way", ""], textposition="bottom center", cliponaxis=False,
        line={"color": grey(0.75), "width": 1.5}, hovertemplate=hover_full,
        marker={"color": accent(0), "size": [0, 7, 0], "line": {"color": GREY, "width": 1.5}},
        name="trait all the way, 90 %",
    )  # fmt: skip
