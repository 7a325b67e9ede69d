"""How a squad is drawn: every level with its interval, beside the interval of its rank."""

from collections.abc import Sequence
from dataclasses import dataclass

import plotly.graph_objects as go
from plotly.subplots import make_subplots

from tracker.charts.ink import ACCENT, GREY, accent, framed, grey
from tracker.interval import Interval


@dataclass(frozen=True, slots=True)
class RankRow:
    """One player: level in the shown unit, 50 % ends of it, expected rank and its 90 % ends."""

    player: str
    level: Interval
    half: tuple[float, float] | None
    expected_rank: float
    rank90: tuple[int, int]


def rank_figure(
    rows: Sequence[RankRow], label: str, positive: str, first: str = "best"
) -> go.Figure:
    """Return levels on the left and rank intervals on the right, first row on top.

    ``first`` is what the first place means.
    """
    unit = rows[0].level.unit if rows else ""
    figure = make_subplots(
        rows=1, cols=2, shared_yaxes=True, column_widths=[0.62, 0.38], horizontal_spacing=0.04
    )
    for place, row in enumerate(rows):
        _level(figure, row, place)
        _rank(figure, row, place)
    framed(figure, height=140 + 30 * max(len(rows), 3), legend=False)
    figure.update_yaxes(range=[len(rows) - 0.4, -0.6], showgrid=False)
    figure.update_yaxes(
        tickvals=list(range(len(rows))), ticktext=[r.player for r in rows], row=1, col=1,
        title_text="player",
    )  # fmt: skip
    figure.update_xaxes(title_text=f"{label}<br>({unit}, + {positive})", row=1, col=1)
    figure.update_xaxes(
        title_text=f"place of {len(rows)}<br>(1 = {first})", row=1, col=2,
        range=[0.3, len(rows) + 0.7],
        tick0=1,
        dtick=max(1, round(len(rows) / 5)),
    )  # fmt: skip
    return figure


def _level(figure: go.Figure, row: RankRow, place: int) -> None:
    level, once = row.level, place == 0
    hover = (
        f"{row.player}: {level.median:.1f} {level.unit}, "
        f"90 % sure between {level.low90:.1f} and {level.high90:.1f}<extra></extra>"
    )
    figure.add_scatter(
        x=[level.low90, level.high90], y=[place, place], mode="lines", name="90 % sure",
        line={"color": ACCENT, "width": 2.5}, hovertemplate=hover,
        legendgroup="most", showlegend=once, row=1, col=1,
    )  # fmt: skip
    if row.half is not None:
        figure.add_scatter(
            x=list(row.half), y=[place, place], mode="lines", name="50 % sure",
            line={"color": ACCENT, "width": 8}, hovertemplate=hover,
            legendgroup="half", showlegend=once, row=1, col=1,
        )  # fmt: skip
    figure.add_scatter(
        x=[level.median], y=[place], mode="markers", name=row.player, showlegend=False,
        marker={"color": "white", "size": 7, "line": {"color": ACCENT, "width": 2}},
        hovertemplate=hover, row=1, col=1,
    )  # fmt: skip


def _rank(figure: go.Figure, row: RankRow, place: int) -> None:
    low, high = row.rank90
    hover = f"{row.player}: 90 % sure between place {low} and {high}<extra></extra>"
    figure.add_scatter(
        x=[low, high], y=[place, place], mode="lines", name="place, 90 % sure",
        line={"color": grey(0.8), "width": 4}, hovertemplate=hover,
        legendgroup="rank", showlegend=place == 0, row=1, col=2,
    )  # fmt: skip
    figure.add_scatter(
        x=[row.expected_rank], y=[place], mode="markers", showlegend=False, name=row.player,
        marker={"color": accent(0), "size": 7, "line": {"color": GREY, "width": 1.5}},
        hovertemplate=hover, row=1, col=2,
    )  # fmt: skip
