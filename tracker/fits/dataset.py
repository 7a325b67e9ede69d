"""Shots and logged changes turned into the arrays and names that the tendency model asks for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats, Indices
from models.tendency.data import TendencyData
from models.traits import MODELLED, STRIKES
from tracker.errors import NotEnoughData
from tracker.readings.session_summary import FEW, ShotIndex, TraitSummary, trait_summary
from tracker.records import Change, Player

SECONDS_PER_WEEK = 7 * 24 * 3600.0


@dataclass(frozen=True, eq=False)
class SquadData:
    """The model's arrays with the names and raw means that answers are shown beside."""

    model: TendencyData
    players: tuple[Player, ...]
    methods: tuple[tuple[str, ...], ...]
    changes: tuple[Change, ...]
    change_names: tuple[str, ...]
    group_name: Indices
    session_start: NDArray[np.datetime64]
    readings: Indices
    raw_mean: Floats
    raw_se: Floats
    shots: int
    sessions: int


def squad_data(
    shots: pd.DataFrame,
    changes: Sequence[Change],
    *,
    traits: Sequence[str] = MODELLED,
    references: Sequence[str] = (),
    reading_sds: Mapping[tuple[str, str], float] = MappingProxyType({}),
) -> SquadData:
    """Return the summaries of a squad's shots.

    ``shots`` has one row a shot with ``player``, ``session`` (datetime), ``handed``,
    ``strike_method``, ``delivery_method`` and a column for each trait, NaN where not read.
    ``references`` names methods to take as unbiased, before the usual choice; ``reading_sds``
    holds reading SDs by (trait, method) in place of the table's. Raises ``NotEnoughData`` when no
    trait has any reading.
    """
    traits = tuple(traits)
    used = shots[shots[list(traits)].notna().any(axis=1)]
    if used.empty:
        raise NotEnoughData(
            "no shot with a strike location, attack angle or other club reading is stored; "
            "load a shot log first: drive-progress load FILE"
        )
    players, index, starts = _sessions(used)
    columns = [trait_summary(used, trait, index, references, reading_sds) for trait in traits]
    methods = max(len(c.methods) for c in columns)
    shape = (methods, index.players, index.sessions, len(traits))
    count, mean, readings = np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=np.int64)
    scatter = np.zeros((methods, index.players, len(traits)))
    scatter_df, reading_sd = np.zeros_like(scatter), np.ones((methods, len(traits)))
    for k, column in enumerate(columns):
        own = len(column.methods)
        count[:own, ..., k], mean[:own, ..., k] = column.count, column.mean
        readings[:own, ..., k] = column.readings
        scatter[:own, :, k], scatter_df[:own, :, k] = column.scatter, column.scatter_df
        reading_sd[:own, k] = column.reading_sd
    seconds = (starts - np.nanmin(starts)).astype("timedelta64[s]").astype(np.float64)
    week = np.where(np.isnat(starts), np.inf, seconds / SECONDS_PER_WEEK)
    gap = np.zeros_like(week)
    with np.errstate(invalid="ignore"):
        gap[:, 1:] = np.where(np.isfinite(week[:, 1:]), week[:, 1:] - week[:, :-1], 0.0)
    raw_mean, raw_se = _raw_means(count, mean, scatter, scatter_df)
    effects = _effects(changes, players, traits, starts)
    pair_z, pair_variance = _pairs(columns, index)
    model = TendencyData(
        players=tuple(p.name for p in players),
        traits=traits,
        week=week,
        gap=gap,
        count=count,
        mean=mean,
        scatter=scatter,
        scatter_df=scatter_df,
        reading_sd=reading_sd,
        change_player=effects.player,
        change_week=effects.week,
        effect_change=effects.change,
        effect_trait=effects.trait,
        effect_group=effects.group,
        group_trait=effects.group_trait,
        pair_z=pair_z,
        pair_variance=pair_variance,
        **_missed(shots, players, traits, raw_mean),
    )
    return SquadData(
        model=model,
        players=players,
        methods=tuple(c.methods for c in columns),
        changes=effects.changes,
        change_names=effects.names,
        group_name=effects.group_name,
        session_start=starts,
        readings=readings,
        raw_mean=raw_mean,
        raw_se=raw_se,
        shots=len(used),
        sessions=int((~np.isnat(starts)).sum()),
    )


def _sessions(
    shots: pd.DataFrame,
) -> tuple[tuple[Player, ...], ShotIndex, NDArray[np.datetime64]]:
    """Return players by name, each shot's place, and the start of every session."""
    names, player = np.unique(shots["player"].to_numpy(dtype=str), return_inverse=True)
    start = shots["session"].to_numpy().astype("datetime64[s]")
    pairs = pd.MultiIndex.from_arrays([player, start])
    codes, unique = pd.factorize(pairs, sort=True)
    owner = unique.get_level_values(0).to_numpy()
    moment = unique.get_level_values(1).to_numpy().astype("datetime64[s]")
    first = np.searchsorted(owner, np.arange(len(names)))
    place = np.arange(len(owner)) - first[owner]
    starts = np.full((len(names), int(place.max()) + 1), np.datetime64("NaT", "s"))
    starts[owner, place] = moment
    handed = pd.Series(shots["handed"].to_numpy()).groupby(player).first()
    players = tuple(Player(str(name), handed=handed.iloc[p]) for p, name in enumerate(names))
    index = ShotIndex(player.astype(np.int64), place[codes], len(names), starts.shape[1])
    return players, index, starts


