"""What a change of club, ball position, air or speed would do to a player's drives, all else kept.

Both sides of the difference fly the same drawn shots with the same drawn physics, so that asking
for no change gives exactly nothing. Delivered loft moves with the head's loft one to one, the
centre of gravity with the head's, the strike with the tee (see ``tee_height``).
"""

from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

import numpy as np

from models.arrays import Floats
from models.traits import DELIVERY
from tracker.decisions.distance.cloud import DISTANCE_PARTS, Cloud, player_cloud
from tracker.decisions.distance.target import Target, find_target
from tracker.decisions.distance.tee_height import FARTHEST_MM, rise_draws, squad_slope
from tracker.decisions.distance.worth import best_lever
from tracker.decisions.distance.yardstick import CARRY
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.units import System, display, range_text, value_text
from tracker.words import distance_words

if TYPE_CHECKING:
    import pandas as pd

LIMITS: Final = {
    "loft_deg": (-6.0, 6.0),
    "cg_height_mm": (-6.0, 6.0),
    "tee_height_mm": (-30.0, 30.0),
    "altitude_m": (-300.0, 3500.0),
    "temperature_c": (-25.0, 25.0),
    "club_speed_mps": (-8.0, 8.0),
}
"""What may be asked: changes a fitter or a journey can make, in the field's unit."""
AIMS: Final = ("strike_up_mm", "attack_deg")
"""Traits whose best window may shift with the change."""


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Changes from now: of the head, the tee, the air (now 20 C at sea level) and the club speed.

    ``cg_height_mm`` is of the head's centre of gravity up the face, + higher.
    """

    loft_deg: float = 0.0
    cg_height_mm: float = 0.0
    tee_height_mm: float = 0.0
    altitude_m: float = 0.0
    temperature_c: float = 0.0
    club_speed_mps: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise BadRequest(
                    f"{name}: found {value:g}, wanted a change from {low:g} to {high:g}"
                )

    @property
    def asked(self) -> tuple[str, ...]:
        """Return what is to change."""
        return tuple(f.name for f in fields(self) if getattr(self, f.name) != 0)


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a trait should be, without and with the change."""

    trait: str
    before: Target
    after: Target


@dataclass(frozen=True, slots=True)
class WhatIfAnswer:
    """What the change does on average over the player's own scatter, + more.

    ``strike_fix_gain_m`` is the carry of the best lever of strike height, to compare with; None
    where the player's strike height was never read.
    """

    player: str
    as_of: datetime
    change: WhatIf
    carry_now_m: Interval
    carry_m: Interval
    total_m: Interval
    ball_speed_mps: Interval
    spin_rpm: Interval
    launch_deg: Interval
    strike_fix_gain_m: Interval | None
    aims: tuple[Aim, ...]
    sentence: str
    notes: tuple[str, ...]
    problems: tuple[str, ...]


def what_if(
    fit: Fit,
    player: str,
    change: WhatIf,
    shots: "pd.DataFrame | None" = None,
    *,
    seed: int = 1,
    draws: int = 200,
    cloud_shots: int = 32,
    system: System = "yards",
) -> WhatIfAnswer:
    """Return what a change would do to a player's drives at the last session.

    ``shots`` is the squad's log, asked for what the strike does with the tee where tee heights
    were logged; words are said in the reader's ``system`` of units.
    """
    now = player_cloud(fit, player, seed=seed, draws=draws, shots=cloud_shots)
    then = changed(now, change, rise_draws(shots, now.draws, seed))
    before, after = now.drives(), then.drives()

    def difference(name: str, unit: str) -> Interval:
        first, second = (getattr(flown, name).mean(axis=1) for flown in (before, after))
        return Interval.from_draws(second - first, unit)

    carry = difference("carry_m", "m")
    lever, worth = _strike_fix(fit, now) or (None, None)
    problems = fit.problems_of(*DISTANCE_PARTS)
    return WhatIfAnswer(
        player=player,
        as_of=now.as_of,
        change=change,
        carry_now_m=Interval.from_draws(before.carry_m.mean(axis=1), "m"),
        carry_m=carry,
        total_m=difference("total_m", "m"),
        ball_speed_mps=difference("ball_speed_mps", "m/s"),
        spin_rpm=difference("spin_rpm", "rpm"),
        launch_deg=difference("launch_deg", "deg"),
        strike_fix_gain_m=worth,
        aims=tuple(Aim(t, find_target(now, t), find_target(then, t)) for t in AIMS),
        sentence=_sentence(player, change, carry, lever, worth, system) if not problems else "",
        notes=_notes(change, shots),
        problems=problems,
    )


