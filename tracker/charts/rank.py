"""How a squad is drawn: every level with its interval, beside the interval of its place."""

from collections.abc import Sequence
from dataclasses import dataclass

import altair as alt

from tracker.charts.ink import ACCENT, GREY, Row, Sheet, layered
from tracker.charts.labels import along, in_lines, lines_high, named_axis, number_axis
from tracker.interval import Interval

_ROW_PIXELS = 30
_LEVELS, _PLACES = (0.0, 0.60), (0.66, 1.0)
"""Which part of the width levels and places take, from the left."""


@dataclass(frozen=True, slots=True)
class RankRow:
    """One player: level in the shown unit, 50 % ends of it, expected rank and its 90 % ends."""

    player: str
    level: Interval
    half: tuple[float, float] | None
    expected_rank: float
    rank90: tuple[int, int]
    target: tuple[float, float] | None = None
    """The player's own target window, in the level's unit; None without one."""


def rank_chart(
    rows: Sequence[RankRow], label: str, positive: str, first: str = "best", *, of: int = 0
) -> alt.LayerChart:
    """Return levels on the left and places on the right, first row on top.

    ``first`` is what the first place means; ``of`` is how many places there are, where not every
    player is pictured.
    """
    sheet = Sheet()
    unit = rows[0].level.unit if rows else ""
    names = [in_lines(row.player) for row in rows]
    y = named_axis(names)
    players = sheet.drawn("players", [_row(row) for row in rows])
    levels = _levels(players, y, f"{label} ({unit}, + {positive})")
    places = _places(players, y, max(of, len(rows)), first)
    both = layered(levels, places, apart=("x",))
    return sheet.framed(both, height=lines_high(names, _ROW_PIXELS) * max(len(rows), 3))


def _levels(players: alt.Chart, y: alt.Y, title: str) -> alt.LayerChart:
    scale = alt.Scale(range=_share(_LEVELS), zero=False, nice=True)
    x = number_axis("level", title, scale, titleLimit=420, tickCount=4)
    tip = ["player:N", *(alt.Tooltip(f"{v}:Q", format=".1f") for v in ("level", "low90", "high90"))]
    thin = {"x": along(x, "low90"), "x2": "high90", "y": y, "tooltip": tip}
    return layered(
        players.mark_bar(
            height=20, fill=GREY, fillOpacity=0.12, stroke=ACCENT, strokeDash=[4, 3]
        ).encode(x=along(x, "target_low"), x2="target_high", y=y),
        players.mark_rule(color=ACCENT, strokeWidth=2.5).encode(**thin),
        players.mark_rule(color=ACCENT, strokeWidth=8).encode(
            x=along(x, "low50"), x2="high50", y=y
        ),
        players.mark_circle(
            fill="white", stroke=ACCENT, strokeWidth=2, size=46, opacity=1
        ).encode(x=x, y=y, tooltip=tip),
    )  # fmt: skip


def _places(players: alt.Chart, y: alt.Y, count: int, first: str) -> alt.LayerChart:
    step = max(1, round(count / 4))
    scale = alt.Scale(range=_share(_PLACES), domain=[0.5, count + 0.5], nice=False)
    shown = list(range(1, count + 1, step))
    x = number_axis("place", f"place (1 = {first})", scale, values=shown, format="d")
    thin = {"x": along(x, "place_low90"), "x2": "place_high90", "y": y}
    # a place that is settled is a line without length: its dot shows it
    return layered(
        players.mark_rule(color=GREY, strokeWidth=4, opacity=0.85).encode(**thin),
        players.mark_circle(
            fill="white", stroke=GREY, strokeWidth=1.5, size=46, opacity=1
        ).encode(x=x, y=y, tooltip=["player:N", "place_low90:Q", "place_high90:Q"]),
    )  # fmt: skip


def _share(share: tuple[float, float]) -> list[alt.ExprRef]:
    return [alt.ExprRef(f"{end} * width") for end in share]


def _row(row: RankRow) -> Row:
    level, half, target = row.level, row.half or (None, None), row.target or (None, None)
    return {
        "player": row.player,
        "level": level.median,
        "low90": level.low90,
        "high90": level.high90,
        "low50": half[0],
        "high50": half[1],
        "target_low": target[0],
        "target_high": target[1],
        "unit": level.unit,
        "place": row.expected_rank,
        "place_low90": row.rank90[0],
        "place_high90": row.rank90[1],
        "_name": in_lines(row.player),
    }
