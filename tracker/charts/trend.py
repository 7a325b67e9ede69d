"""How a level over time is drawn: bands, session means, changes and the two windows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from textwrap import shorten
from typing import Any, Literal

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet, along
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
    target: tuple[float, float] | None = None
    """The player's own target window; None for a trait without one."""


_HEIGHT = 320
_LINE_PIXELS = 16
"""Height of one line of words above the picture, where no dot can be."""


def trend_chart(trend: Trend) -> alt.LayerChart:
    """Return the level over time with what was read behind it; every word stands above."""
    sheet = Sheet()
    x = alt.X("day:T", title=None, axis=alt.Axis(format="%d %b %y", tickCount=5, grid=False))
    title = f"{trend.label} ({trend.unit}, + {trend.positive})"
    y = alt.Y("level:Q", title=title, scale=alt.Scale(zero=False), axis=alt.Axis(tickCount=6))
    first, last = _ends(trend)
    words = _PlacedWords(x, first, last)
    layers: list[alt.Chart] = []
    for window in trend.windows:
        layers.append(_column(sheet, window, x, color=GREY, opacity=0.13))
        words.between(window, line=0)
    if trend.target is not None:
        layers += _target(sheet, trend.target, x, y, first, last)
    if trend.unlogged is not None:
        frame = {"fill": ACCENT, "fillOpacity": 0.08, "stroke": ACCENT, "strokeDash": [2, 3]}
        layers.append(_column(sheet, trend.unlogged, x, strokeWidth=1.5, **frame))
        words.between(trend.unlogged, line=1)
    layers += _level(sheet, trend, x, y)
    line = 1 if trend.unlogged is None else 2
    changes = sorted(trend.changes, key=lambda c: c.start)
    layers.append(_changes(sheet, changes, x))
    for place, change in enumerate(changes):
        words.at(change, line=line + place % 3)
    return sheet.framed(*layers, *words.layers(sheet), height=_HEIGHT)


def _level(sheet: Sheet, trend: Trend, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    level = sheet.drawn("tendency", [_level_row(p, trend.unit) for p in trend.level])
    raw = sheet.drawn("session average as read", [_raw_row(p, trend.unit) for p in trend.raw])
    tip = [alt.Tooltip("day:T", format="%d %b %Y"), alt.Tooltip("level:Q", format=".1f")]
    bands = [
        level.mark_area(color=ACCENT, opacity=opacity).encode(x=x, y=along(y, low), y2=alt.Y2(high))
        for opacity, low, high in ((0.18, "low90", "high90"), (0.3, "low50", "high50"))
    ]
    return [
        *bands,
        level.mark_line(color=ACCENT, strokeWidth=2.5).encode(x=x, y=y),
        raw.mark_rule(color=GREY, strokeWidth=1.2).encode(
            x=x, y=along(y, "low90"), y2=alt.Y2("high90")
        ),
        raw.mark_circle(color=GREY, size=34, opacity=1).encode(
            x=x, y=y, tooltip=[*tip, "shots:Q"]
        ),
    ]  # fmt: skip


def _level_row(point: LevelPoint, unit: str) -> Row:
    return {
        "day": point.when.isoformat(),
        "level": point.median,
        "low90": point.most[0],
        "high90": point.most[1],
        "low50": point.half[0],
        "high50": point.half[1],
        "unit": unit,
    }


def _raw_row(point: RawPoint, unit: str) -> Row:
    return {
        "day": point.when.isoformat(),
        "level": point.mean,
        "low90": point.mean - Z90 * point.standard_error,
        "high90": point.mean + Z90 * point.standard_error,
        "unit": unit,
        "shots": point.shots,
    }


def _target(
    sheet: Sheet, target: tuple[float, float], x: alt.X, y: alt.Y, first: datetime, last: datetime
) -> list[alt.Chart]:
    """Return the target as a frame over the whole time, and its name beside it on the right."""
    low, high = target
    rows = [{"low": low, "high": high, "_from": first.isoformat(), "_to": last.isoformat()}]
    frame = sheet.drawn("target", rows).mark_rect(
        fill=ACCENT, fillOpacity=0.07, stroke=ACCENT, strokeWidth=1.5, strokeDash=[7, 4]
    )
    start = x.copy(deep=False)
    start.shorthand = "_from:T"
    word = [{"_from": last.isoformat(), "_middle": (low + high) / 2, "_text": "target"}]
    return [
        frame.encode(x=start, x2="_to", y=along(y, "low"), y2="high"),
        sheet.drawn("_target", word)
        .mark_text(align="left", dx=5)
        .encode(x=start, y=along(y, "_middle"), text="_text:N"),
    ]


def _column(sheet: Sheet, span: Span, x: alt.X, **mark: Any) -> alt.Chart:
    start, end = _midnight(span.start), _midnight(span.end) + timedelta(days=1)
    rows = [{"day": start.isoformat(), "_to": end.isoformat()}]
    column: alt.Chart = sheet.drawn(span.name, rows).mark_rect(**mark)
    return column.encode(x=x, x2="_to")


def _changes(sheet: Sheet, changes: Sequence[Marked], x: alt.X) -> alt.Chart:
    rows = [{"day": _midnight(c.start).isoformat(), "name": c.name} for c in changes]
    rule: alt.Chart = sheet.drawn("logged changes", rows).mark_rule(color=GREY, strokeDash=[6, 4])
    return rule.encode(x=x)


_Side = Literal["left", "center", "right"]


class _PlacedWords:
    """The words above a picture of time, each on its line, kept inside from left to right."""

    def __init__(self, x: alt.X, first: datetime, last: datetime) -> None:
        self._x, self._first, self._last = x, first, last
        self._placed: dict[tuple[int, _Side], list[Row]] = {}

    def between(self, span: Span, line: int) -> None:
        """Put a span's name over its middle."""
        start, end = _midnight(span.start), _midnight(span.end) + timedelta(days=1)
        self._put(start + (end - start) / 2, span.name, line, "center")

    def at(self, change: Marked, line: int) -> None:
        """Put a change's name at its line, toward the side where there is room."""
        when = _midnight(change.start)
        late = when - self._first > (self._last - self._first) * 0.55
        self._put(when, change.name, line, "right" if late else "left")

    def _put(self, when: datetime, text: str, line: int, align: _Side) -> None:
        row = {"day": when.isoformat(), "_text": shorten(text, 40, placeholder=" …")}
        self._placed.setdefault((line, align), []).append(row)

    def layers(self, sheet: Sheet) -> list[alt.Chart]:
        """Return the layers that write the words."""
        return [
            sheet.drawn(f"_words {line} {align}", rows)
            .mark_text(align=align, baseline="bottom", dy=-4 - _LINE_PIXELS * line)
            .encode(x=self._x, y=alt.value(0), text="_text:N")
            for (line, align), rows in self._placed.items()
        ]


def _ends(trend: Trend) -> tuple[datetime, datetime]:
    """Return the first and the last moment that is drawn."""
    days = [p.when for p in trend.level] + [p.when for p in trend.raw]
    days += [_midnight(c.start) for c in trend.changes]
    spans = [s for s in (*trend.windows, trend.unlogged) if s is not None]
    days += [_midnight(s.start) for s in spans]
    days += [_midnight(s.end) + timedelta(days=1) for s in spans]
    return min(days), max(days)


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day)
