"""How the levels of several players over a season are drawn: one strip each, on one scale."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet, along, layered
from tracker.charts.labels import in_lines, named_axis
from tracker.charts.trend import LevelPoint, Marked, Span
from tracker.units import Display, plain_zero, value_text

TITLE_PIXELS = 150
"""Least height of all strips together: the name of what is drawn stands along them."""
STRIP_PIXELS = 62
_INSIDE = 0.84
"""Share of a strip's height that the scale takes; the rest keeps strips apart."""
_ROOM = 0.16
"""Share of the season's length kept free on the right for the level now."""


@dataclass(frozen=True, slots=True)
class Strip:
    """One player's level over the season, in the shown unit."""

    player: str
    level: tuple[LevelPoint, ...]
    """One a session, the oldest first; one at least."""
    target: tuple[float, float] | None
    """The player's own target window; None for a trait without one."""
    logged: tuple[Marked, ...]
    found: Span | None
    """Between which days something changed that nobody logged."""


@dataclass(frozen=True, slots=True)
class Strips:
    """Everything one picture of strips shows."""

    label: str
    unit: str
    positive: str
    rows: tuple[Strip, ...]

    @property
    def reach(self) -> tuple[float, float]:
        """Return the lowest and the highest value of the scale that all strips share."""
        ends = [end for row in self.rows for point in row.level for end in point.most]
        ends += [end for row in self.rows for end in row.target or ()]
        return min(ends), max(ends)


def strips_chart(strips: Strips) -> alt.LayerChart:
    """Return the strips, the first on top; ``strips`` holds one at least."""
    sheet, place = Sheet(), _Places(strips)
    begin = min(row.level[0].when for row in strips.rows)
    last = max(row.level[-1].when for row in strips.rows)
    end = last + max((last - begin) * _ROOM, timedelta(days=1))
    scale = alt.Scale(domain=[begin.isoformat(), end.isoformat()])
    axis = alt.Axis(format="%d %b %y", tickCount=4, grid=False)
    x = alt.X("day:T", title=None, axis=axis, scale=scale)
    heights = alt.Scale(domain=[0, len(strips.rows)], nice=False)
    y = alt.Y("_y:Q", axis=None, scale=heights)
    drawn = layered(*_layers(sheet, strips, place, x, y, (begin, last)))
    title = [strips.label, f"({strips.unit}, + {strips.positive})"]
    names = [in_lines(row.player) for row in strips.rows]
    both = layered(drawn, _names(sheet, strips, x, names, title, last), apart=("y",))
    return sheet.framed(both, height=max(STRIP_PIXELS * len(strips.rows), TITLE_PIXELS))


def strips_text(strips: Strips) -> str:
    """Return the picture as a sentence for those who cannot see it."""
    return "; ".join(_words(row, strips.unit) for row in strips.rows) + "."


class _Places:
    """Where a value of a player stands among the strips: strips from 0 below to their number."""

    def __init__(self, strips: Strips) -> None:
        low, high = strips.reach
        self._low, self._span = low, (high - low) or 1.0
        self._top = len(strips.rows) - 1

    def of(self, strip: int, value: float) -> float:
        """Return the place of a value in a strip, the first strip being the highest."""
        inside = min(max((value - self._low) / self._span, 0.0), 1.0)
        return self._top - strip + (1 - _INSIDE) / 2 + _INSIDE * inside

    def ends(self, strip: int) -> tuple[float, float]:
        """Return the lower and the upper end of a strip's scale."""
        return self.of(strip, self._low), self.of(strip, self._low + self._span)


