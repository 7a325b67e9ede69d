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
from tracker.posterior import Fit, PlayerTrait
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
    less = (shortfall[:, :, None] < shortfall[:, None, :]).mean(axis=0)
    more = (shortfall[:, :, None] > shortfall[:, None, :]).mean(axis=0)
    return np.asarray(less + (1 - less - more) / 2, dtype=np.float64)


def squad_table(fit: Fit, trait: str) -> tuple[SquadRow, ...]:
    """Return the players with readings of a trait, best expected rank first."""
    read = {name: one for name, one in fit.squad(trait).players.items() if one.is_read}
    players = tuple(read)
    if not players:
        raise NotEnoughData(f"nobody in the fit has {TRAITS[trait].label} readings")
    targets = {p: player_target(fit, p, trait) for p in players}
    best = {p: None if aim is None else aim.best for p, aim in targets.items()}
    shortfall = shortfall_draws(fit, trait, players, best)
    ranks, ahead = rank_draws(shortfall), ahead_chances(shortfall)
    rows = [
        SquadRow(
            player=player,
            level=Interval.from_draws(read[player].now, TRAITS[trait].unit),
            trend_per_month=_trend(read[player]),
            expected_rank=float(ranks[:, i].mean()),
            rank90=_rank90(ranks[:, i]),
            p_top3=float((ranks[:, i] <= 3).mean()),
            tied_with=tuple(
                other
                for j, other in enumerate(players)
                if j != i and TIED_FROM <= ahead[i, j] <= 1 - TIED_FROM
            ),
            target_window=None if (aim := targets[player]) is None else aim.window,
        )
        for i, player in enumerate(players)
    ]
    return tuple(sorted(rows, key=lambda row: (row.expected_rank, row.player)))


def drill_table(fit: Fit) -> tuple[DrillRow, ...]:
    """Return every drill with each trait it acts on, the surest direction first."""
    rows = []
    for trait in fit.traits:
        squad = fit.squad(trait)
        read = [one for one in squad.players.values() if one.is_read]
        for drill, effect in squad.drill_effect.items():
            done = [one for one in read if any(c.name == drill for c in one.changes)]
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


def _rank90(ranks: NDArray[np.float64]) -> tuple[int, int]:
    tail = (1 - INTERVAL_PROB) / 2
    low, high = np.quantile(ranks, [tail, 1 - tail], method="inverted_cdf")
    return int(np.floor(low)), int(np.ceil(high))


def _trend(one: PlayerTrait) -> Interval | None:
    try:
        draws = one.trend()
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
