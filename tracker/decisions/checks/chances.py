"""What the chances that earlier fits gave have come to, as a later fit with more shots sees it.

An earlier fit said of something which way it is, with chance p (at least one half), and said 90 %
intervals. The later fit holds draws of the very same thing: the share of them that agree is its own
chance q. Whoever reckons rightly expects, on average over what was said, q = p: today's chance is
the mean of tomorrow's (the beliefs are a martingale). So among chances of some size the later ones
must average that size, and nine in ten intervals must hold. That is by the later fit's lights and
not by the truth: both fits share the model and the earlier shots.

Only what the later fit has read more of counts. The share that came right is drawn with the later
fit's own draws, and with weights from a flat Dirichlet distribution over those it was said of (the
Bayesian bootstrap: Rubin 1981, Annals of Statistics 9:130), since what is said of one player comes
right or wrong together.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from models.arrays import Bools, Floats, Indices
from tracker.decisions.board.changed import unlinked, usual_split
from tracker.decisions.board.start_now import mean_level
from tracker.decisions.distance.lever_inputs import lever_inputs
from tracker.decisions.distance.levers import trait_effects
from tracker.decisions.distance.target import Target
from tracker.decisions.promises.found import effect_of
from tracker.interval import INTERVAL_PROB, Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.promise import Promise

Kind = Literal["level", "moved", "unlogged", "answer", "average", "promise"]
"""Of what something is said: where a player stands, whether and which way a trait moved between the
usual windows, whether something changed that nobody logged, which way a logged change acts in its
player and on average over players, and whether a promised change acts toward the target."""

ALIKE: Final = 0.01
"""Shares that differ by less are alike: a chance is said to one in a hundred."""
BIN_ENDS: Final = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0)
"""Ends of the bins of chances: finer where more is claimed."""


@dataclass(frozen=True, slots=True)
class ChanceRow:
    """Chances that were given, and the share of what they were given for that came right.

    A share is from 0 to 1, by the later fit's lights.
    """

    said: int
    """How often something was said."""
    about: int
    """Of how many players, or of how many changes where these are judged on average."""
    claimed: float
    """Mean of the chances given."""
    right: float
    """Share that came right, as the later fit expects it."""
    low90: float
    high90: float
    """Ends of that share, with the later fit's doubt and that of having so few."""

    @property
    def too_sure(self) -> bool:
        """Return whether more was claimed than came right, beyond the doubt."""
        return self.claimed > self.high90 + ALIKE

    @property
    def too_timid(self) -> bool:
        """Return whether more came right than was claimed, beyond the doubt."""
        return self.claimed < self.low90 - ALIKE


@dataclass(frozen=True, slots=True)
class ChanceBook:
    """All chances and intervals that earlier fits gave, beside what the newest one believes."""

    newest: int
    """Number of the fit that judges."""
    fits: tuple[int, ...]
    """Numbers of those that are judged, the earliest first."""
    every: ChanceRow | None
    """All chances together; None where nothing can be judged."""
    bins: tuple[tuple[float, float, ChanceRow], ...]
    """From, to, and the chances of that size; empty bins are left out."""
    kinds: tuple[tuple[Kind, ChanceRow], ...]
    intervals: tuple[tuple[Kind, ChanceRow], ...]
    """90 % intervals: ``right`` is the share that holds."""
    narrowed: float
    """Median width of the same intervals now over then; 1 where nothing was learned, and then
    agreement proves nothing. NaN without an interval."""


@dataclass(frozen=True, eq=False, slots=True)
class _Said:
    """One thing said, and in which draws of the later fit it is right."""

    kind: Kind
    about: str
    claimed: float
    right: Bools


@dataclass(frozen=True, eq=False, slots=True)
class _Held:
    """One 90 % interval, in which draws of the later fit it holds, and its width now over then."""

    kind: Kind
    about: str
    right: Bools
    width: float

    @property
    def claimed(self) -> float:
        """Return the mass of every interval."""
        return INTERVAL_PROB


_Found = list["_Said | _Held"]


def chance_book(
    newest: Fit, earlier: Iterable[Fit], promises: Sequence[Promise] = ()
) -> ChanceBook:
    """Return what the newest fit makes of what earlier ones said; it holds one of them at a time.

    Left out is what a fit is in doubt about, and what nothing was read of since.
    """
    found: _Found = []
    numbers = []
    for fit in earlier:
        numbers.append(fit.info.fit_id)
        for trait in fit.traits:
            if trait in newest.traits and not fit.problems_of(trait) + newest.problems_of(trait):
                found += _of_trait(fit, newest, trait)
        found += _of_promises(fit, newest, promises)
    said = [one for one in found if isinstance(one, _Said)]
    held = [one for one in found if isinstance(one, _Held)]
    return ChanceBook(
        newest=newest.info.fit_id,
        fits=tuple(sorted(numbers)),
        every=_row(said) if said else None,
        bins=tuple(
            (low, high, _row(inside))
            for low, high in pairwise(BIN_ENDS)
            if (inside := [s for s in said if low <= s.claimed < high or s.claimed == high == 1])
        ),
        kinds=_by_kind(said),
        intervals=_by_kind(held),
        narrowed=float(np.median([one.width for one in held])) if held else float("nan"),
    )


def _by_kind(found: Sequence[_Said | _Held]) -> tuple[tuple[Kind, ChanceRow], ...]:
    kinds = dict.fromkeys(one.kind for one in found)
    return tuple((kind, _row([one for one in found if one.kind == kind])) for kind in kinds)


