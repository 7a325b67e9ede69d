"""What each logged change does to a trait it acts on: in the squad, and in each who did it.

Only the effect of the change counts, ``D`` on average over players and ``delta`` in one player: the
level's creep and changes that nobody logged have terms of their own in the model. So has a player's
starting point, so that one picked after a bad day owes nothing to the drill for getting better.

An effect helps when it points from where a player stood before the change toward that player's own
target (up, where more is better); the squad's way is that of the mean over those who did it. Of a
trait without a better way nothing can work.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal
from zlib import crc32

import numpy as np

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.drill_sizes import next_drill_means
from tracker.decisions.distance.lever_inputs import (
    LeverInputs,
    Logged,
    last_begun,
    lever_inputs,
    logged_on,
)
from tracker.decisions.distance.levers import Lever, effort_of, new_drill
from tracker.decisions.distance.order import Order, lever_order
from tracker.decisions.verdict.worthwhile import worthwhile_change
from tracker.interval import Z90, Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.records import ChangeKind

WORKS: Final = 0.95
"""Least chance that an effect helps at which a change is said to work (a two-sided 90 %)."""
SURE: Final = 0.9
"""Least chance of being beyond, or within, the worthwhile change at which the size is settled."""
MOST_MORE_PLAYERS: Final = 30
"""More players than this will not come: then nothing is said to settle it."""

_NEW: Final = "new"
"""Key of a new drill among a trait's changes; theirs start with ``logged``."""

