"""The smallest change of a trait that is worth having, for one player.

It is the change worth 2 m of expected carry through the local slope of that player's own cloud
(smallest worthwhile change: Hopkins 2000, Sports Med. 30:1; 2004, Sportscience 8:1). Near the top
of the curve the slope tends to zero and that change to infinity: once it would exceed the SD
between players, no straight line holds that far, and 0.2 of that SD stands in (Hopkins 2004). It
stands in too where carry cannot be worked: for another club, and for a trait unknown to the flight.
"""

from dataclasses import dataclass

import numpy as np

from models.traits import TRAITS
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.target import carry_slope, find_target, has_target
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.units import System, display, range_text, trait_display, value_text

DEFAULT_CARRY_M = 2.0
SMALL_SHARE = 0.2
"""Share of the SD between players that counts as the smallest worthwhile difference."""


@dataclass(frozen=True, slots=True)
class Worthwhile:
    """The smallest worthwhile change of a trait (its unit), its target, and where both are from.

    Within ``window`` expected carry stays within 1 m of its top, at ``target``.
    """

    value: float
    target: float | None
    basis: str
    window: tuple[float, float] | None = None


def worthwhile_change(
    fit: Fit,
    player: str,
    trait: str,
    *,
    carry_m: float = DEFAULT_CARRY_M,
    system: System = "yards",
) -> Worthwhile:
    """Return the change of a player's trait that is worth ``carry_m`` of expected carry.

    Its basis is said in the reader's ``system`` of units.
    """
    if not (np.isfinite(carry_m) and carry_m > 0):
        raise BadRequest(f"carry_m: found {carry_m}, wanted a number of metres above 0")
    drawn = fit.squad(trait).spread
    between = float(drawn.mean())
    how = trait_display(trait, system)
    sure = range_text(Interval.from_draws(drawn, TRAITS[trait].unit), how)
    spread = f"{value_text(between, how)}, {sure}"
    no_carry = _no_carry(fit, trait)
    if no_carry:
        basis = f"a fifth of the spread between players ({spread}); {no_carry}"
        return Worthwhile(SMALL_SHARE * between, None, basis)
    cloud = player_cloud(fit, player)
    value, basis = _size(carry_slope(cloud, trait), carry_m, between, spread, system)
    if not has_target(trait):
        return Worthwhile(value, None, basis)
    target = find_target(cloud, trait)
    return Worthwhile(value, target.best, basis, target.window)


def _no_carry(fit: Fit, trait: str) -> str:
    """Return why a change of a trait cannot be weighed in carry; empty where it can."""
    if fit.info.club != DEFAULT_CLUB:
        return "distance is the driver's alone"
    if TRAITS[trait].drive is None:
        return f"the flight does not know {TRAITS[trait].label}"
    return ""


def _size(
    slope: float, carry_m: float, between: float, spread: str, system: System
) -> tuple[float, str]:
    if abs(slope) * between > carry_m:
        worth = value_text(carry_m, display("distance", system), decimals=1)
        return carry_m / abs(slope), f"worth {worth} of carry at the level now"
    return (
        SMALL_SHARE * between,
        "carry hardly depends on it at the level now, so a fifth of the spread between players "
        f"({spread}) stands in",
    )
