"""The one table of what is measured: name, unit, sign, plausible range, prior scales, display.

Every trait is stored in the SI-like unit of its column suffix. Signs are the same for right- and
left-handers. Prior scales are for a squad of golfers hitting drivers; between-player and
shot-to-shot sizes are estimates (direction from Betzler, Monk, Wallace & Otto 2012, J. Sports
Sci. 30:439; attack between professionals 2.4 deg from Suzuki et al. 2021, Open Sports Sci. J.
14:137), so the model treats them as weakly informative scales, never as facts.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Group = Literal["strike", "delivery", "ball"]
Quantity = Literal["strike", "angle", "speed", "spin", "distance"]


@dataclass(frozen=True, slots=True)
class Prior:
    """Prior scales of a modelled trait, in the trait's unit.

    ``drift_scale`` is per square root of a week; ``session_scale`` is the half-normal scale of the
    day-to-day SD; ``log_shot_sd_spread`` is the prior median of how far players
    differ in log shot SD.
    """

    mean: float
    mean_sd: float
    between_scale: float
    shot_sd: float
    session_scale: float
    drift_scale: float
    change_scale: float
    bias_scale: float
    log_shot_sd_spread: float = 0.25


@dataclass(frozen=True, slots=True)
class Trait:
    """One measured quantity: column name, unit, sign, plausible range and how it is shown."""

    name: str
    label: str
    unit: str
    positive: str
    low: float
    high: float
    group: Group
    quantity: Quantity
    decimals: int = 1
    prior: Prior | None = None
    reading_sd: float = 0.0
    reading_sd_by_method: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def default_reading_sd(self, method: str) -> float:
        """Return the SD of one reading by ``method`` (free words), in the trait's unit.

        Placeholders until duplicates have been read (common practice, no source).
        """
        words = method.lower()
        for word, sd in self.reading_sd_by_method.items():
            if word in words:
                return sd
        return self.reading_sd


def _prior(
    mean: float, mean_sd: float, between: float, shot_sd: float, change: float, bias: float
) -> Prior:
    return Prior(
        mean=mean,
        mean_sd=mean_sd,
        between_scale=between,
        shot_sd=shot_sd,
        session_scale=0.4 * shot_sd,
        drift_scale=0.08 * shot_sd,
        change_scale=change,
        bias_scale=bias,
    )


_STRIKE_SD = MappingProxyType({"photo": 1.0, "camera": 1.0, "spray": 2.5, "powder": 2.5})

_TRAITS = (
    Trait(
        "strike_toe_mm", "strike across the face", "mm", "toward the toe", -60, 60,
        "strike", "strike", 1, _prior(0, 8, 8, 9, 6, 2), 2.0, _STRIKE_SD,
    ),
    Trait(
        "strike_up_mm", "strike height", "mm", "toward the crown", -40, 40,
        "strike", "strike", 1, _prior(0, 6, 6, 6.5, 5, 2), 2.0, _STRIKE_SD,
    ),
    Trait(
        "attack_deg", "attack angle", "deg", "upward", -15, 15,
        "delivery", "angle", 1, _prior(-1, 2.5, 2.6, 1.2, 2, 0.6), 0.5,
    ),
    Trait(
        "club_speed_mps", "club speed", "m/s", "faster", 15, 70,
        "delivery", "speed", 1, _prior(44, 5, 4, 0.65, 1, 0.5), 0.3,
    ),
    Trait(
        "loft_deg", "delivered loft", "deg", "more", -5, 45,
        "delivery", "angle", 1, _prior(14, 3, 2.5, 1.3, 1.5, 0.8), 0.6,
    ),
    Trait(
        "path_deg", "club path", "deg", "in-to-out", -25, 25,
        "delivery", "angle", 1, _prior(0, 3, 3.5, 1.8, 2, 0.6), 0.5,
    ),
    Trait(
        "face_deg", "face angle to target", "deg", "open", -30, 30,
        "delivery", "angle", 1, _prior(0, 2.5, 2.5, 2.2, 1.5, 0.6), 0.6,
    ),
    Trait(
        "ball_speed_mps", "ball speed", "m/s", "faster", 10, 105, "ball", "speed", 1,
        reading_sd=0.3,
    ),
    Trait(
        "launch_deg", "launch angle", "deg", "upward", -20, 60, "ball", "angle", 1, reading_sd=0.4
    ),
    Trait(
        "side_deg", "launch direction", "deg", "toward the open-face side", -45, 45,
        "ball", "angle", 1, reading_sd=0.4,
    ),
    Trait("spin_rpm", "spin", "rpm", "more", 0, 14000, "ball", "spin", 0, reading_sd=100.0),
    Trait(
        "axis_deg", "spin axis tilt", "deg", "toward the open-face side", -80, 80,
        "ball", "angle", 1, reading_sd=1.5,
    ),
    Trait("carry_m", "carry", "m", "longer", 0, 420, "ball", "distance", 0, reading_sd=2.5),
    Trait("total_m", "total", "m", "longer", 0, 480, "ball", "distance", 0, reading_sd=5.0),
)  # fmt: skip

TRAITS: Mapping[str, Trait] = MappingProxyType({t.name: t for t in _TRAITS})
"""Every trait by column name, in the order of the shot log."""

MAIN: tuple[str, ...] = ("strike_toe_mm", "strike_up_mm", "attack_deg")
"""The three traits the model is about."""

MODELLED: tuple[str, ...] = tuple(t.name for t in _TRAITS if t.prior is not None)
"""Traits with a hierarchical prior: the three main ones and the four that give context."""

FACE_HALF_MM: tuple[float, float] = (50.0, 28.0)
"""How far from its centre a driver's face can be struck and the mark still be read: across, up."""

BALL: tuple[str, ...] = tuple(t.name for t in _TRAITS if t.group == "ball")
"""What the ball did."""