def _layers(
    sheet: Sheet,
    strips: Strips,
    place: _Places,
    x: alt.X,
    y: alt.Y,
    season: tuple[datetime, datetime],
) -> list[alt.Chart]:
    numbered = list(enumerate(strips.rows))
    over, under = alt.Y2("_to_y"), along(y, "_from_y")
    frames = sheet.drawn("_strips", [_frame(place, i, season) for i, _ in numbered])
    targets = [_target(place, i, row, season) for i, row in numbered if row.target is not None]
    found = [_span(place, i, row, row.found) for i, row in numbered if row.found is not None]
    logged = [_logged(place, i, row, one) for i, row in numbered for one in row.logged]
    points = [_point(place, i, row, p, strips.unit) for i, row in numbered for p in row.level]
    level = sheet.drawn("tendency", points)
    return [
        frames.mark_rect(fill=GREY, fillOpacity=0.07).encode(x=x, x2="_to", y=under, y2=over),
        sheet.drawn("target", targets)
        .mark_rect(fill=ACCENT, fillOpacity=0.1, stroke=ACCENT, strokeDash=[7, 4])
        .encode(x=x, x2="_to", y=under, y2=over),
        sheet.drawn("change not logged", found)
        .mark_rect(fill=ACCENT, fillOpacity=0.14, stroke=ACCENT, strokeDash=[2, 3])
        .encode(x=x, x2="_to", y=under, y2=over, tooltip=["player:N", "what:N"]),
        sheet.drawn("logged change", logged)
        .mark_rule(color=GREY, strokeWidth=2)
        .encode(x=x, y=under, y2=over, tooltip=["player:N", "name:N"]),
        level.mark_area(color=ACCENT, opacity=0.25).encode(
            x=x, y=under, y2=over, detail="player:N"
        ),
        level.mark_line(color=ACCENT, strokeWidth=2).encode(x=x, y=y, detail="player:N"),
        level.mark_circle(color=ACCENT, size=22, opacity=1).encode(
            x=x,
            y=y,
            tooltip=[
                "player:N",
                alt.Tooltip("day:T", format="%d %b %Y"),
                alt.Tooltip("level:Q", format=".1f"),
                "unit:N",
            ],
        ),
    ]  # fmt: skip


def _names(
    sheet: Sheet, strips: Strips, x: alt.X, names: Sequence[str], title: list[str], last: datetime
) -> alt.Chart:
    """Return the players' names on the left and the level now on the right of each strip."""
    how = Display(strips.unit, 1.0, 1)
    rows = [
        {
            "day": last.isoformat(),
            "_name": name,
            "_now": value_text(row.level[-1].median, how, signed=True),
        }
        for name, row in zip(names, strips.rows, strict=True)
    ]
    y = named_axis(names, title).scale(domain=list(names), type="band", padding=0)
    text: alt.Chart = sheet.drawn("_now", rows).mark_text(align="left", dx=8)
    return text.encode(x=x, y=y, text="_now:N")


def _frame(place: _Places, strip: int, season: tuple[datetime, datetime]) -> Row:
    low, high = place.ends(strip)
    begin, last = season
    return {"day": begin.isoformat(), "_to": last.isoformat(), "_from_y": low, "_to_y": high}


def _target(place: _Places, strip: int, row: Strip, season: tuple[datetime, datetime]) -> Row:
    low, high = row.target or (0.0, 0.0)
    begin, last = season
    return {
        "player": row.player,
        "target_low": low,
        "target_high": high,
        "day": begin.isoformat(),
        "_to": last.isoformat(),
        "_from_y": place.of(strip, low),
        "_to_y": place.of(strip, high),
    }


def _span(place: _Places, strip: int, row: Strip, span: Span) -> Row:
    low, high = place.ends(strip)
    return {
        "player": row.player,
        "what": span.name,
        "day": _midnight(span.start).isoformat(),
        "until": span.end.isoformat(),
        "_to": _midnight(span.end).isoformat(),
        "_from_y": low,
        "_to_y": high,
    }


def _logged(place: _Places, strip: int, row: Strip, change: Marked) -> Row:
    low, high = place.ends(strip)
    return {
        "player": row.player,
        "name": change.name,
        "day": _midnight(change.start).isoformat(),
        "_from_y": low,
        "_to_y": high,
    }


def _point(place: _Places, strip: int, row: Strip, point: LevelPoint, unit: str) -> dict[str, Any]:
    return {
        "player": row.player,
        "day": point.when.isoformat(),
        "level": point.median,
        "low90": point.most[0],
        "high90": point.most[1],
        "unit": unit,
        "_y": place.of(strip, point.median),
        "_from_y": place.of(strip, point.most[0]),
        "_to_y": place.of(strip, point.most[1]),
    }


def _words(row: Strip, unit: str) -> str:
    first, last = row.level[0].median, row.level[-1].median
    words = f"{row.player} from {_number(first)} to {_number(last)} {unit}"
    for change in row.logged:
        words += f", {change.name} on {change.start:%d %b %Y}"
    if row.found is not None:
        words += f", {row.found.name} by {row.found.end:%d %b %Y}"
    return words


def _number(value: float) -> str:
    return plain_zero(f"{value:+.1f}")


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day)
