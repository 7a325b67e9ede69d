"""Hand-made fits before and after a change, and promises of it."""

from datetime import datetime

from tests.fits import day, make_fit, noise
from tracker.interval import Interval
from tracker.promise import Promise
from tracker.records import Change

UP = "strike_up_mm"
N = 400
LADDER = Change("Ann", day(22), "drill", "ladder", UP, 2.0)
BOS = Change("Bo", day(3), "drill", "ladder", UP, 1.0)


def before(changes=(BOS,), **more):
    """A fit that knows the ladder from Bo (+5 mm) and has not seen Ann's."""
    levels = {"Ann": {UP: -9.0}, "Bo": {UP: [-6.0, -1.0, -1.0, -1.0]}}
    effect = 5.0 + 0.5 * noise(N, seed=4)
    more = {"effect_sd": {UP: 1.0}, "drill_effect": {"ladder": {UP: effect}}} | more
    return make_fit(levels, changes=changes, change_effect={0: {UP: effect}}, samples=N, **more)


def after(effect, *, change=LADDER, days=(0, 7, 14, 21, 28, 35), level=-9.0, **more):
    """A fit of Ann alone that has seen two sessions since the ladder, which did ``effect``."""
    mean = float(effect.mean())
    levels = {"Ann": {UP: [level] * 4 + [level + mean] * (len(days) - 4)}}
    return make_fit(
        levels, changes=[change], change_effect={0: {UP: effect}}, samples=N, days=days,
        level_sd=0.2, **more,
    )  # fmt: skip


def promise(low=1.0, high=9.0, *, change=LADDER, target=4.0, gain=6.0, fit_id=1):
    """A promise of 5 mm more or less, worth 6 m."""
    middle = (low + high) / 2
    toward = Interval(gain, gain - 3, gain + 3, "m")
    return Promise(
        change=change,
        lever=change.name,
        move=Interval(middle, low, high, "mm"),
        target=target,
        gains={"toward": toward, "carry": toward, "inside": Interval(1.0, -1.0, 3.0, "points")},
        mean_gain_m=gain,
        effort_sessions=2.0,
        fit_id=fit_id,
        stored_at=datetime(2026, 1, 27),
    )
