"""What a measured move of one trait is worth to its player's drives.

    worth = E[yardstick | trait at its later level] - E[yardstick | trait at its earlier level],
draw by draw, everything else as it is today: the other traits, the scatter of shots, and the flight
as the squad's own balls taught it. Without such balls nothing is said, since yards beside a verdict
are read as measured.
"""

from dataclasses import dataclass, replace

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.cloud import DISTANCE_PARTS, player_cloud, spaced
from tracker.decisions.distance.gain_words import gain_display, gain_with_range
from tracker.decisions.distance.worth import Standing
from tracker.decisions.distance.yardstick import TOWARD, Yardstick
from tracker.interval import Interval
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.units import System, range_text, value_text

DRAWS = 400
CANNOT_TELL = "can't tell yet"


@dataclass(frozen=True, slots=True)
class ChangeWorth:
    """What a move is worth, or why that cannot be told."""

    yardstick: Yardstick
    gain: Interval | None
    """In m, or in points; None where it cannot be told."""
    why_not: str = ""
    """Why it cannot be told, as the end of a sentence; empty where it can."""


def change_worth(
    fit: Fit,
    player: str,
    trait: str,
    before: Window,
    after: Window,
    yardstick: Yardstick = TOWARD,
) -> ChangeWorth:
    """Return what a trait's move from the tendency in one window to another's is worth now."""
    why_not = _why_not(fit, trait)
    if why_not:
        return ChangeWorth(yardstick, None, why_not)
    one, kept = fit.of(player, trait), spaced(fit.samples, DRAWS)
    first, second = one.tendency(before)[kept], one.tendency(after)[kept]
    return ChangeWorth(
        yardstick,
        Interval.from_draws(_draws(fit, player, trait, first, second, yardstick), yardstick.unit),
    )


def _draws(
    fit: Fit, player: str, trait: str, first: Floats, second: Floats, yardstick: Yardstick
) -> Floats:
    cloud = player_cloud(fit, player, draws=first.size)
    then = Standing.of(cloud.moved(trait, first), yardstick)
    return then.gain(cloud.moved(trait, second)).value


def _why_not(fit: Fit, trait: str) -> str:
    if fit.info.club != DEFAULT_CLUB:
        return f"distance is worked out for the {DEFAULT_CLUB} alone"
    if TRAITS[trait].drive is None:
        return f"the flight does not know {TRAITS[trait].label}"
    if fit.problems_of(trait, *DISTANCE_PARTS):
        return "what it rests on did not pass its checks in this fit; fit again"
    if not fit.is_calibrated:
        return (
            "the flight has not been learned from this squad's own balls; load shots with ball "
            "speed, launch and spin, and fit again"
        )
    return ""


def worth_sentence(worth: ChangeWorth, system: System) -> str:
    """Return what a measured move is worth in the reader's units, with its 90 % range."""
    gain = worth.gain
    if gain is None:
        return f"{CANNOT_TELL[0].upper()}{CANNOT_TELL[1:]}: {worth.why_not}."
    if gain.high90 < 0:
        cost = replace(gain, median=-gain.median, low90=-gain.high90, high90=-gain.low90)
        how = gain_display(cost, system)
        size = f"{value_text(cost.median, how)} {worth.yardstick.words}"
        return f"The move costs {size} ({range_text(cost, how)}), all else as it is today."
    said = f"{gain_with_range(gain, worth.yardstick, system)}, all else as it is today"
    if gain.low90 > 0:
        return f"The move is worth {said}."
    return f"The move is worth {said}: it may be worth nothing."
