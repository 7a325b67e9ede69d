"""Whether the model could have produced the sessions and shots it was fitted to.

Sessions: realised discrepancies of the posterior predictive distribution (Gelman, Meng & Stern
1996, Stat. Sinica 6:733): in each draw the same measure is taken of the squad's session residuals
(session mean less level and method bias) and of residuals drawn anew from that draw.

Shots: the kurtosis of the readings within sessions, each player's by each method in units of its
own SD. The model's shots are normal, for which the measure depends neither on levels nor on SDs,
so its distribution is exact: normal readings are put in the place of those stored.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd

from models.arrays import Bools, Floats, Indices
from models.tendency.surrogate import neighbouring_days
from models.traits import TRAITS
from tracker.posterior import Fit
from tracker.readings.session_summary import DROP, FEW, MAD_TO_SD, methods_of

DRAWS = 300
EXTREME = 0.01
"""A share of replications this small, on either side, is flagged."""
MOST_SHOTS: Final = 12_000
"""Readings of a trait that are looked at; of a longer log every other, every third ... session."""
SCATTER, LARGEST, NEIGHBOURS, TAILS = (
    "scatter of sessions",
    "largest session",
    "likeness of neighbouring sessions",
    "far-off single shots",
)
"""The four measures: SD of session residuals in the trait's unit, largest of them in SDs, mean
product of neighbours in SDs, and kurtosis (3 for a bell curve)."""
_MEANS = {
    (SCATTER, True): "days differ more than the model has room for: take chances as less sure",
    (SCATTER, False): "days differ less than the model allows for: chances are too careful",
    (LARGEST, True): "one session lies further off than it should: see whether it was read right",
    (LARGEST, False): "no session lies as far off as a few should: chances are too careful",
    (NEIGHBOURS, True): "neighbouring days err alike, more than the model allows for: take chances "
    "as less sure",
    (NEIGHBOURS, False): "neighbouring days err in opposite ways: chances are too careful",
    (TAILS, True): "single shots stray further than a bell curve's: the intervals allow for it",
    (TAILS, False): "single shots stray less than a bell curve's: scatter is known better than "
    "said",
}
"""What a flagged measure means for the reader, by whether more or less of it was seen."""
ALLOWED_FOR: Final = frozenset({(TAILS, True)})
"""Oddities that the session summaries reckon with: far-off shots lose weight, scatter certainty."""


@dataclass(frozen=True, slots=True)
class PredictiveCheck:
    """One measure of a trait: seen and replicated medians, and P(replicated >= seen).

    ``what`` names the measure; ``replicated90`` holds nine in ten of the replications.
    """

    trait: str
    what: str
    seen: float
    replicated: float
    replicated90: tuple[float, float]
    p: float

    @property
    def flagged(self) -> bool:
        """Return whether the model hardly ever produces what was seen."""
        return not EXTREME <= self.p <= 1 - EXTREME

    @property
    def wants_care(self) -> bool:
        """Return whether numbers should be read with care: odd, and not allowed for already."""
        return self.flagged and (self.what, self.p < 0.5) not in ALLOWED_FOR

    @property
    def sentence(self) -> str:
        """Return the check in words."""
        label = TRAITS[self.trait].label
        verdict = "does not look like the model's" if self.flagged else "looks like the model's"
        return (
            f"{label}: {self.what} {verdict} "
            f"(seen {self.seen:.2f}, model {self.replicated:.2f}, p {self.p:.2f})"
        )


def consequences(checks: Iterable[PredictiveCheck]) -> tuple[str, ...]:
    """Return what each kind of flagged check means for the reader, after the traits it is of."""
    by_kind: dict[str, list[str]] = {}
    for check in checks:
        if check.flagged:
            meaning = _MEANS[check.what, check.p < 0.5]
            by_kind.setdefault(meaning, []).append(TRAITS[check.trait].label)
    return tuple(f"{', '.join(labels)}: {meaning}" for meaning, labels in by_kind.items())


def flagged_first(checks: Iterable[PredictiveCheck]) -> tuple[PredictiveCheck, ...]:
    """Return the checks: first what wants care, then what is odd, the oddest on top."""
    return tuple(sorted(checks, key=lambda c: (not c.wants_care, not c.flagged, min(c.p, 1 - c.p))))


def predictive_checks(fit: Fit, *, seed: int = 1) -> tuple[PredictiveCheck, ...]:
    """Return the checks of every trait with at least three sessions of readings."""
    rng = np.random.default_rng([seed, fit.info.seed])
    found = []
    for trait in fit.traits:
        residual, day_sd, noise_sd, neighbours = _residuals(fit, trait)
        if residual.shape[1] < 3:
            continue
        spread = np.hypot(day_sd, noise_sd)
        days = _drawn_days(fit, trait, neighbours, residual.shape, rng)
        drawn = day_sd * days + noise_sd * rng.standard_normal(residual.shape)
        measures = {
            SCATTER: (residual.std(axis=1), drawn.std(axis=1)),
            LARGEST: (
                np.abs(residual / spread).max(axis=1),
                np.abs(drawn / spread).max(axis=1),
            ),
            NEIGHBOURS: (
                _lag_one(residual / spread, neighbours),
                _lag_one(drawn / spread, neighbours),
            ),
        }
        found += [_check(trait, what, *sides) for what, sides in measures.items()]
    return tuple(found)


def shot_checks(
    shots: pd.DataFrame, traits: Sequence[str], *, seed: int = 1
) -> tuple[PredictiveCheck, ...]:
    """Return the check of single shots for every trait with enough of them.

    ``shots`` has the columns of ``dataset.squad_data``. Gross misreads are left out, as the model
    leaves them out.
    """
    found = []
    for k, trait in enumerate(traits):
        cells = _cells(shots, trait)
        if cells is None:
            continue
        value, cell, owner = cells
        rng = np.random.default_rng([seed, k])
        drawn = [kurtosis(rng.standard_normal(value.size), cell, owner) for _ in range(DRAWS)]
        seen = np.array([kurtosis(value, cell, owner)])
        found.append(_check(trait, TAILS, seen, np.array(drawn)))
    return tuple(found)


def kurtosis(value: Floats, cell: Indices, owner: Indices) -> float:
    """Return the mean fourth power of readings about their cell's mean, in SDs of their owner.

    Distances from the mean of n readings are stretched by sqrt(n / (n - 1)), so that normal
    readings give 3 however many share a mean. Cells hold at least two readings.
    """
    count = np.bincount(cell)
    apart = value - (np.bincount(cell, value) / count)[cell]
    square = apart**2
    cells_of = np.zeros(owner.max() + 1)
    np.add.at(cells_of, owner[np.unique(cell, return_index=True)[1]], 1)
    variance = np.bincount(owner, square) / (np.bincount(owner) - cells_of)
    stretched = square * (count / (count - 1))[cell]
    return float(np.mean((stretched / variance[owner]) ** 2))


def _cells(shots: pd.DataFrame, trait: str) -> tuple[Floats, Indices, Indices] | None:
    """Return the readings, their session and their player, both told apart by reading method.

    Readings of the same day by another method, single readings of a day, gross misreads and
    players with few readings are left out as far as they tell nothing; None when too few stay.
    """
    read = shots[trait].notna().to_numpy()
    value = shots[trait].to_numpy(dtype=np.float64)[read]
    method = methods_of(shots, trait).to_numpy()[read]
    player, session = shots["player"].to_numpy()[read], shots["session"].to_numpy()[read]
    owner, _ = pd.factorize(pd.MultiIndex.from_arrays([player, method]))
    cell, _ = pd.factorize(pd.MultiIndex.from_arrays([player, method, session]))
    if not value.size:
        return None
    apart = np.abs(value - pd.Series(value).groupby(cell).transform("median").to_numpy())
    thin = cell % -(-value.size // MOST_SHOTS) == 0
    typical = MAD_TO_SD * pd.Series(apart).groupby(owner).transform("median").to_numpy()
    kept = thin & (apart <= DROP * typical) & (typical > 0)
    kept &= np.bincount(cell, kept, cell.max() + 1)[cell] >= 2
    # readings less sessions: what is left to tell the owner's scatter from
    first = np.zeros(value.size)
    places = np.flatnonzero(kept)
    first[places[np.unique(cell[kept], return_index=True)[1]]] = 1
    free = np.bincount(owner, kept.astype(float) - first)
    kept &= free[owner] >= FEW
    if kept.sum() < FEW:
        return None
    return value[kept], pd.factorize(cell[kept])[0], pd.factorize(owner[kept])[0]


def _check(trait: str, what: str, seen: Floats, drawn: Floats) -> PredictiveCheck:
    low, middle, high = (float(q) for q in np.quantile(drawn, [0.05, 0.5, 0.95]))
    p = float(np.mean(drawn >= seen))
    return PredictiveCheck(trait, what, float(np.median(seen)), middle, (low, high), p)


def _drawn_days(
    fit: Fit,
    trait: str,
    follows: Bools,
    shape: tuple[int, ...],
    rng: np.random.Generator,
) -> Floats:
    """Return days' effects of SD 1, alike between neighbours as the fit says, (draw, session)."""
    alike = fit.squad(trait).day_alike[_thinned(fit)]
    days = np.empty(shape)
    starts = np.append(np.flatnonzero(~follows), shape[1])
    for start, end in pairwise(starts):
        days[:, start:end] = neighbouring_days(alike, int(end - start), rng)
    return days


