"""The evidence as one picture: false alarms look by look, claims against truth, coverage."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.evidence.figures_of_merit import UNCHANGED, Columns, Merit, Share, first_calls
from tests.evidence.judging import LOOKS

SCALE = 2
WIDTH, HEIGHT, TOP, BOTTOM = 430, 400, 60, 345
INK, FAINT, GOOD, BAD, MIDDLE = "#222222", "#bbbbbb", "#1f6f8b", "#b5522b", "#8a7a3a"


class Panel:
    """One set of axes; points are in data units."""

    def __init__(
        self,
        draw: ImageDraw.ImageDraw,
        place: int,
        title: str,
        across: tuple[float, float],
        up: tuple[float, float],
    ) -> None:
        self.draw, self.across, self.up = draw, across, up
        self.left, self.right = place * WIDTH + 55, (place + 1) * WIDTH - 15
        self.text(place * WIDTH + 20, 18, title, size=15)
        self.line([(across[0], up[0]), (across[1], up[0])])
        self.line([(across[0], up[0]), (across[0], up[1])])

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a point of the data lies on the picture."""
        right = (x - self.across[0]) / (self.across[1] - self.across[0])
        high = (y - self.up[0]) / (self.up[1] - self.up[0])
        return (
            SCALE * (self.left + right * (self.right - self.left)),
            SCALE * (BOTTOM - high * (BOTTOM - TOP)),
        )

    def line(
        self, points: Sequence[tuple[float, float]], colour: str = INK, width: float = 1
    ) -> None:
        self.draw.line(
            [self.at(*p) for p in points], fill=colour, width=round(width * SCALE), joint="curve"
        )

    def dot(self, x: float, y: float, colour: str) -> None:
        cx, cy = self.at(x, y)
        r = 4 * SCALE
        self.draw.ellipse((cx - r, cy - r, cx + r, cy + r), fill=colour)

    def text(self, x: float, y: float, words: str, colour: str = INK, size: int = 12) -> None:
        """Write words at a place of the picture, not of the data."""
        font = ImageFont.load_default(size * SCALE)
        self.draw.text((x * SCALE, y * SCALE), words, fill=colour, font=font)

    def label(self, x: float, y: float, words: str, colour: str = INK, size: int = 12) -> None:
        """Write words beside a point of the data."""
        px, py = self.at(x, y)
        self.text(px / SCALE + 6, py / SCALE - size, words, colour, size)

    def ticks(self, across: Sequence[float], up: Sequence[float], percent: bool) -> None:
        for x in across:
            px, _ = self.at(x, self.up[0])
            self.text(px / SCALE - 8, BOTTOM + 6, f"{x:g}")
        for y in up:
            _, py = self.at(self.across[0], y)
            words = f"{100 * y:g} %" if percent else f"{y:g}"
            self.text(self.left - 42, py / SCALE - 8, words)


def draw_evidence(path: Path, rows: Columns, found: Merit) -> None:
    """Write the picture."""
    picture = Image.new("RGB", (3 * WIDTH * SCALE, HEIGHT * SCALE), "white")
    draw = ImageDraw.Draw(picture)
    _alarms(Panel(draw, 0, "Unchanged players ever called changed", (4, 15), (0, 1)), rows)
    _claims(Panel(draw, 1, "Claimed and true direction", (0.88, 1.005), (0.8, 1.005)), found)
    _cover(Panel(draw, 2, "90 % intervals that hold the truth", (0, 5), (0.5, 1)), found)
    picture.save(path, optimize=True)


def _alarms(panel: Panel, rows: Columns) -> None:
    unchanged = np.isin(rows["kind"], UNCHANGED)
    real = rows["p_direction"] >= rows["threshold"]
    series = (
        ("verdict", real, GOOD),
        ("t-test", rows["t_test_p"] < 0.05, MIDDLE),
        ("last average", np.abs(rows["last_session"]) > 1.2, BAD),
    )
    for name, flag, colour in series:
        ever = first_calls(rows, unchanged, flag)
        panel.line([(look, share) for look, share in ever.items()], colour, 2)
        panel.label(LOOKS[-1], ever[LOOKS[-1]], name, colour)
    panel.line([(4, 0.05), (12, 0.05)], FAINT)
    panel.label(4, 0.065, "5 %", MIDDLE, 11)
    panel.ticks((4, 6, 8, 10, 12), (0, 0.25, 0.5, 0.75, 1), True)
    panel.text(panel.left + 60, BOTTOM + 26, "sessions so far")


def _claims(panel: Panel, found: Merit) -> None:
    panel.line([(0.88, 0.88), (1, 1)], FAINT)
    for b in found.bins:
        panel.line([(b.claimed, max(b.right.low, 0.8)), (b.claimed, b.right.high)], GOOD, 1.5)
        panel.dot(b.claimed, b.right.value, GOOD)
    panel.ticks((0.9, 0.95, 0.99), (0.8, 0.85, 0.9, 0.95, 1), False)
    panel.text(panel.left + 40, BOTTOM + 26, "claimed chance of the direction")


def _cover(panel: Panel, found: Merit) -> None:
    shares: list[tuple[str, Share, str]] = [(n, s, GOOD) for n, s in found.cover.items()]
    shares.append(("t-test", found.t_cover, MIDDLE))
    panel.line([(0, 0.9), (5, 0.9)], FAINT)
    for i, (name, share, colour) in enumerate(shares):
        panel.line([(i + 0.5, max(share.low, 0.5)), (i + 0.5, share.high)], colour, 1.5)
        panel.dot(i + 0.5, max(share.value, 0.5), colour)
        panel.text(panel.left + 73 * i, BOTTOM + 6, name, size=11)
    panel.ticks((), (0.5, 0.6, 0.7, 0.8, 0.9, 1), True)
