"""The ball: what the rules allow, and how some balls fly otherwise than the default one."""

from dataclasses import dataclass
from typing import Final

from models.drive.errors import DriveInputError, require_range

BALL_MASS_KG: Final = 0.04593
"""Heaviest ball the rules allow (R&A/USGA equipment rules)."""

BALL_RADIUS_M: Final = 0.021335
"""Smallest ball the rules allow, 42.67 mm across (R&A/USGA equipment rules)."""

SPHERE: Final = 0.4
"""Moment of inertia of a solid sphere over m r^2."""


@dataclass(frozen=True, slots=True)
class Ball:
    """How much more than the default ball this one is held back and lifted by the air.

    Raises ``DriveInputError`` for a factor that no golf ball has.
    """

    name: str
    drag_factor: float = 1.0
    lift_factor: float = 1.0

    def __post_init__(self) -> None:
        require_range("ball drag factor", self.drag_factor, 0.8, 1.5, "")
        require_range("ball lift factor", self.lift_factor, 0.5, 1.5, "")


STANDARD_BALL: Final = Ball("standard")
"""A long modern ball."""

RANGE_BALL: Final = Ball("range", drag_factor=1.11)
"""A practice ball: some 7 % less carry than a new one (common practice: 5 to 10 %, no source)."""

BALLS: Final = {ball.name: ball for ball in (STANDARD_BALL, RANGE_BALL)}


def ball_named(name: str) -> Ball:
    """Return a preset; raises ``DriveInputError`` that lists the names there are."""
    try:
        return BALLS[name]
    except KeyError:
        raise DriveInputError("ball", repr(name), "one of " + ", ".join(BALLS)) from None