Finding = Literal["helps-enough", "helps", "no-difference", "against", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a change did to one player; levels and effects in the trait's unit and sign."""

    player: str
    start: date
    """Day of the last time it was begun."""
    before: float
    """Mean level at the last session before, or at the first where there is none."""
    stood: Interval
    """The same with its range."""
    target: float | None
    """None where more is better."""
    way: float
    """Sign of an effect that helps this player."""
    effect: Interval
    worthwhile: float
    p_toward: float
    """Chance that the effect points the player's way."""
    p_helped: float
    """Chance that it does by more than the worthwhile change."""
    p_no_difference: float
    """Chance that it is smaller than the worthwhile change either way."""
    finding: Finding


@dataclass(frozen=True, slots=True)
class WorkedRow:
    """What one logged name does to one trait, over those who did it."""

    name: str
    kind: ChangeKind
    trait: str
    way: float
    """Sign of an effect that helps most of those who did it."""
    other_way: int
    """How many of them would have needed the other sign."""
    effect: Interval
    """Mean over players, the trait's unit, + as it is signed."""
    spread: Interval | None
    """SD of the effect between those who did it; None for one player."""
    worthwhile: float
    """Median of theirs, the trait's unit."""
    p_positive: float
    """P(mean effect > 0)."""
    p_helps: float
    """Chance that the mean effect points the squad's way."""
    p_worthwhile: float
    """Chance that it does by more than the worthwhile change."""
    p_no_difference: float
    """Chance that it is smaller than that either way."""
    helped: Interval
    """Share of those who did it helped beyond their worthwhile change, 0 to 1."""
    unmoved: Interval
    """Share moved by less than it either way."""
    effort_sessions: float
    effect_per_session: Interval
    """The way that helps, trait's unit a session of practice."""
    p_best: float
    """Chance of most help a session among the trait's changes and a new drill."""
    expected_regret: float
    """Help missed over its sessions by not doing what is best in each draw, trait's unit."""
    more_players: int | None
    """At least so many more players would settle whether it helps, if it goes on as it does; 0
    where that is settled, None where no squad has so many."""
    finding: Finding
    answers: tuple[Answer, ...]

    @property
    def players(self) -> int:
        """Return how many did it and have readings of the trait."""
        return len(self.answers)


@dataclass(frozen=True, slots=True)
class NewDrill:
    """What a drill nobody here has done may do, the way that helps, as the others are compared."""

    name: str
    effect: Interval
    effort_sessions: float
    p_best: float
    expected_regret: float


@dataclass(frozen=True, slots=True)
class TraitWorks:
    """Everything logged for one trait, most help a session first, beside a new drill."""

    trait: str
    rows: tuple[WorkedRow, ...]
    new_drill: NewDrill


Reason = Literal["no-better-way", "in-doubt", "not-read", "none-logged"]


@dataclass(frozen=True, slots=True)
class NotJudged:
    """Logged changes of a trait of which nothing is said, and why."""

    trait: str
    names: tuple[str, ...]
    """Empty where no logged change acts on the trait."""
    reason: Reason


@dataclass(frozen=True, eq=False, slots=True)
class _Doers:
    """Those who did one logged change, and what it did to each: draws ``(sample, player)``."""

    logged: Logged
    answers: tuple[Answer, ...]
    effects: Floats
    worthwhile: Floats
    ways: Floats

    @property
    def key(self) -> str:
        """Return what tells it from a trait's other changes."""
        return f"logged {self.logged.name}"

    @property
    def way(self) -> float:
        """Return the sign of an effect that helps most of them."""
        gaps = [
            w if a.target is None else a.target - a.before
            for a, w in zip(self.answers, self.ways, strict=True)
        ]
        return _sign(float(np.mean(gaps)))


def what_works(fit: Fit, trait: str | None = None) -> tuple[TraitWorks, ...]:
    """Return what works for each trait, or for one, in the fit's order.

    Left out are traits that no logged change acts on in a player with readings, traits without a
    better way, and traits whose own part of the fit is in doubt. Raises NotEnoughData for a trait
    that the fit does not hold.
    """
    if trait is not None:
        fit.squad(trait)
    inputs = lever_inputs(fit, None)
    found = (
        _of_trait(fit, inputs, name)
        for name in (fit.traits if trait is None else (trait,))
        if TRAITS[name].goal != "none" and not fit.problems_of(name)
    )
    return tuple(one for one in found if one is not None)


def not_judged(fit: Fit, trait: str | None = None) -> tuple[NotJudged, ...]:
    """Return for each trait, or for one, the changes that ``what_works`` leaves out, and why.

    A trait that no logged change acts on is named only when it is asked for.
    """
    found = (
        _not_judged(fit, name, asked=trait is not None)
        for name in (fit.traits if trait is None else (trait,))
    )
    return tuple(one for one in found if one is not None)


def _not_judged(fit: Fit, trait: str, *, asked: bool) -> NotJudged | None:
    logged = logged_on(fit.squad(trait).players, None, trait)
    names = tuple(one.name for one in logged)
    if not names:
        return NotJudged(trait, (), "none-logged") if asked else None
    if TRAITS[trait].goal == "none":
        return NotJudged(trait, names, "no-better-way")
    if fit.problems_of(trait):
        return NotJudged(trait, names, "in-doubt")
    unread = tuple(one.name for one in logged if not one.responses)
    return NotJudged(trait, unread, "not-read") if unread else None


def finding_of(p_toward: float, p_enough: float, p_no_difference: float) -> Finding:
    """Return what three chances say of an effect; ``p_toward`` is that of the way that helps."""
    if p_toward >= WORKS and p_enough >= SURE:
        return "helps-enough"
    if p_no_difference >= SURE:
        return "no-difference"
    if p_toward >= WORKS:
        return "helps"
    return "against" if 1 - p_toward >= WORKS else "cannot-tell"


def players_to_settle(help_draws: Floats, effect_sd: Floats, answers: Floats) -> int | None:
    """Return how many more players, at least, would settle whether a change helps.

    ``help_draws`` are of the mean effect, ``effect_sd`` of how far players differ about it, both
    ``(sample,)``; ``answers`` of the effect in each who did it, ``(sample, player)``. One player
    more tells of the mean with variance tau^2 + e^2, e what is left open of one player's effect by
    the readings of this squad; the mean is taken to stay where it is, and to be settled when it is
    1.645 SDs from 0. None beyond ``MOST_MORE_PLAYERS``.
    """
    mean, sd = abs(float(help_draws.mean())), float(help_draws.std())
    if mean >= Z90 * sd:
        return 0
    one_more = float(np.mean(effect_sd**2) + answers.var(axis=0).mean())
    if mean <= 0 or one_more <= 0:
        return None
    needed = ((Z90 / mean) ** 2 - sd**-2) * one_more
    return None if needed > MOST_MORE_PLAYERS else int(np.ceil(needed - 1e-9))


def _of_trait(fit: Fit, inputs: LeverInputs, trait: str) -> TraitWorks | None:
    squad = fit.squad(trait)
    players = squad.players
    logged = [one for one in logged_on(players, None, trait) if one.responses]
    if not logged:
        return None
    done = [_doers(fit, players, one) for one in logged]
    fresh = _new_drill_help(inputs, trait)
    fresh_lever = new_drill(trait)
    helps = {one.key: one.way * one.logged.mean for one in done} | {_NEW: fresh}
    levers = {one.key: Lever(one.logged.name, one.logged.kind, trait) for one in done}
    efforts = {key: effort_of(inputs, lever) for key, lever in levers.items()}
    efforts[_NEW] = effort_of(inputs, fresh_lever)
    order = lever_order(helps, efforts)
    rows = {one.key: _row(one, squad.effect_sd, efforts[one.key], order) for one in done}
    return TraitWorks(
        trait=trait,
        rows=tuple(rows[key] for key in order.keys if key != _NEW),
        new_drill=NewDrill(
            name=fresh_lever.name,
            effect=Interval.from_draws(fresh, TRAITS[trait].unit),
            effort_sessions=efforts[_NEW],
            p_best=order.p_best[_NEW],
            expected_regret=order.regret_m[_NEW],
        ),
    )


def _doers(fit: Fit, players: Mapping[str, PlayerTrait], logged: Logged) -> _Doers:
    answers = tuple(
        _answer(fit, players[name], logged.name, effect)
        for name, effect in zip(logged.doers, logged.responses, strict=True)
    )
    return _Doers(
        logged=logged,
        answers=answers,
        effects=np.stack(logged.responses, axis=1),
        worthwhile=np.array([a.worthwhile for a in answers]),
        ways=np.array([a.way for a in answers]),
    )


def _answer(fit: Fit, one: PlayerTrait, name: str, effect: Floats) -> Answer:
    change = one.changes[last_begun(one, name)]
    worth = worthwhile_change(fit, one.player, one.trait)
    earlier = sum(start.date() < change.start for start in one.starts)
    level = one.path[:, max(0, earlier - 1)]
    before = float(level.mean())
    way = 1.0 if worth.target is None else _sign(worth.target - before)
    toward = way * effect
    chances = (
        float(np.mean(toward > 0)),
        float(np.mean(toward > worth.value)),
        float(np.mean(np.abs(effect) < worth.value)),
    )
    return Answer(
        player=one.player,
        start=change.start,
        before=before,
        stood=Interval.from_draws(level, TRAITS[one.trait].unit),
        target=worth.target,
        way=way,
        effect=Interval.from_draws(effect, TRAITS[one.trait].unit),
        worthwhile=worth.value,
        p_toward=chances[0],
        p_helped=chances[1],
        p_no_difference=chances[2],
        finding=finding_of(*chances),
    )


def _row(done: _Doers, effect_sd: Floats, effort: float, order: Order) -> WorkedRow:
    logged, unit, way = done.logged, TRAITS[done.logged.trait].unit, done.way
    enough = float(np.median(done.worthwhile))
    helps = way * logged.mean
    chances = (
        float(np.mean(helps > 0)),
        float(np.mean(helps > enough)),
        float(np.mean(np.abs(logged.mean) < enough)),
    )
    each = done.ways * done.effects
    return WorkedRow(
        name=logged.name,
        kind=logged.kind,
        trait=logged.trait,
        way=way,
        other_way=int(np.sum(done.ways != way)),
        effect=Interval.from_draws(logged.mean, unit),
        spread=_spread(done.effects, unit),
        worthwhile=enough,
        p_positive=float(np.mean(logged.mean > 0)),
        p_helps=chances[0],
        p_worthwhile=chances[1],
        p_no_difference=chances[2],
        helped=Interval.from_draws((each > done.worthwhile).mean(axis=1), "of those who did it"),
        unmoved=Interval.from_draws(
            (np.abs(each) < done.worthwhile).mean(axis=1), "of those who did it"
        ),
        effort_sessions=effort,
        effect_per_session=Interval.from_draws(helps / effort, f"{unit} a session"),
        p_best=order.p_best[done.key],
        expected_regret=order.regret_m[done.key],
        more_players=players_to_settle(helps, effect_sd, done.effects),
        finding=finding_of(*chances),
        answers=tuple(sorted(done.answers, key=lambda a: -a.way * a.effect.median)),
    )


def _spread(effects: Floats, unit: str) -> Interval | None:
    if effects.shape[1] < 2:
        return None
    return Interval.from_draws(effects.std(axis=1, ddof=1), unit)


def _new_drill_help(inputs: LeverInputs, trait: str) -> Floats:
    """Return draws of what a new drill does on average, the way that helps."""
    rng = np.random.default_rng([crc32(b"a new drill"), crc32(trait.encode())])
    every = np.arange(inputs.sizes[trait].between.size)
    return next_drill_means(inputs, trait, every, rng)


def _sign(value: float) -> float:
    return -1.0 if value < 0 else 1.0
