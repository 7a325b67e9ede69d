"""Who changed: every player's trait held against the squad's own limit, and how many may be luck.

A flag is a change between the usual windows whose way is at least as sure as the calibrated limit
asks. What is shown together is kept honest together: with P the chance of each flag's way, the mean
of 1 - P over the flags shown is the share of them expected to be wrong (Mueller, Parmigiani & Rice
2006, Bayesian Statistics 8:349), and the bar is raised until that is at most a tenth.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from models.traits import TRAITS
from tracker.decisions.board.start_now import days_of, mean_level
from tracker.decisions.verdict.guards import methods_linked
from tracker.decisions.verdict.windows import Split, default_split
from tracker.interval import Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit

MOST_WRONG: Final = 0.10
"""Largest share of the flags shown that may be expected to be wrong."""

Limit = Callable[[str, bool], float]
"""Trait, and whether the player has a logged change of it, to the P from which it is a flag."""


@dataclass(frozen=True, slots=True)
class Flag:
    """One player's trait that moved."""

    player: str
    trait: str
    chance: float
    """Chance of the way it went, 0 to 1."""
    limit: float
    """What the squad asks of that chance."""
    change: Interval
    """Latest less earlier, trait's unit."""
    before: tuple[date, date]
    after: tuple[date, date]
    logged: str
    """The logged change that the windows meet at; empty where they meet at none."""


@dataclass(frozen=True, slots=True)
class Changed:
    """The flags that are shown, the surest first, and what was looked at to find them."""

    flags: tuple[Flag, ...]
    expected_wrong: float
    """Mean of 1 - P over the flags shown; 0 with none."""
    bar: float | None
    """Lowest P that is shown; None with none."""
    looked_at: int
    """Player and trait pairs that could be judged."""
    held_back: int
    """Flags that passed the limit and not the raised bar."""


def who_changed(
    fit: Fit,
    traits: Collection[str],
    limit: Limit,
    *,
    players: Collection[str] | None = None,
    since: date | None = None,
) -> Changed:
    """Return who changed in which of some traits; a trait in doubt is nobody's."""
    asked = [p.name for p in fit.players if players is None or p.name in players]
    flags, looked_at = [], 0
    for trait in traits:
        if fit.problems_of(trait):
            continue
        for name in asked:
            one = fit.of(name, trait)
            split = usual_split(one, since)
            if split is None or not split.judgeable or unlinked(fit, one, split):
                continue
            looked_at += 1
            flag = _flag(one, split, limit(trait, bool(one.changes)))
            if flag is not None:
                flags.append(flag)
    return kept_honest(flags, looked_at)


def kept_honest(flags: Sequence[Flag], looked_at: int) -> Changed:
    """Return the surest flags, as many as keep the share expected to be wrong at a tenth."""
    ordered = sorted(flags, key=lambda flag: (-flag.chance, flag.player, flag.trait))
    wrong = np.array([1 - flag.chance for flag in ordered])
    running = np.cumsum(wrong) / np.arange(1, wrong.size + 1)
    kept = int(np.sum(running <= MOST_WRONG + 1e-12))  # it only grows, the surest being first
    return Changed(
        flags=tuple(ordered[:kept]),
        expected_wrong=float(running[kept - 1]) if kept else 0.0,
        bar=ordered[kept - 1].chance if kept else None,
        looked_at=looked_at,
        held_back=len(ordered) - kept,
    )


def usual_split(one: PlayerTrait, since: date | None = None) -> Split | None:
    """Return the windows a verdict takes when nobody has picked any, as places among all sessions.

    They meet at the last logged change, or are the first and the latest third.
    """
    read = np.intersect1d(one.places_read, one.places_since(since))
    begun = [change.start.toordinal() for change in one.changes]
    split = default_split(days_of(one, read), begun)
    return None if split is None else Split(read[split.before], read[split.after], split.change)


def _flag(one: PlayerTrait, split: Split, limit: float) -> Flag | None:
    change = mean_level(one, split.after) - mean_level(one, split.before)
    chance = float(max(np.mean(change > 0), np.mean(change < 0)))
    if chance < limit:
        return None
    met = [c.name for c in one.changes if c.start.toordinal() == split.change]
    starts = one.starts
    return Flag(
        player=one.player,
        trait=one.trait,
        chance=chance,
        limit=limit,
        change=Interval.from_draws(change, TRAITS[one.trait].unit),
        before=(starts[split.before[0]].date(), starts[split.before[-1]].date()),
        after=(starts[split.after[0]].date(), starts[split.after[-1]].date()),
        logged=" and ".join(met),
    )


def unlinked(fit: Fit, one: PlayerTrait, split: Split) -> bool:
    """Return whether a change of method forbids a verdict, as it does on the player's page."""
    first, second = one.methods_in(split.before), one.methods_in(split.after)
    return first != second and not methods_linked(fit, one.player, one.trait, first | second)