def _thinned(fit: Fit) -> Indices:
    return np.linspace(0, fit.samples - 1, min(DRAWS, fit.samples)).round().astype(np.int64)


def _residuals(fit: Fit, trait: str) -> tuple[Floats, Floats, Floats, Bools]:
    """Return residuals, SD of days and of shots' means, and which follow on the one before.

    The first three are by (draw, session).
    """
    draws, squad = _thinned(fit), fit.squad(trait)
    read = [(one, one.places_read) for one in squad.players.values()]
    counts = np.concatenate([one.counts[:, places] for one, places in read], axis=1)
    total = counts.sum(axis=0).astype(np.float64)
    share = counts / total
    bias = squad.bias[draws] @ share
    level = np.concatenate([one.level[draws][:, places] for one, places in read], axis=1)
    raw_mean = np.concatenate([one.raw_mean[places] for one, places in read])
    residual = raw_mean - bias - level
    player = np.repeat(np.arange(len(read)), [places.size for _, places in read])
    shot_sd = np.stack([one.shot_sd[draws] for one, _ in read], axis=1)[:, player]
    shot2 = shot_sd**2 + squad.reading_sd**2 @ share
    day_sd = squad.session_sd[draws][:, None] * np.ones(player.size)
    follows = np.concatenate([[False], player[1:] == player[:-1]])
    return residual, day_sd, np.sqrt(shot2 / total), follows


def _lag_one(values: Floats, follows: Bools) -> Floats:
    """Return the mean product of neighbours of standardised residuals, (draw,)."""
    products = values[:, 1:] * values[:, :-1]
    return np.asarray(products[:, follows[1:]].mean(axis=1)) if follows.any() else values[:, 0] * 0