def changed(now: Cloud, change: WhatIf, rise: Floats) -> Cloud:
    """Return the cloud after the change; ``rise`` is of the strike, mm a mm of tee height."""
    tee = float(np.clip(change.tee_height_mm, -FARTHEST_MM, FARTHEST_MM))
    level = now.level.copy()
    level[:, DELIVERY.index("loft_deg")] += change.loft_deg
    level[:, DELIVERY.index("club_speed_mps")] += change.club_speed_mps
    level[:, DELIVERY.index("strike_up_mm")] += rise * tee
    head = replace(now.physics, cg_height_m=now.physics.cg_height_m + change.cg_height_mm / 1000)
    air = replace(
        now.conditions,
        altitude_m=now.conditions.altitude_m + change.altitude_m,
        temperature_c=now.conditions.temperature_c + change.temperature_c,
    )
    return replace(now, level=level, physics=head, conditions=air)


def _strike_fix(fit: Fit, now: Cloud) -> tuple[str, Interval] | None:
    """Return the best lever of strike height and the carry it gains; None without readings."""
    best = best_lever(fit, now, "strike_up_mm", CARRY)
    if best is None:
        return None
    effect, move = best
    fixed = now.moved("strike_up_mm", now.level_of("strike_up_mm") + move)
    return effect.lever.name, Interval.from_draws(fixed.carry() - now.carry(), "m")


_NAMES: Final = {
    "loft_deg": ("more loft", "less loft"),
    "cg_height_mm": ("a higher centre of gravity", "a lower centre of gravity"),
    "tee_height_mm": ("a higher tee", "a lower tee"),
    "altitude_m": ("higher ground", "lower ground"),
    "temperature_c": ("warmer air", "colder air"),
    "club_speed_mps": ("more club speed", "less club speed"),
}
_HEAD: Final = frozenset({"loft_deg", "cg_height_mm"})


def _sentence(
    player: str,
    change: WhatIf,
    carry: Interval,
    lever: str | None,
    fix: Interval | None,
    system: System,
) -> str:
    if not change.asked:
        return f"{player}: nothing is changed, so nothing is gained."
    what = " and ".join(_NAMES[name][getattr(change, name) < 0] for name in change.asked)
    how = replace(display("distance", system), decimals=1)
    size = value_text(carry.median, how, signed=True)
    opening = f"{player}: {what} changes carry by {size} ({range_text(carry, how, signed=True)})"
    if fix is None or not set(change.asked) <= _HEAD:
        return f"{opening}."
    worth = f"{lever} is worth {distance_words(fix.median, system)}"
    if fix.median > 2 * max(carry.median, 0.0) and fix.median > 1.0:
        return f"{opening}; for strike height {worth}, so the strike first."
    return f"{opening}; for strike height {worth}."


def _notes(change: WhatIf, shots: "pd.DataFrame | None") -> tuple[str, ...]:
    notes = []
    if change.loft_deg:
        notes.append("Delivered loft is taken to change as much as the head's; players adapt.")
    if change.cg_height_mm:
        notes.append("Only the height of the weight changes; depth, mass and steadiness are kept.")
    if change.tee_height_mm:
        source = "a rule of the trade"
        if shots is not None and squad_slope(shots) is not None:
            source += " and the squad's own sessions"
        notes.append(f"How far the strike follows the tee is from {source}; attack is kept.")
    if abs(change.tee_height_mm) > FARTHEST_MM:
        notes.append(
            f"Beyond {FARTHEST_MM:g} mm of tee height the strike is not taken to follow any more."
        )
    return tuple(notes)
