"""Where a player's drives come down, now and after a lever, about the line the player would aim."""

from dataclasses import dataclass

import numpy as np

from models.arrays import Floats
from tracker.decisions.distance.cloud import Cloud, player_cloud
from tracker.decisions.distance.worth import LeverWorth, moved_part
from tracker.decisions.distance.yardstick import along_target
from tracker.posterior import Fit

DRAWS, SHOTS = 130, 24


@dataclass(frozen=True, eq=False, slots=True)
class Spread:
    """Places where drives come down, each entry of shape (draw, shot), in m."""

    along: Floats
    """Along the line of aim."""
    beside: Floats
    """Beside it, + toward the open-face side."""


@dataclass(frozen=True, eq=False, slots=True)
class Spreads:
    """The drives now, and the same shots after a lever; None where there is no lever."""

    now: Spread
    after: Spread | None


def landing_spreads(fit: Fit, player: str, lever: LeverWorth | None) -> Spreads:
    """Return where a player's drives come down now and after a lever, over draws and shots.

    Each draw aims by its own mean direction, as the chance to stay inside a corridor does.
    """
    cloud = player_cloud(fit, player)
    now = cloud.part(DRAWS, SHOTS)
    after = None
    if lever is not None and lever.lever.trait is not None:
        after = _spread(moved_part(now, lever.lever.trait, lever.move))
    return Spreads(_spread(now), after)


def _spread(cloud: Cloud) -> Spread:
    landed = cloud.landings()
    direction = np.arctan2(landed.side_m, along_target(landed))
    off = direction - direction.mean(axis=-1, keepdims=True)
    return Spread(landed.carry_m * np.cos(off), landed.carry_m * np.sin(off))
