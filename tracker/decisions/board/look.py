"""Who needs a look, why, and what would help: one row a player and reason.

drifting   the level creeps, surely and by enough, away from where it should be
scatter    the shots scatter more than earlier in the season
stuck      a device gave the same reading over and over
method     the trait is read in another way than before
few        too few sessions with readings for a verdict
unseen     no session for much longer than this player's usual gap
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Literal

import numpy as np

from models.traits import TRAITS
from tracker.decisions.board.start_now import ends_of
from tracker.decisions.distance.target import Target
from tracker.decisions.verdict.consistency import ConsistencyVerdict
from tracker.decisions.verdict.guards import MIN_SESSIONS, methods_linked, typical_gap_weeks
from tracker.decisions.verdict.verdict import REAL
from tracker.decisions.verdict.worthwhile import SMALL_SHARE
from tracker.interval import Interval
from tracker.player_trait import DAYS_PER_MONTH, PlayerTrait
from tracker.posterior import Fit
from tracker.readings.stuck_device import StuckReadings
from tracker.records import INFERRED_METHOD

LookKind = Literal["drifting", "scatter", "stuck", "few", "unseen", "method"]
KINDS: Final[tuple[LookKind, ...]] = ("drifting", "scatter", "stuck", "few", "unseen", "method")
"""In the order in which they are said; what the model allows for by itself comes last."""

SURE_OF_DRIFT: Final = 0.975
"""P(direction) of the creep from which it is named: many players and traits are looked at at once
(estimate, no source)."""
ENOUGH_SESSIONS: Final = 2 * MIN_SESSIONS
"""Sessions with readings from which both windows of a verdict can be filled."""
LONG_GAPS: Final = 3.0
"""A player is long unseen after so many of the own usual gaps (estimate, no source) ..."""
LEAST_UNSEEN_DAYS: Final = 42
"""... and at least this long."""

FindTarget = Callable[[str, str], Target | None]
"""Player and trait to where the trait should be."""


@dataclass(frozen=True, slots=True)
class Look:
    """One reason to look at a player."""

    player: str
    kind: LookKind
    trait: str | None = None
    size: Interval | None = None
    """Drifting: the creep a month, trait's unit; scatter: SD now / SD then."""
    methods: tuple[str, ...] = ("", "")
    """How the trait was read before and is read now."""
    linked: bool = True
    """Whether the squad tells what the methods differ by."""
    few: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    """Sessions and readings of the traits with too few."""
    stuck: StuckReadings | None = None
    more: int = 0
    """Stuck: further such sessions of the player and trait."""
    last: date | None = None
    """Unseen: day of the last session."""
    days: int = 0
    """Unseen: days from there to the squad's latest session."""


def who_needs_a_look(
    fit: Fit,
    players: Collection[str],
    *,
    target: FindTarget,
    scatter: Sequence[ConsistencyVerdict] = (),
    stuck: Sequence[StuckReadings] = (),
    since: date | None = None,
) -> tuple[Look, ...]:
    """Return everybody who needs a look, by reason and then by player.

    ``scatter`` are the verdicts on scatter of these players, ``stuck`` what stuck devices gave. A
    trait in doubt gives no reason that rests on it.
    """
    asked = [p.name for p in fit.players if p.name in players]
    read = [t for t in fit.traits if fit.squad(t).is_read]
    sound = [t for t in read if not fit.problems_of(t)]
    found = [
        look
        for trait in sound
        for name in asked
        if (look := _drifting(fit.of(name, trait), target, since)) is not None
    ]
    found += [look for name in asked for look in _method(fit, name, sound, since)]
    found += [
        Look(v.player, "scatter", v.trait, v.ratio)
        for v in scatter
        if v.player in players and v.verdict in REAL and v.direction == "looser"
    ]
    found += _stuck(stuck, players)
    found += [look for name in asked if (look := _few(fit, name, read)) is not None]
    latest = max((fit.sessions(p.name)[-1].date() for p in fit.players), default=date.min)
    found += [look for name in asked if (look := _unseen(fit, name, latest)) is not None]
    return tuple(sorted(found, key=lambda s: (KINDS.index(s.kind), s.linked, s.player)))


def _drifting(one: PlayerTrait, target: FindTarget, since: date | None) -> Look | None:
    """Return the creep of a trait that leads away from where it should be."""
    goal, places = TRAITS[one.trait].goal, one.places_since(since)
    if goal == "none" or not one.is_read or np.unique(one.times[places]).size < 2:
        return None
    creep = one.trend(places)
    up = float(np.mean(creep > 0))
    if max(up, 1 - up) < SURE_OF_DRIFT:
        return None
    size = Interval.from_draws(creep, f"{TRAITS[one.trait].unit} per month")
    months = float((one.times[places[-1]] - one.times[places[0]]) / np.timedelta64(1, "D"))
    come = abs(size.median) * months / DAYS_PER_MONTH
    if come < SMALL_SHARE * float(one.spread.mean()):
        return None
    if goal == "more":
        away = up < 0.5
    else:
        aim = target(one.player, one.trait)
        level = float(one.now.mean())
        away = (
            aim is not None
            and not aim.window[0] <= level <= aim.window[1]
            and (level > aim.best) == (up > 0.5)
        )
    return Look(one.player, "drifting", one.trait, size) if away else None


def _method(fit: Fit, player: str, traits: Sequence[str], since: date | None) -> list[Look]:
    """Return what is read in another way than at first, the strike and the delivery each once.

    Readings that the balls stand in for are the model's own, not another device.
    """
    ways: dict[str, list[tuple[str, frozenset[str], frozenset[str]]]] = {}
    for trait in traits:
        one = fit.of(player, trait)
        ends = ends_of(one, since)
        if ends is None:
            continue
        first, second = (
            one.methods_in(places) - {INFERRED_METHOD} for places in (ends.before, ends.after)
        )
        if first and second and first != second:
            ways.setdefault(TRAITS[trait].group, []).append((trait, first, second))
    return [
        Look(
            player,
            "method",
            found[0][0],
            methods=tuple(
                _listed(frozenset().union(*(one[end] for one in found))) for end in (1, 2)
            ),
            linked=all(methods_linked(fit, player, t, a | b) for t, a, b in found),
        )
        for found in ways.values()
    ]


def _listed(methods: frozenset[str]) -> str:
    return " and ".join(sorted(methods))


def _stuck(stuck: Sequence[StuckReadings], players: Collection[str]) -> list[Look]:
    """Return the latest stuck session of each player and trait, the others counted."""
    mine: dict[tuple[str, str], list[StuckReadings]] = {}
    for one in stuck:
        if one.player in players:
            mine.setdefault((one.player, one.trait), []).append(one)
    return [
        Look(
            player,
            "stuck",
            trait,
            stuck=max(found, key=lambda s: s.session),
            more=len(found) - 1,
        )
        for (player, trait), found in mine.items()
    ]


def _few(fit: Fit, player: str, read: Sequence[str]) -> Look | None:
    """Return which of the traits that anybody reads are read too seldom of a player."""
    few = {}
    for trait in read:
        one = fit.of(player, trait)
        sessions = int(one.places_read.size)
        if sessions < ENOUGH_SESSIONS:
            few[trait] = (sessions, one.readings)
    return Look(player, "few", few=few) if few else None


def _unseen(fit: Fit, player: str, latest: date) -> Look | None:
    last = fit.sessions(player)[-1].date()
    days = (latest - last).days
    usual = 7 * typical_gap_weeks(fit, player)
    if days < max(LEAST_UNSEEN_DAYS, LONG_GAPS * usual):
        return None
    return Look(player, "unseen", last=last, days=days)