def _row(found: Sequence[_Said | _Held]) -> ChanceRow:
    """Return how much of what was said came right; ``found`` holds one at least."""
    names = list(dict.fromkeys(one.about for one in found))
    place = {name: i for i, name in enumerate(names)}
    samples = found[0].right.size
    right, said = np.zeros((samples, len(names))), np.zeros(len(names))
    for one in found:
        right[:, place[one.about]] += one.right
        said[place[one.about]] += 1
    weights = np.random.default_rng([7, samples, len(names)]).dirichlet(
        np.ones(len(names)), size=samples
    )
    share = (weights * right).sum(axis=1) / (weights @ said)
    doubt = Interval.from_draws(share, "")
    return ChanceRow(
        said=len(found),
        about=len(names),
        claimed=float(np.mean([one.claimed for one in found])),
        right=float(right.sum() / (samples * said.sum())),
        low90=doubt.low90,
        high90=doubt.high90,
    )


def _of_trait(old: Fit, new: Fit, trait: str) -> Iterator[_Said | _Held]:
    more: set[str] = set()
    for player in old.players:
        if not new.knows(player.name):
            continue
        then, now = old.of(player.name, trait), new.of(player.name, trait)
        if then.is_read and now.readings > then.readings:
            more.add(player.name)
            yield from _of_player(old, then, now)
    yield from _on_average(old, new, trait, more)


def _of_player(old: Fit, then: PlayerTrait, now: PlayerTrait) -> Iterator[_Said | _Held]:
    same = _same_sessions(then, now)
    if same is None:
        return  # sessions were taken out since: it is no longer the same that is said
    yield _held("level", then.player, then.now, now.level[:, same[-1]].astype(np.float64))
    split = usual_split(then)
    if split is not None and split.judgeable and not unlinked(old, then, split):
        moved = mean_level(then, split.after) - mean_level(then, split.before)
        seen = mean_level(now, same[split.after]) - mean_level(now, same[split.before])
        yield from _both("moved", then.player, moved, seen)
    if then.jump_at.max() >= 0 and len(same) > 1:
        at = now.jump_at.astype(np.int64)
        by_then = (at > 0) & (now.times[np.maximum(at, 0)] <= then.times[-1])
        yield _said("unlogged", then.player, then.unlogged_chance, by_then)
    for change, effect in zip(then.changes, then.change_effect, strict=True):
        found = effect_of(now, change)
        if found is not None and then.has_begun(change):
            yield from _both("answer", then.player, effect, found)


def _on_average(old: Fit, new: Fit, trait: str, more: set[str]) -> Iterator[_Said | _Held]:
    """Yield what was said of changes on average, of those that a player with new shots did."""
    then, now = old.squad(trait).drill_effect, new.squad(trait).drill_effect
    doers = [old.of(name, trait) for name in more]
    done = {change.name for one in doers for change in one.changes if one.has_begun(change)}
    for name in sorted(done & now.keys()):
        yield from _both("average", f"{name}, {trait}", then[name], now[name])


def _of_promises(old: Fit, new: Fit, promises: Sequence[Promise]) -> Iterator[_Said]:
    for promise in promises:
        if promise.fit_id != old.info.fit_id or new.problems_of(promise.trait):
            continue
        player, trait = promise.change.player, promise.trait
        if not (old.knows(player) and new.knows(player) and trait in new.traits):
            continue
        now = new.of(player, trait)
        read_since = now.counts[:, now.places_since(promise.change.start)].sum()
        effect = effect_of(now, promise.change)
        if effect is not None and read_since:
            toward = _promised(old, promise)
            if toward is not None:
                way, chance = toward
                yield _said("promise", player, chance, way * effect > 0)


def _promised(fit: Fit, promise: Promise) -> tuple[float, float] | None:
    """Return the sign that helps, and the chance the fit gave that the effect has it."""
    player, trait, best = promise.change.player, promise.trait, promise.target
    level = fit.of(player, trait).now
    # of a target a lever asks only where it is
    target = Target(trait, best, (best, best), top=0.0, beyond=best, at_edge=False)
    inputs = lever_inputs(fit, player)
    for one in trait_effects(inputs, player, target, level, np.arange(fit.samples)):
        if one.lever.name == promise.lever:
            way = -1.0 if best < float(level.mean()) else 1.0
            return way, float(np.mean(way * one.effect > 0))
    return None


def _same_sessions(then: PlayerTrait, now: PlayerTrait) -> Indices | None:
    """Return where the later fit has the sessions of the earlier; None where one is missing."""
    place = np.searchsorted(now.times, then.times)
    if place.max(initial=0) >= now.times.size or (now.times[place] != then.times).any():
        return None
    return place


def _both(kind: Kind, about: str, then: Floats, now: Floats) -> Iterator[_Said | _Held]:
    """Yield the way that draws pointed and their interval."""
    yield _said(kind, about, float(np.mean(then > 0)), now > 0)
    yield _held(kind, about, then, now)


def _said(kind: Kind, about: str, chance: float, so: Bools) -> _Said:
    """Return a chance as that of the likelier side."""
    return _Said(kind, about, chance, so) if chance >= 0.5 else _Said(kind, about, 1 - chance, ~so)


def _held(kind: Kind, about: str, then: Floats, now: Floats) -> _Held:
    said, seen = Interval.from_draws(then, ""), Interval.from_draws(now, "")
    width = said.high90 - said.low90
    narrowed = (seen.high90 - seen.low90) / width if width > 0 else 1.0
    return _Held(kind, about, (said.low90 <= now) & (now <= said.high90), narrowed)
