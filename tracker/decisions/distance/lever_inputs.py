"""What a fit holds of the levers of one player, as plain arrays: the only reader of its changes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from models.arrays import Floats
from models.traits import DELIVERY, TARGETED, TRAITS
from tracker.decisions.distance.target import usual_targets
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.records import ChangeKind

MOVED_CHANCE: Final = 0.8
"""Chance of a response the drill's way from which a player counts as moved by it."""


@dataclass(frozen=True, eq=False, slots=True)
class Logged:
    """One logged name on one trait; draws have the shape ``(sample,)``, the trait's unit."""

    name: str
    kind: ChangeKind
    trait: str
    mean: Floats
    """What it does on average over players."""
    responses: tuple[Floats, ...]
    """What it did to each who did it and has readings of the trait."""
    own: Floats | None
    """What it did to this player, the last time; None who has not done it."""
    doers: tuple[str, ...] = ()
    """Who did it, in the order of ``responses``."""
    moved: tuple[float, ...] = ()
    """What it did to each whom it surely moved its own way: medians."""
    way: float = 1.0
    """Sign of the effect that it is meant to have: from where those who did it stood on average at
    their first session toward what is best for the squad's average player; + without a best."""


@dataclass(frozen=True, eq=False, slots=True)
class Sizes:
    """How far things differ in one trait: draws ``(sample,)``, the trait's unit."""

    between: Floats
    """SD between players."""
    effect: Floats
    """SD between players of what one drill does."""
    drill_scale: Floats
    """SD about 0 of drills' means, as the model takes it before any is seen."""


@dataclass(frozen=True, eq=False, slots=True)
class LeverInputs:
    """All that the levers of one player are made from."""

    logged: tuple[Logged, ...]
    sizes: Mapping[str, Sizes]
    efforts: Mapping[str, float]
    """Mean logged sessions of practice by name, of those for which any were logged."""
    trait_efforts: Mapping[str, float]
    """Median logged sessions of practice by trait, of those for which any were logged."""
    usual_effort: float | None
    """Median of all logged sessions of practice."""
    read: tuple[str, ...]
    """Traits of which this player has readings."""


_HELD: WeakKeyDictionary[Fit, LeverInputs] = WeakKeyDictionary()
"""Of nobody in particular, by fit and as long as it is held: in a large squad each player would
look at all others."""


def lever_inputs(fit: Fit, player: str | None) -> LeverInputs:
    """Return what the levers of a player are made from; of nobody in particular for None."""
    squad = _HELD.get(fit)
    if squad is None:
        squad = _HELD[fit] = _of_squad(fit)
    if player is None:
        return squad
    return replace(
        squad,
        logged=tuple(of_player(one, player) for one in squad.logged),
        read=tuple(t for t in DELIVERY if fit.of(player, t).is_read),
    )


def _of_squad(fit: Fit) -> LeverInputs:
    known = [c.effort_sessions for c in fit.changes if c.effort_sessions is not None]
    by_name: dict[str, list[float]] = {}
    by_trait: dict[str, list[float]] = {}
    for change in fit.changes:
        if change.effort_sessions is not None:
            by_name.setdefault(change.name, []).append(change.effort_sessions)
            by_trait.setdefault(change.trait or "", []).append(change.effort_sessions)
    squads = {t: fit.squad(t) for t in fit.traits if t in DELIVERY or TRAITS[t].goal != "none"}
    logged = {t: logged_on(squad.players, None, t) for t, squad in squads.items()}
    best = usual_targets(fit, tuple(t for t in TARGETED if logged[t]))
    return LeverInputs(
        logged=tuple(
            replace(one, way=_way(one, squads[t].players, best.get(t, np.inf)))
            for t, found in logged.items()
            for one in found
        ),
        sizes={t: Sizes(s.spread, s.effect_sd, s.drill_scale) for t, s in squads.items()},
        efforts={name: float(np.mean(sessions)) for name, sessions in by_name.items()},
        trait_efforts={trait: float(np.median(each)) for trait, each in by_trait.items()},
        usual_effort=float(np.median(known)) if known else None,
        read=DELIVERY,
    )


def logged_on(
    players: Mapping[str, PlayerTrait], player: str | None, trait: str
) -> tuple[Logged, ...]:
    """Return every logged name that acts on a trait, in the order of the players."""
    acting: dict[str, dict[str, PlayerTrait]] = {}
    kinds: dict[str, ChangeKind] = {}
    for one in players.values():
        for change in one.changes:
            doers = acting.setdefault(change.name, {})
            kinds.setdefault(change.name, change.kind)
            if one.is_read and one.has_begun(change):
                doers[one.player] = one
    means = next(iter(players.values())).drill_effect
    found = []
    for name, doers in acting.items():
        responses = tuple(_response(doer, name) for doer in doers.values())
        logged = Logged(
            name=name,
            kind=kinds[name],
            trait=trait,
            mean=means[name],
            responses=responses,
            own=None,
            doers=tuple(doers),
            moved=_moved(responses),
        )
        found.append(of_player(logged, player))
    return tuple(found)


def of_player(one: Logged, player: str | None) -> Logged:
    """Return a logged name as it is to one player: with what it did there."""
    if player is None or player not in one.doers:
        return one
    return replace(one, own=one.responses[one.doers.index(player)])


def _way(one: Logged, players: Mapping[str, PlayerTrait], best: float) -> float:
    firsts = [players[name].level[:, 0].astype(np.float64).mean() for name in one.doers]
    return 1.0 if not firsts or best >= float(np.mean(firsts)) else -1.0


def last_begun(doer: PlayerTrait, name: str) -> int:
    """Return the place among a player's changes of the last one of a name that has begun."""
    begun = [
        (change.start, place)
        for place, change in enumerate(doer.changes)
        if change.name == name and doer.has_begun(change)
    ]
    return max(begun)[1]


def _moved(responses: Sequence[Floats]) -> tuple[float, ...]:
    if not responses:
        return ()
    way = np.sign(np.mean([r.mean() for r in responses]))
    return tuple(float(np.median(r)) for r in responses if np.mean(way * r > 0) >= MOVED_CHANCE)


def _response(doer: PlayerTrait, name: str) -> Floats:
    """Return what a change did to a player, the last time it was begun."""
    return doer.change_effect[last_begun(doer, name)]
