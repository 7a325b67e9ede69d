"""What the coach's page shows of where the drives land: now, and after the first lever."""

from dataclasses import dataclass

import numpy as np

from tracker.charts.landing import DrivesFromAbove
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import lever_aim
from tracker.decisions.distance.landing import Spreads, landing_spreads
from tracker.decisions.distance.yardstick import Yardstick
from tracker.interval import Interval, sure_between
from tracker.pages.shared import context
from tracker.pages.shared.once import once
from tracker.pages.shared.phrases import distance
from tracker.report.figures import drives_of
from tracker.units import System


@dataclass(frozen=True, eq=False, slots=True)
class DrivesView:
    """The picture of the drives from above, its line and what it says in words."""

    drives: DrivesFromAbove
    caption: str
    sentence: str


def drives_of_player(here: context.Here, gains: Gains) -> DrivesView:
    """Return the drives of the player whose gains are shown."""
    lever = None if gains.best is None else gains.best.lever.key
    spreads = spreads_of(here.key, gains.player, gains.yardstick, lever)
    aim = "" if gains.best is None else lever_aim(gains.best.lever)
    corridor = gains.yardstick.corridor_m
    drives = drives_of(here.fit, gains.player, spreads, corridor, here.system)
    return drives_view(drives, spreads, aim, corridor, here.system)


def drives_view(
    drives: DrivesFromAbove, spreads: Spreads, aim: str, corridor_m: float, system: System
) -> DrivesView:
    """Return what to show of drives from above; ``aim`` names the lever, empty without one."""
    width = distance(corridor_m, system)
    inside = [
        Interval.from_draws(100 * np.mean(np.abs(spread.beside) < corridor_m / 2, axis=1), "points")
        for spread in (spreads.now, spreads.after)
        if spread is not None
    ]
    said = [
        f"about {one.median:.0f} in 100 drives "
        f"({sure_between(f'{one.low90:.0f}', f'{one.high90:.0f}')})"
        for one in inside
    ]
    sentence = f"Inside a corridor {width} wide land now {said[0]}"
    sentence += f"; after {aim} {said[1]}." if len(said) > 1 else "."
    after = f"; triangles, solid ring: after {aim}" if len(inside) > 1 else ""
    caption = f"From above. Dots, dashed ring: now{after}; grey: {width} corridor."
    return DrivesView(drives, caption, sentence)


@once(256)
def spreads_of(
    key: context.FitKey, player: str, yardstick: Yardstick, lever: str | None
) -> Spreads:
    """Return where a player's drives come down, now and after a lever of that player's."""
    levers = context.levers_of(key, player, yardstick)
    found = next((w for w in levers.offered if w.lever.key == lever), None)
    return landing_spreads(context.stored_fit(key), player, found)
