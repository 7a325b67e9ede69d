"""Pictures to click on, as plain shapes: the face to scale in millimetres, and a photograph."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from models.arrays import Floats
from tracker.charts.outline import NECK_TOE_MM, NECK_UP_MM, Normal2D, ellipse, face_outline
from tracker.records import Handed

VIEW_TOE_MM, VIEW_UP_MM = 64.0, 40.0
GRID_MM, BOLD_GRID_MM, LABEL_MM = 5, 10, 20
TEXT_MM = 3.4


@dataclass(frozen=True, slots=True)
class Shape:
    """One shape: an SVG tag, its class in the style sheet, its numbers, and its text if any."""

    tag: str
    style: str
    numbers: Mapping[str, str | float] = field(default_factory=dict)
    text: str = ""


@dataclass(frozen=True, slots=True)
class Clickable:
    """A picture whose clicks come back as places."""

    label: str
    box: tuple[float, float, float, float]
    """Left, top, width and height in picture units."""
    shapes: tuple[Shape, ...]
    start: tuple[float, float]
    step: float
    """What an arrow key moves the cross by ..."""
    long_step: float
    """... and with Shift."""
    unit: str
    """Of a place in words."""
    right_word: str
    """The side of a place, from the middle of the picture's own axes; likewise the rest."""
    left_word: str
    up_word: str
    down_word: str
    decimals: int = 0
    image: str = ""
    whose: str = ""
    """Told back with every click: a click belongs to the picture that was seen."""

    def as_data(self) -> dict[str, Any]:
        """Return what the browser draws from."""
        return {
            "label": self.label,
            "box": list(self.box),
            "shapes": [[s.tag, s.style, dict(s.numbers), s.text] for s in self.shapes],
            "start": list(self.start),
            "step": self.step,
            "longStep": self.long_step,
            "unit": self.unit,
            "words": [self.right_word, self.left_word, self.up_word, self.down_word],
            "decimals": self.decimals,
            "image": self.image,
            "whose": self.whose,
        }


def clickable_face(
    handed: Handed,
    strikes: Sequence[tuple[float, float]],
    tendency: Normal2D | None,
    waiting: tuple[float, float] | None = None,
) -> Clickable:
    """Return the face as the player looks at it, with today's strikes and the tendency.

    Toe is drawn to the left for a right-hander. ``strikes`` are toe and up in mm, in order;
    ``waiting`` is one that is not stored yet.
    """
    side = toe_side(handed)
    shapes = [*_grid(), *_club(side), *_tendency(tendency, side), *_strikes(strikes, side)]
    if waiting is not None:
        toe, up = waiting
        shapes.append(Shape("circle", "waiting", {"cx": side * toe, "cy": -up, "r": 2.0}))
    for text, toe in (("toe side", 47.0), ("heel side", -47.0)):
        place = {"x": side * toe, "y": VIEW_UP_MM - 2.5, "font-size": TEXT_MM}
        shapes.append(Shape("text", "word", place, text))
    words = ("toward the toe", "toward the heel")
    right, left = words if side > 0 else words[::-1]
    return Clickable(
        label=(
            f"Club face of a {handed}-hander, seen from the front, toe to the "
            f"{'right' if side > 0 else 'left'}, millimetres from the face centre. Click where "
            "the ball met it, or move the cross with the arrow keys (Shift for 5 mm) and press "
            f"Enter. {_strikes_text(strikes)}"
        ),
        box=(-VIEW_TOE_MM, -VIEW_UP_MM, 2 * VIEW_TOE_MM, 2 * VIEW_UP_MM),
        shapes=tuple(shapes),
        start=(0.0, 0.0),
        step=1.0,
        long_step=5.0,
        unit="mm",
        right_word=right,
        left_word=left,
        up_word="up",
        down_word="down",
    )


def toe_side(handed: Handed) -> int:
    """Return 1 where the toe is drawn to the right, -1 where to the left."""
    return 1 if handed == "left" else -1


def strike_at(x: float, y: float, handed: Handed) -> tuple[float, float]:
    """Return toe and up in mm of a place on the drawing."""
    return toe_side(handed) * x, -y


