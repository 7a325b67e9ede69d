"""What a squad leaves unclaimed: the gains of everybody's first lever, together and one by one.

Players share the physics and the drills, so gains are added draw by draw.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tracker.decisions.distance.gain import ranked
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.levers import Lever
from tracker.decisions.distance.worth import PlayerLevers
from tracker.interval import Interval
from tracker.units import System


@dataclass(frozen=True, slots=True)
class Unclaimed:
    """What the first levers of some players are expected to give; m, or points.

    Empty (no gains, no total) where the fit is in doubt.
    """

    gains: tuple[Gains, ...]
    """Most expected of the first lever first; who has none comes last."""
    total: Interval | None
    """Of all first levers together; None with none."""
    mean_total: float
    levers: tuple[tuple[Lever, int], ...]
    """For how many players each lever comes first, the commonest first."""
    problems: tuple[str, ...]


def unclaimed(levers: Sequence[PlayerLevers], system: System = "yards") -> Unclaimed:
    """Return what some players leave unclaimed, at the efforts that were logged."""
    problems = tuple(dict.fromkeys(p for one in levers for p in one.problems))
    if problems:
        return Unclaimed((), None, 0.0, (), problems)
    gains = [ranked(one, None, system) for one in levers]
    drawn = [
        worth.gain
        for one, found in zip(levers, gains, strict=True)
        if found.best is not None
        for worth in one.offered
        if worth.lever == found.best.lever
    ]
    firsts = Counter(found.best.lever for found in gains if found.best is not None)
    ordered = sorted(gains, key=lambda g: (-mean_first(g), g.player))
    together = np.sum(drawn, axis=0) if drawn else None
    return Unclaimed(
        gains=tuple(ordered),
        total=None if together is None else Interval.from_draws(together, levers[0].yardstick.unit),
        mean_total=0.0 if together is None else float(together.mean()),
        levers=tuple(sorted(firsts.items(), key=lambda pair: (-pair[1], pair[0].key))),
        problems=(),
    )


def mean_first(gains: Gains) -> float:
    """Return what a player's first lever is expected to give; 0 without one."""
    return gains.best.mean_gain_m if gains.best is not None else 0.0
