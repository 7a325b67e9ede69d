"""How one trait's readings become robust session means and pooled scatter.

Readings further than ``TRIM`` robust SDs from their session's middle lose weight, and gross
misreads beyond ``DROP`` lose all of it (Hampel 1974, J. Am. Stat. Assoc. 69:383, for bounded
influence); on clean normal data 0.01 % of readings are touched. The degrees of freedom of the
scatter are divided by 1 + excess kurtosis / 2, since the variance of a sample variance grows by
that factor (Cramer 1946, Mathematical Methods of Statistics, 27.4), so that heavy-tailed shots do
not make a scatter look better known than it is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pandas as pd

from models.arrays import Floats, Indices
from models.traits import TRAITS
from tracker.readings.rounding import reading_step, with_rounding
from tracker.records import INFERRED_METHOD, UNSTATED_METHOD

TRIM = 4.0
DROP = 8.0
ROUNDS = 2
FEW = 8
"""Below this many readings of a player by a method, the squad's robust scatter is used."""

MAD_TO_SD = 1.4826022185056018


@dataclass(frozen=True, eq=False)
class ShotIndex:
    """Which player and which of the player's sessions each shot belongs to."""

    player: Indices
    session: Indices
    players: int
    sessions: int


@dataclass(frozen=True, eq=False)
class TraitSummary:
    """Session summaries of one trait; the first method is the reference."""

    methods: tuple[str, ...]
    count: Floats
    mean: Floats
    readings: Indices
    scatter: Floats
    scatter_df: Floats
    reading_sd: Floats
    residual: Floats
    weight: Floats
    reliability: Floats


def trait_summary(
    shots: pd.DataFrame,
    trait: str,
    index: ShotIndex,
    references: Sequence[str] = (),
    reading_sds: Mapping[tuple[str, str], float] = MappingProxyType({}),
) -> TraitSummary:
    """Return robust session means and pooled scatter of one trait.

    ``reading_sds`` holds reading SDs by (trait, method) that are better known than the table's,
    the device's rounding among them; the table's are widened by the step of the readings. Traits
    in ``reserve`` keep a place for inferred readings that are yet to come.
    """
    used = methods_of(shots, trait)
    value = shots[trait].to_numpy(dtype=np.float64)
    known = np.isfinite(value)
    tally = used[known].value_counts()
    names = _reference_first(trait, {str(name): int(n) for name, n in tally.items()}, references)
    method = used.map({n: m for m, n in enumerate(names)}).fillna(0).to_numpy(np.int64)
    owner = (method * index.players + index.player)[known]
    cell = owner * index.sessions + index.session[known]
    owners, cells = len(names) * index.players, len(names) * index.players * index.sessions
    v = value[known]
    centre = pd.Series(v).groupby(cell).transform("median").to_numpy()
    weight = np.ones_like(v)
    total, mean = np.zeros(cells), np.zeros(cells)
    for _ in range(ROUNDS):
        weight = _weights(v - centre, owner, owners)
        total = np.bincount(cell, weight, cells)
        mean = np.bincount(cell, weight * v, cells) / np.where(total > 0, total, 1)
        centre = np.where(total[cell] > 0, mean[cell], centre)
    residual_known = v - mean[cell]
    squares = np.bincount(owner, weight * residual_known**2, owners)
    freedom = np.bincount(owner, weight, owners) - np.bincount(
        np.flatnonzero(total > 0) // index.sessions, minlength=owners
    )
    doubt = _kurtosis_factor(residual_known, weight, owner, squares, freedom)
    shape = (len(names), index.players, index.sessions)
    default = TRAITS[trait].default_reading_sd
    read_by = used[known].to_numpy(dtype=object)
    reading_sd = np.array(
        [
            reading_sds[trait, n]
            if (trait, n) in reading_sds
            else with_rounding(default(n), reading_step(trait, v[read_by == n]))
            for n in names
        ]
    )
    residual, full_weight = np.zeros(len(value)), np.zeros(len(value))
    residual[known], full_weight[known] = residual_known, weight
    return TraitSummary(
        methods=names,
        count=total.reshape(shape),
        mean=mean.reshape(shape),
        readings=np.bincount(cell, minlength=cells).reshape(shape),
        scatter=(squares / doubt).reshape(shape[:2]),
        scatter_df=np.where(freedom > 0.5, freedom / doubt, 0.0).reshape(shape[:2]),
        reading_sd=reading_sd,
        residual=residual,
        weight=full_weight,
        reliability=_reliability(squares, freedom, reading_sd, index.players),
    )


