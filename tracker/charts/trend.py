"""How a level over time is drawn: bands, session means, changes and the two windows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import plotly.graph_objects as go

from tracker.charts.ink import ACCENT, GREY, accent, framed, grey
from tracker.interval import Z90


@dataclass(frozen=True, slots=True)
class LevelPoint:
    """The level at one session: median, 50 % and 90 % interval, in the shown unit."""

    when: datetime
    median: float
    half: tuple[float, float]
    most: tuple[float, float]


@dataclass(frozen=True, slots=True)
class RawPoint:
    """The raw mean of one session with its standard error, in the shown unit."""

    when: datetime
    mean: float
    standard_error: float
    shots: int


@dataclass(frozen=True, slots=True)
class Marked:
    """A logged change to mark on the time axis."""

    start: date
    name: str


@dataclass(frozen=True, slots=True)
class Span:
    """A window to shade, named."""

    start: date
    end: date
    name: str


@dataclass(frozen=True, slots=True)
class Trend:
    """Everything one trend picture shows, in the shown unit."""

    label: str
    unit: str
    positive: str
    level: tuple[LevelPoint, ...]
    raw: tuple[RawPoint, ...]
    changes: tuple[Marked, ...]
    windows: tuple[Span, ...]
    unlogged: Span | None = None
    """Between which days something changed that nobody logged."""


def trend_figure(trend: Trend) -> go.Figure:
    """Return the level over time with what was read behind it."""
    figure = go.Figure()
    _windows(figure, trend.windows)
    _band(figure, trend.level, most=True)
    _band(figure, trend.level, most=False)
    figure.add_scatter(
        x=[p.when for p in trend.level], y=[p.median for p in trend.level], mode="lines",
        name="tendency", line={"color": ACCENT, "width": 2.5},
        hovertemplate=f"%{{x|%d %b %Y}}: %{{y:.1f}} {trend.unit}<extra>tendency</extra>",
    )  # fmt: skip
    figure.add_scatter(
        x=[p.when for p in trend.raw], y=[p.mean for p in trend.raw], mode="markers",
        name="session average as read, 90 % sure",
        error_y={"array": [Z90 * p.standard_error for p in trend.raw], "color": grey(0.7),
                 "thickness": 1.2, "width": 3},
        marker={"color": GREY, "size": 6}, customdata=[p.shots for p in trend.raw],
        hovertemplate=(
            f"%{{x|%d %b %Y}}: %{{y:.1f}} {trend.unit}, "
            "%{customdata} shots<extra>as read</extra>"
        ),
    )  # fmt: skip
    _changes(figure, trend.changes)
    if trend.unlogged is not None:
        _unlogged(figure, trend.unlogged)
    # on one line: a year on a second one would run into the legend
    figure.update_xaxes(title_text="date", tickformat="%d %b %y", nticks=5, tickangle=0)
    figure.update_yaxes(title_text=f"{trend.label} ({trend.unit}, + {trend.positive})")
    return framed(figure, height=430)


def _band(figure: go.Figure, level: Sequence[LevelPoint], *, most: bool) -> None:
    ends = [p.most if most else p.half for p in level]
    when = [p.when for p in level]
    figure.add_scatter(
        x=when + when[::-1],
        y=[high for _, high in ends] + [low for low, _ in ends][::-1],
        mode="lines",
        fill="toself",
        line={"width": 0, "color": accent(0)},
        fillcolor=accent(0.16 if most else 0.28),
        hoverinfo="skip",
        name="90 % sure" if most else "50 % sure",
    )


def _windows(figure: go.Figure, windows: Sequence[Span]) -> None:
    for window in windows:
        figure.add_vrect(
            x0=_midnight(window.start),
            x1=_midnight(window.end) + timedelta(days=1),
            fillcolor=grey(0.10),
            line_width=0,
            layer="below",
            annotation_text=window.name,
            annotation_position="bottom left",
        )


def _unlogged(figure: go.Figure, span: Span) -> None:
    """Draw a dotted frame over the days among which the change lies."""
    figure.add_vrect(
        x0=_midnight(span.start),
        x1=_midnight(span.end) + timedelta(days=1),
        fillcolor=accent(0.08),
        line={"color": ACCENT, "width": 1.5, "dash": "dot"},
        layer="below",
        annotation_text=span.name,
        annotation_position="top left",
    )


def _changes(figure: go.Figure, changes: Sequence[Marked]) -> None:
    for place, change in enumerate(sorted(changes, key=lambda c: c.start)):
        when = _midnight(change.start)
        figure.add_shape(
            type="line", x0=when, x1=when, y0=0, y1=1, xref="x", yref="paper",
            line={"color": GREY, "width": 1.5, "dash": "dash"},
        )  # fmt: skip
        figure.add_annotation(
            x=when, y=1.0 - 0.07 * (place % 3), xref="x", yref="paper", text=change.name,
            showarrow=False, xanchor="left", yanchor="bottom", xshift=4,
        )  # fmt: skip


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day)
