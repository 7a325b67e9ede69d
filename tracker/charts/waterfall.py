"""How the parts of a carry difference are drawn: steps from nothing to the whole, 90 % each."""

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import plotly.graph_objects as go

from tracker.charts.ink import ACCENT, GREY, accent, framed, grey
from tracker.interval import Interval
from tracker.units import plain_zero

_THICK = 0.5
"""Height of a bar as a share of its row."""
_ROW_PIXELS = 48
_LABEL_WIDTH = 16
"""Letters of a label in one line, so that a phone keeps room for the bars."""


@dataclass(frozen=True, slots=True)
class Step:
    """One part of a difference in the shown unit; not ``explained`` is what the physics misses."""

    label: str
    part: Interval
    explained: bool = True


@dataclass(frozen=True, slots=True)
class Waterfall:
    """The parts, first on top, and the whole difference."""

    steps: tuple[Step, ...]
    whole: Step

    @property
    def starts(self) -> tuple[float, ...]:
        """Return where each part's bar starts: at the end of the one above, the first at 0."""
        starts = [0.0]
        for step in self.steps[:-1]:
            starts.append(starts[-1] + step.part.median)
        return tuple(starts)


def waterfall_figure(waterfall: Waterfall) -> go.Figure:
    """Return the steps top to bottom; solid goes longer, hollow shorter, hatched is unexplained."""
    figure = go.Figure()
    steps = [*waterfall.steps, waterfall.whole]
    starts = [*waterfall.starts, 0.0]
    last = len(steps) - 1
    for place, (step, start) in enumerate(zip(steps, starts, strict=True)):
        _bar(figure, step, start, place, whole=place == last)
        if place < last:
            _link(figure, start + step.part.median, place)
    figure.add_vline(x=0, line={"color": GREY, "width": 1})
    figure.add_hline(y=last - 0.5, line={"color": GREY, "width": 1, "dash": "dot"})
    figure.update_xaxes(title_text=f"carry ({waterfall.whole.part.unit})", range=_reach(waterfall))
    framed(figure, height=86 + _ROW_PIXELS * len(steps), legend=False)
    figure.update_yaxes(
        tickvals=list(range(len(steps))),
        ticktext=["<br>".join(wrap(step.label, _LABEL_WIDTH)) for step in steps],
        range=[last + 0.6, -0.7],
        showgrid=False,
    )
    figure.update_layout(barmode="overlay", bargap=0)
    return figure


def _bar(figure: go.Figure, step: Step, start: float, place: int, *, whole: bool) -> None:
    part = step.part
    ink = ACCENT if step.explained else GREY
    fill = accent(0.85) if step.explained else grey(0.15)
    if part.median < 0 and step.explained:
        fill = accent(0.0 if not whole else 0.08)
    figure.add_bar(
        x=[part.median], y=[place], base=[start], orientation="h", width=_THICK, name=step.label,
        marker={
            "color": fill,
            "line": {"color": ink, "width": 2},
            "pattern": {"shape": "" if step.explained else "/", "fgcolor": GREY, "size": 7},
        },
        hovertemplate=_hover(step),
    )  # fmt: skip
    low, high = start + part.low90, start + part.high90
    figure.add_scatter(
        x=[low, high], y=[place + 0.36] * 2, mode="lines+markers", name=f"{step.label}, 90 % sure",
        line={"color": GREY, "width": 1.5}, hovertemplate=_hover(step),
        marker={"symbol": "line-ns", "size": 8, "line": {"color": GREY, "width": 1.5}},
    )  # fmt: skip
    figure.add_scatter(
        x=[max(high, start, start + part.median)], y=[place], mode="text", hoverinfo="skip",
        text=[f"  {_signed(part.median, 1 if abs(part.median) < 3 else 0)} {part.unit}"],
        textposition="middle right", cliponaxis=False, name=f"{step.label}, in words",
    )  # fmt: skip


def _link(figure: go.Figure, x: float, place: int) -> None:
    figure.add_scatter(
        x=[x, x], y=[place + _THICK / 2, place + 1 - _THICK / 2], mode="lines", hoverinfo="skip",
        line={"color": grey(0.7), "width": 1}, name="then",
    )  # fmt: skip


def _hover(step: Step) -> str:
    part, places = step.part, _decimals(step.part)
    low, high = (_signed(v, places) for v in (part.low90, part.high90))
    return (
        f"{step.label}: {_signed(part.median, places)} {part.unit}, "
        f"90 % sure between {low} and {high}<extra></extra>"
    )


def _reach(waterfall: Waterfall) -> list[float]:
    """Return the ends of the axis: every bar and interval inside, room for words on the right."""
    pairs = zip((*waterfall.steps, waterfall.whole), (*waterfall.starts, 0.0), strict=True)
    ends = [0.0]
    for step, start in pairs:
        ends += [start + v for v in (step.part.low90, step.part.median, step.part.high90)]
        ends.append(start)
    low, high = min(ends), max(ends)
    room = (high - low) or 1.0
    return [low - 0.06 * room, high + 0.22 * room]


def _decimals(part: Interval) -> int:
    return 1 if max(abs(part.low90), abs(part.high90)) < 3 else 0


def _signed(value: float, decimals: int) -> str:
    return plain_zero(f"{value:+.{decimals}f}")


def in_words(waterfall: Waterfall) -> str:
    """Return the steps as a sentence for those who cannot see the picture."""
    steps: Sequence[Step] = (*waterfall.steps, waterfall.whole)
    parts = []
    for step in steps:
        places = _decimals(step.part)
        median, low, high = (
            _signed(v, places) for v in (step.part.median, step.part.low90, step.part.high90)
        )
        parts.append(f"{step.label} {median} {step.part.unit} (90 % sure between {low} and {high})")
    return "; ".join(parts) + "."
