"""The ball the rules allow: the heaviest and the smallest there may be (R&A/USGA)."""

from typing import Final

BALL_MASS_KG: Final = 0.04593
"""Heaviest ball the rules allow."""

BALL_RADIUS_M: Final = 0.021335
"""Smallest ball the rules allow, 42.67 mm across."""

SPHERE: Final = 0.4
"""Moment of inertia of a solid sphere over m r^2."""