def _strikes_text(strikes: Sequence[tuple[float, float]]) -> str:
    if not strikes:
        return "No strike drawn yet."
    toe, up = strikes[-1]
    count = f"{len(strikes)} strikes" if len(strikes) > 1 else "1 strike"
    return f"{count} drawn; the last one at {toe:+.0f} mm toe side, {up:+.0f} mm up."


def _grid() -> list[Shape]:
    shapes = []
    for mm in range(-60, 61, GRID_MM):
        style = "bold-grid" if mm % BOLD_GRID_MM == 0 else "grid"
        if abs(mm) < VIEW_UP_MM:
            ends = {"x1": -VIEW_TOE_MM, "x2": VIEW_TOE_MM, "y1": mm, "y2": mm}
            shapes.append(Shape("line", style, ends))
        ends = {"x1": mm, "x2": mm, "y1": -VIEW_UP_MM, "y2": VIEW_UP_MM}
        shapes.append(Shape("line", style, ends))
    return shapes


def _club(side: int) -> list[Shape]:
    toe, up = face_outline()
    shapes = [
        Shape("path", "neck", {"d": _path(np.asarray(NECK_TOE_MM), np.asarray(NECK_UP_MM), side)}),
        Shape("path", "face", {"d": _path(toe, up, side)}),
        Shape("path", "centre", {"d": "M-2.5 0H2.5M0-2.5V2.5"}),
    ]
    for mm in range(-40, 41, LABEL_MM):
        shapes.append(
            Shape(
                "text",
                "tick",
                {"x": mm, "y": -VIEW_UP_MM + 4, "font-size": TEXT_MM},
                f"{abs(mm)} mm" if mm else "0",
            )
        )
        if 0 < abs(mm) < VIEW_UP_MM - 5:
            place = {"x": -side * (VIEW_TOE_MM - 4.5), "y": -mm + 1.2, "font-size": TEXT_MM}
            shapes.append(Shape("text", "tick", place, f"{mm:+d}"))
    return shapes


def _tendency(tendency: Normal2D | None, side: int) -> list[Shape]:
    if tendency is None:
        return []
    return [
        Shape("path", style, {"d": _path(*ellipse(tendency, mass), side)})
        for mass, style in ((0.9, "likely"), (0.5, "likelier"))
    ]


def _strikes(strikes: Sequence[tuple[float, float]], side: int) -> list[Shape]:
    shapes = [
        Shape("circle", "strike", {"cx": side * toe, "cy": -up, "r": 1.1}) for toe, up in strikes
    ]
    if strikes:
        toe, up = strikes[-1]
        shapes.append(Shape("circle", "last", {"cx": side * toe, "cy": -up, "r": 2.4}))
    return shapes


def _path(toe: Floats, up: Floats, side: int) -> str:
    corners = (f"{side * t:.2f} {-u:.2f}" for t, u in zip(toe, up, strict=True))
    return f"M{'L'.join(corners)}Z"


def clickable_photo(
    image: str,
    size: tuple[int, int],
    marked: Sequence[tuple[str, float, float]],
    wanted: str,
) -> Clickable:
    """Return a photograph with the places clicked so far; ``image`` is a data address.

    ``marked`` are name, right and down in pixels; ``wanted`` names the place to click next.
    """
    width, height = size
    unit = max(size) / 100
    shapes = []
    for name, x, y in marked:
        shapes.append(Shape("circle", "spot", {"cx": x, "cy": y, "r": 1.0 * unit}))
        label = {"x": x, "y": y - 1.8 * unit, "font-size": 2.8 * unit}
        shapes.append(Shape("text", "spot-word", label, name))
    next_one = f"Click {wanted}" if wanted else "All places are clicked"
    return Clickable(
        label=(
            f"Photograph of the face, {width} by {height} pixels. {next_one}, or move the cross "
            "with the arrow keys (Shift for longer steps) and press Enter."
        ),
        box=(0.0, 0.0, float(width), float(height)),
        shapes=tuple(shapes),
        start=(width / 2, height / 2),
        step=max(1.0, round(unit / 5)),
        long_step=max(5.0, round(unit * 3)),
        unit="px",
        right_word="from the left",
        left_word="from the left",
        up_word="above the top",
        down_word="from the top",
        image=image,
    )