def _missed(
    shots: pd.DataFrame, players: tuple[Player, ...], traits: tuple[str, ...], raw_mean: Floats
) -> dict[str, Floats]:
    """Return how often each player missed the readable face, and where the others lie."""
    strike_mean = np.zeros((len(players), len(STRIKES)))
    if not set(STRIKES) <= set(traits) or "missed_face" not in shots:
        return {"missed": np.zeros(len(players)), "strike_mean": strike_mean}
    counts = shots.loc[shots["missed_face"].astype(bool), "player"].value_counts()
    missed = np.array([float(counts.get(p.name, 0)) for p in players])
    for j, name in enumerate(STRIKES):
        own = raw_mean[:, :, traits.index(name)]
        known = np.isfinite(own)
        total = np.where(known, own, 0.0).sum(axis=1)
        strike_mean[:, j] = total / np.maximum(known.sum(axis=1), 1)
    return {"missed": missed, "strike_mean": strike_mean}


def _raw_means(
    count: Floats, mean: Floats, scatter: Floats, scatter_df: Floats
) -> tuple[Floats, Floats]:
    """Return session means as read, all methods together, and their standard errors."""
    total = count.sum(axis=0)
    safe = np.where(total > 0, total, 1)
    pooled = scatter.sum(axis=0) / np.maximum(scatter_df.sum(axis=0), 1)
    raw = np.where(total > 0, (count * mean).sum(axis=0) / safe, np.nan)
    error = np.where(total > 0, np.sqrt(pooled[:, None, :] / safe), np.nan)
    return raw, error


@dataclass(frozen=True, eq=False)
class _Effects:
    """Logged changes of the squad as index arrays; see ``TendencyData``."""

    changes: tuple[Change, ...]
    names: tuple[str, ...]
    player: Indices
    week: Floats
    change: Indices
    trait: Indices
    group: Indices
    group_name: Indices
    group_trait: Indices


def _effects(
    changes: Sequence[Change],
    players: tuple[Player, ...],
    traits: tuple[str, ...],
    starts: NDArray[np.datetime64],
) -> _Effects:
    """Return the logged changes of players in the squad that touch a modelled trait."""
    place = {p.name: i for i, p in enumerate(players)}
    kept = tuple(c for c in changes if c.player in place and (c.trait is None or c.trait in traits))
    names = tuple(sorted({c.name for c in kept}))
    origin = np.nanmin(starts)
    groups: dict[tuple[int, int], int] = {}
    rows: list[tuple[int, int, int]] = []
    for c, change in enumerate(kept):
        touched = range(len(traits)) if change.trait is None else [traits.index(change.trait)]
        for k in touched:
            group = groups.setdefault((names.index(change.name), k), len(groups))
            rows.append((c, k, group))
    weeks = [
        (np.datetime64(c.start, "s") - origin).astype(np.int64) / SECONDS_PER_WEEK for c in kept
    ]
    table = np.array(rows, dtype=np.int64).reshape(-1, 3)
    keys = np.array(list(groups), dtype=np.int64).reshape(-1, 2)
    return _Effects(
        changes=kept,
        names=names,
        player=np.array([place[c.player] for c in kept], dtype=np.int64),
        week=np.array(weeks, dtype=np.float64),
        change=table[:, 0],
        trait=table[:, 1],
        group=table[:, 2],
        group_name=keys[:, 0],
        group_trait=keys[:, 1],
    )


def _pairs(columns: Sequence[TraitSummary], index: ShotIndex) -> tuple[Floats, Floats]:
    """Return Fisher z of each player's shot correlations, reading error out, and its variance."""
    rows, cols = np.triu_indices(len(columns), 1)
    z = np.zeros((index.players, len(rows)))
    variance = np.full((index.players, len(rows)), np.inf)
    place = index.player * index.sessions + index.session
    for j, (a, b) in enumerate(zip(rows, cols, strict=True)):
        first, second = columns[int(a)], columns[int(b)]
        weight = np.minimum(first.weight, second.weight)

        def total(values: Floats, weight: Floats = weight) -> Floats:
            return np.bincount(index.player, weight * values, index.players)

        cross = total(first.residual * second.residual)
        scale = np.sqrt(total(first.residual**2) * total(second.residual**2))
        seen = np.bincount(place, weight, index.players * index.sessions) > 0
        sessions = seen.reshape(index.players, index.sessions).sum(axis=1)
        freedom = total(np.ones_like(weight)) - sessions - 2
        ok = (freedom >= FEW) & (scale > 0)
        seen_r = np.clip(cross[ok] / scale[ok], -0.99, 0.99)
        shrink = np.sqrt(first.reliability * second.reliability)[ok]
        true_r = np.clip(seen_r / shrink, -0.95, 0.95)
        slope = (1 - seen_r**2) / (shrink * (1 - true_r**2))
        z[ok, j] = np.arctanh(true_r)
        variance[ok, j] = slope**2 / freedom[ok]
    return z, variance
