"""How players compare within a squad, and drills with each other: ranks as draws, never as facts.

In every draw the players are ranked afresh (1 = best), so a rank has a mean, a 90 % interval and
a chance of being in the top three (Goldstein & Spiegelhalter 1996, J. R. Stat. Soc. A 159:385).
"""

import os
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date

import numpy as np

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.target import Target, player_target
from tracker.errors import NotEnoughData
from tracker.interval import INTERVAL_PROB, Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.records import ChangeKind

TIED_FROM = 0.1
"""Players i and j are tied when P(i ahead of j) lies from here to 1 less this."""


@dataclass(frozen=True, slots=True)
class SquadRow:
    """One player's place in the squad for one trait, at that player's last session."""

    player: str
    level: Interval
    trend_per_month: Interval | None
    expected_rank: float
    rank90: tuple[int, int]
    p_top3: float
    tied_with: tuple[str, ...]
    target_window: tuple[float, float] | None = None
    """Where the trait should be for this player, trait's unit; None without a best level."""
    shortfall: Interval | None = None
    """The yardstick of the place: distance from the player's own best level; None without one."""


@dataclass(frozen=True, slots=True)
class DrillRow:
    """What a drill (or other logged change) does to a trait on average, drift taken out."""

    name: str
    kind: ChangeKind
    trait: str
    effect: Interval
    """Signed like the trait."""
    p_positive: float
    """P(effect > 0)."""
    players: int
    """Who did it and have readings of the trait."""


def shortfall_draws(
    fit: Fit, trait: str, players: tuple[str, ...], targets: Mapping[str, float | None]
) -> Floats:
    """Return draws of how far each player is from best, shape ``(sample, player)``.

    Distance to the player's own target; for a trait without one, the level with its sign turned.
    """
    levels, columns = fit.squad(trait).levels, []
    for player in players:
        level, target = levels[player], targets[player]
        columns.append(-level if target is None else np.abs(level - target))
    return np.stack(columns, axis=1)


def rank_draws(shortfall: Floats) -> Floats:
    """Return the rank of every player in every draw, 1 for the smallest; equals share a rank."""
    from scipy.stats import rankdata  # here, since it takes a second to load and few pages rank

    return np.asarray(rankdata(shortfall, axis=1), dtype=np.float64)


def ahead_chances(shortfall: Floats) -> Floats:
    """Return P(row player ahead of column player); equal draws count half."""
    # one player at a time: a squad of 400 would take a gigabyte at once
    less = np.stack([(one[:, None] < shortfall).mean(axis=0) for one in shortfall.T])
    return np.asarray((1 + less - less.T) / 2, dtype=np.float64)


def squad_targets(
    fit: Fit,
    trait: str,
    players: Collection[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Mapping[str, Target | None]:
    """Return where a trait should be for each player who has readings of it, two at a time.

    ``players`` are all of the fit unless given; ``progress`` is told (done, in all) in the
    caller's thread.
    """
    names = _read(fit, trait, players)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        jobs = [pool.submit(player_target, fit, name, trait) for name in names]
        for done, job in enumerate(jobs, start=1):
            job.result()
            if progress is not None:
                progress(done, len(jobs))
    return {name: job.result() for name, job in zip(names, jobs, strict=True)}


def squad_table(
    fit: Fit,
    trait: str,
    *,
    players: Collection[str] | None = None,
    since: date | None = None,
    targets: Mapping[str, Target | None] | None = None,
) -> tuple[SquadRow, ...]:
    """Return the players with readings of a trait, best expected rank first.

    Places are among ``players`` (all of the fit unless given); a trend is over the sessions
    ``since`` a day. ``targets`` is ``squad_targets`` of them, where it is at hand.
    """
    names = _read(fit, trait, players)
    if not names:
        raise NotEnoughData(f"nobody in the fit has {TRAITS[trait].label} readings")
    aims = squad_targets(fit, trait, names) if targets is None else targets
    best = {p: None if (aim := aims[p]) is None else aim.best for p in names}
    shortfall = shortfall_draws(fit, trait, names, best)
    ranks, ahead = rank_draws(shortfall), ahead_chances(shortfall)
    rows = [
        SquadRow(
            player=player,
            level=Interval.from_draws(fit.of(player, trait).now, TRAITS[trait].unit),
            trend_per_month=_trend(fit.of(player, trait), since),
            expected_rank=float(ranks[:, i].mean()),
            rank90=_rank90(ranks[:, i]),
            p_top3=float((ranks[:, i] <= 3).mean()),
            tied_with=tuple(
                names[j]
                for j in np.flatnonzero((ahead[i] >= TIED_FROM) & (ahead[i] <= 1 - TIED_FROM))
                if j != i
            ),
            target_window=None if (aim := aims[player]) is None else aim.window,
            shortfall=None
            if best[player] is None
            else Interval.from_draws(shortfall[:, i], TRAITS[trait].unit),
        )
        for i, player in enumerate(names)
    ]
    return tuple(sorted(rows, key=lambda row: (row.expected_rank, row.player)))


def _read(fit: Fit, trait: str, players: Collection[str] | None) -> tuple[str, ...]:
    """Return which of some players have readings of a trait, in the order of the fit."""
    asked = None if players is None else set(players)
    return tuple(
        name
        for name, one in fit.squad(trait).players.items()
        if one.is_read and (asked is None or name in asked)
    )


def drill_table(fit: Fit) -> tuple[DrillRow, ...]:
    """Return every drill with each trait it acts on, the surest direction first."""
    rows = []
    for trait in fit.traits:
        squad = fit.squad(trait)
        read = [one for one in squad.players.values() if one.is_read]
        for drill, effect in squad.drill_effect.items():
            done = [
                one
                for one in read
                if any(c.name == drill and one.has_begun(c) for c in one.changes)
            ]
            if not done:
                continue
            rows.append(
                DrillRow(
                    name=drill,
                    kind=next(c.kind for c in fit.changes if c.name == drill),
                    trait=trait,
                    effect=Interval.from_draws(effect, TRAITS[trait].unit),
                    p_positive=float(np.mean(effect > 0)),
                    players=len(done),
                )
            )
    return tuple(sorted(rows, key=lambda r: (-abs(r.p_positive - 0.5), r.name, r.trait)))


def _rank90(ranks: Floats) -> tuple[int, int]:
    tail = (1 - INTERVAL_PROB) / 2
    low, high = np.quantile(ranks, [tail, 1 - tail], method="inverted_cdf")
    return int(np.floor(low)), int(np.ceil(high))


def _trend(one: PlayerTrait, since: date | None) -> Interval | None:
    try:
        draws = one.trend(one.places_since(since))
    except NotEnoughData:
        return None
    return Interval.from_draws(draws, f"{TRAITS[one.trait].unit} per month")


def last_changed(fit: Fit) -> tuple[str | None, str | None]:
    """Return player and trait of the latest logged change that has been fitted."""
    started = fit.acting_changes
    if not started:
        return None, None
    last = max(started, key=lambda change: change.start)
    return last.player, last.trait


def top_words(table: Sequence[SquadRow], alone: str) -> str:
    """Return who stands at the top of a table, ``alone`` where nobody shares the place."""
    if not table:
        return "nobody has a reading yet."
    first, tied = table[0].player, len(table[0].tied_with)
    if len(table) == 1:
        return f"only {first} has readings."
    if not tied:
        return f"{first} {alone}."
    if tied == len(table) - 1:
        return "nobody can be told apart yet."
    return f"{tied + 1} of {len(table)} cannot be told apart at the top."
