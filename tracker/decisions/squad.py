"""How players compare within a squad, and drills with each other: ranks as draws, never as facts.

In every draw the players are ranked afresh (1 = best), so a rank has a mean, a 90 % interval and
a chance of being in the top three (Goldstein & Spiegelhalter 1996, J. R. Stat. Soc. A 159:385).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.target import player_target
from tracker.errors import NotEnoughData
from tracker.interval import INTERVAL_PROB, Interval
from tracker.posterior import (
    Fit,
    drill_effect_draws,
    level_draws,
    reading_count,
    trend_draws,
)
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


@dataclass(frozen=True, slots=True)
class DrillRow:
    """What a drill (or other logged change) does to a trait on average, drift taken out.

    ``effect`` is signed like the trait; ``p_positive`` is P(effect > 0); ``players`` counts those
    who did it and have readings of the trait.
    """

    name: str
    kind: ChangeKind
    trait: str
    effect: Interval
    p_positive: float
    players: int


def shortfall_draws(
    fit: Fit, trait: str, players: tuple[str, ...], targets: Mapping[str, float | None]
) -> Floats:
    """Return draws of how far each player is from best, shape ``(sample, player)``.

    Distance to the player's own target; for a trait without one, the level with its sign turned.
    """
    columns = []
    for player in players:
        level, target = level_draws(fit, player, trait), targets[player]
        columns.append(-level if target is None else np.abs(level - target))
    return np.stack(columns, axis=1)


def rank_draws(shortfall: Floats) -> Floats:
    """Return the rank of every player in every draw, 1 for the smallest; equals share a rank."""
    from scipy.stats import rankdata  # here, since it takes a second to load and few pages rank

    return np.asarray(rankdata(shortfall, axis=1), dtype=np.float64)


def ahead_chances(shortfall: Floats) -> Floats:
    """Return P(row player ahead of column player); equal draws count half."""
    less = (shortfall[:, :, None] < shortfall[:, None, :]).mean(axis=0)
    more = (shortfall[:, :, None] > shortfall[:, None, :]).mean(axis=0)
    return np.asarray(less + (1 - less - more) / 2, dtype=np.float64)


def squad_table(fit: Fit, trait: str) -> tuple[SquadRow, ...]:
    """Return the players with readings of a trait, best expected rank first."""
    players = tuple(p.name for p in fit.players if reading_count(fit, p.name, trait)[0])
    if not players:
        raise NotEnoughData(f"nobody in the fit has {TRAITS[trait].label} readings")
    targets = {p: player_target(fit, p, trait) for p in players}
    shortfall = shortfall_draws(fit, trait, players, targets)
    ranks, ahead = rank_draws(shortfall), ahead_chances(shortfall)
    rows = [
        SquadRow(
            player=player,
            level=Interval.from_draws(level_draws(fit, player, trait), TRAITS[trait].unit),
            trend_per_month=_trend(fit, player, trait),
            expected_rank=float(ranks[:, i].mean()),
            rank90=_rank90(ranks[:, i]),
            p_top3=float((ranks[:, i] <= 3).mean()),
            tied_with=tuple(
                other
                for j, other in enumerate(players)
                if j != i and TIED_FROM <= ahead[i, j] <= 1 - TIED_FROM
            ),
        )
        for i, player in enumerate(players)
    ]
    return tuple(sorted(rows, key=lambda row: (row.expected_rank, row.player)))


def drill_table(fit: Fit) -> tuple[DrillRow, ...]:
    """Return every drill with each trait it acts on, the surest direction first."""
    rows = []
    for drill in fit.drills:
        changes = [i for i, c in enumerate(fit.changes) if c.name == drill]
        for k, trait in enumerate(fit.traits):
            done = {
                fit.changes[i].player
                for i in changes
                if fit.affects[i, k] and reading_count(fit, fit.changes[i].player, trait)[0]
            }
            if not done:
                continue
            effect = drill_effect_draws(fit, drill, trait)
            rows.append(
                DrillRow(
                    name=drill,
                    kind=fit.changes[changes[0]].kind,
                    trait=trait,
                    effect=Interval.from_draws(effect, TRAITS[trait].unit),
                    p_positive=float(np.mean(effect > 0)),
                    players=len(done),
                )
            )
    return tuple(sorted(rows, key=lambda r: (-abs(r.p_positive - 0.5), r.name, r.trait)))


def _rank90(ranks: NDArray[np.float64]) -> tuple[int, int]:
    tail = (1 - INTERVAL_PROB) / 2
    low, high = np.quantile(ranks, [tail, 1 - tail], method="inverted_cdf")
    return int(np.floor(low)), int(np.ceil(high))


def _trend(fit: Fit, player: str, trait: str) -> Interval | None:
    try:
        draws = trend_draws(fit, player, trait)
    except NotEnoughData:
        return None
    return Interval.from_draws(draws, f"{TRAITS[trait].unit} per month")


def last_changed(fit: Fit) -> tuple[str | None, str | None]:
    """Return player and trait of the latest logged change that has been fitted."""
    started = [c for i, c in enumerate(fit.changes) if fit.affects[i].any()]
    if not started:
        return None, None
    last = max(started, key=lambda change: change.start)
    return last.player, last.trait
