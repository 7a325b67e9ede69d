"""What counts as a better drive: distance toward the target, carry, total, or staying inside.

    toward   mean over shots of carry times the cosine of the direction in which it lands
    carry    mean carry
    total    mean length to where the ball stops
    inside   chance to land inside a corridor, aim re-centred on the player's own mean direction,
             in points of a hundred

Thresholds stated in metres are read in points where staying inside is what counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal, get_args

import numpy as np
from scipy.special import ndtr

from models.arrays import Floats
from models.drive.drive import Drive, Landing
from tracker.decisions.distance.cloud import Cloud
from tracker.errors import BadRequest

YardstickName = Literal["toward", "carry", "total", "inside"]
YARDSTICKS: Final[tuple[YardstickName, ...]] = get_args(YardstickName)
CORRIDOR_M: Final = 30.0
"""Width of the corridor unless the coach sets it (common practice, no source)."""
CORRIDOR_RANGE_M: Final = (5.0, 120.0)
EDGE_SD_M: Final = 2.0
"""A ball this near the corridor's edge counts in part, so that a chance does not jump by a whole
shot of the few that are flown; two metres among a spread of some twenty change it by less than a
point, and a change of it by far less."""

_WORDS: Final[Mapping[YardstickName, str]] = MappingProxyType(
    {
        "toward": "toward the target",
        "carry": "of carry",
        "total": "of carry and run",
        "inside": "more drives inside the corridor",
    }
)


@dataclass(frozen=True, slots=True)
class Yardstick:
    """What a coach wants more of, and the corridor whose chance stands beside it."""

    name: YardstickName = "toward"
    corridor_m: float = CORRIDOR_M

    def __post_init__(self) -> None:
        if self.name not in YARDSTICKS:
            raise BadRequest(
                f"yardstick: found {self.name!r}, wanted one of {', '.join(YARDSTICKS)}"
            )
        low, high = CORRIDOR_RANGE_M
        if not low <= self.corridor_m <= high:
            raise BadRequest(
                f"corridor: found {self.corridor_m:g} m, wanted a width from {low:g} to {high:g} m"
            )

    @property
    def unit(self) -> str:
        """Return the unit of its values."""
        return "points" if self.name == "inside" else "m"

    @property
    def words(self) -> str:
        """Return what a gain is a gain of."""
        return _WORDS[self.name]


TOWARD: Final = Yardstick()
CARRY: Final = Yardstick("carry")


@dataclass(frozen=True, eq=False, slots=True)
class Outcome:
    """How a cloud does, one a draw: by the yardstick, and the chance inside in points."""

    value: Floats
    inside: Floats


def outcome(cloud: Cloud, yardstick: Yardstick) -> Outcome:
    """Return how a cloud does; only the total needs the run, which takes longest."""
    flown = cloud.drives() if yardstick.name == "total" else cloud.landings()
    inside = 100 * chance_inside(flown, yardstick.corridor_m)
    if yardstick.name == "inside":
        return Outcome(inside, inside)
    if isinstance(flown, Drive):
        each = flown.total_m
    elif yardstick.name == "carry":
        each = flown.carry_m
    else:
        each = along_target(flown)
    return Outcome(np.asarray(each.mean(axis=-1), dtype=np.float64), inside)


def along_target(flown: Landing | Drive) -> Floats:
    """Return how far along the target line each drive carries, m."""
    return np.sqrt(np.maximum(flown.carry_m**2 - flown.side_m**2, 0.0))


def chance_inside(flown: Landing | Drive, corridor_m: float) -> Floats:
    """Return the share of the shots (last axis) that land inside, about their mean direction."""
    direction = np.arctan2(flown.side_m, along_target(flown))
    off = flown.carry_m * np.sin(direction - direction.mean(axis=-1, keepdims=True))
    half = corridor_m / 2
    inside = ndtr((half - off) / EDGE_SD_M) - ndtr((-half - off) / EDGE_SD_M)
    return np.asarray(inside.mean(axis=-1), dtype=np.float64)
