"""What the carry that was read gained since a change, at like club speed and weather."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Final

import numpy as np

from models.drive.drive import Conditions
from tracker.decisions.distance.cloud import expected_carry_of, player_cloud
from tracker.decisions.distance.ends import shots_at
from tracker.decisions.distance.explain import part_draws
from tracker.interval import Interval
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.records import Change, Shot

SPEED: Final = "club_speed"
"""The part of a difference that club speed made."""
DRAWS: Final = 200


def carried(fit: Fit, change: Change, logged: Sequence[Shot]) -> Interval | None:
    """Return the mean carry read since a change less that before, m; None where either lacks.

    What club speed made of it is taken out, and what air temperature and altitude made where both
    were noted at both ends. Wind and ground stay in it.
    """
    starts = fit.sessions(change.player)
    days = starts[0].date(), change.start - timedelta(days=1), starts[-1].date()
    if days[0] > days[1] or change.start > days[2]:
        return None
    before, after = Window(days[0], days[1]), Window(change.start, days[2])
    if not all(any(w.start <= s.date() <= w.end for s in starts) for w in (before, after)):
        return None
    found = part_draws(fit, change.player, before, after, logged, draws=DRAWS)
    if not found.measured:
        return None
    like_speed = found.difference - found.parts[SPEED]
    return Interval.from_draws(like_speed - _weather(fit, change, logged, before, after), "m")


def _weather(
    fit: Fit, change: Change, logged: Sequence[Shot], before: Window, after: Window
) -> float:
    """Return the carry that air and altitude made between two windows, m; 0 where not noted."""
    then, since = (_conditions(shots_at(change.player, w, logged)) for w in (before, after))
    if then is None or since is None:
        return 0.0
    cloud = player_cloud(fit, change.player, draws=DRAWS)
    deliveries = cloud.level[:, None] + cloud.scatter
    carries = [expected_carry_of(deliveries, cloud.physics, day).mean() for day in (then, since)]
    return float(carries[1] - carries[0])


def _conditions(shots: Sequence[Shot]) -> Conditions | None:
    """Return the mean air of some shots whose carry was read; None where it was not noted."""
    read = [s for s in shots if "carry_m" in s.readings]
    air = [s.air_temperature_c for s in read if s.air_temperature_c is not None]
    if not air:
        return None
    high = [s.altitude_m for s in read if s.altitude_m is not None]
    return Conditions(float(np.mean(air)), float(np.mean(high)) if high else 0.0)