def inferred_column(trait: str) -> str:
    """Return the name of the column that marks a trait's readings as inferred from the ball."""
    return f"{trait}.{INFERRED_METHOD}"


def methods_of(shots: pd.DataFrame, trait: str) -> "pd.Series[str]":
    """Return how each shot's reading of a trait was taken."""
    column = TRAITS[trait].method_column
    mark = inferred_column(trait)
    if mark not in shots:
        return shots[column]
    return shots[column].mask(shots[mark], INFERRED_METHOD)


def _reference_first(
    trait: str, readings: Mapping[str, int], references: Sequence[str]
) -> tuple[str, ...]:
    """Return method names, the one whose bias is taken as 0 first.

    The reference is a method named as such, else the one with the smallest reading SD, else the
    most used one.
    """
    sd = TRAITS[trait].default_reading_sd
    order = sorted(
        readings,
        key=lambda name: (
            name == INFERRED_METHOD,
            name not in references,
            sd(name),
            -readings[name],
            name,
        ),
    )
    return tuple(order) or (UNSTATED_METHOD,)


def _weights(residual: Floats, owner: Indices, owners: int) -> Floats:
    """Return weights in [0, 1] from residuals and the robust scatter of their owner."""
    size = np.abs(residual)
    told = size > 0  # the only reading of a session, and the middle one, tell no scatter
    scale = MAD_TO_SD * pd.Series(size[told]).groupby(owner[told]).median()
    common = MAD_TO_SD * float(np.median(size[told])) if told.any() else np.inf
    counts = np.bincount(owner[told], minlength=owners)
    by_owner = np.full(owners, common)
    by_owner[scale.index.to_numpy()] = scale.to_numpy()
    by_owner = np.where((counts < FEW) | (by_owner <= 0), common, by_owner)
    far = size / np.maximum(by_owner[owner], 1e-9)
    trimmed = (TRIM / np.maximum(far, TRIM)) ** 2
    return np.asarray(np.where(far < DROP, trimmed, 0.0), dtype=np.float64)


def _reliability(squares: Floats, freedom: Floats, reading_sd: Floats, players: int) -> Floats:
    """Return the share of a player's within-session variance that is not reading error."""
    by_method = (len(reading_sd), players)
    df = np.maximum(freedom.reshape(by_method), 0)
    observed = squares.reshape(by_method).sum(axis=0) / np.maximum(df.sum(axis=0), 1)
    error = (df * reading_sd[:, None] ** 2).sum(axis=0) / np.maximum(df.sum(axis=0), 1)
    return np.asarray(np.clip(1 - error / np.maximum(observed, 1e-12), 0.2, 1.0))


def _kurtosis_factor(
    residual: Floats, weight: Floats, owner: Indices, squares: Floats, freedom: Floats
) -> float:
    """Return 1 + excess kurtosis / 2 of the squad's standardised residuals, at least 1."""
    variance = squares / np.maximum(freedom, 1)
    known = (weight > 0) & (freedom[owner] >= FEW) & (variance[owner] > 0)
    if known.sum() < FEW:
        return 1.0
    fourth = float(np.mean((residual[known] ** 2 / variance[owner[known]]) ** 2))
    return max(1.0, 1.0 + (fourth - 3.0) / 2.0)
