"""What the judged seasons say: each requirement with its figure, and the habits beside it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from tests.evidence.judging import LOOKS, WORTHWHILE_MM

Columns = Mapping[str, NDArray[np.generic]]
LAST = LOOKS[-1]
NOTHING_MM = WORTHWHILE_MM / 2
"""A true change so small that its direction hardly means anything."""
TINY = 1e-9
BINS = {
    0.90: (0.875, 0.925),
    0.95: (0.925, 0.9625),
    0.975: (0.9625, 0.9825),
    0.99: (0.9825, 1.0 + 1e-9),
}
"""Claimed chance and the claims that count as such, the ends half way between; the last has all."""


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many; ``low`` and ``high`` are 95 % limits (Clopper & Pearson 1934)."""

    found: int
    total: int

    @property
    def value(self) -> float:
        return self.found / self.total if self.total else float("nan")

    @property
    def low(self) -> float:
        return (
            0.0
            if not self.found
            else float(beta.ppf(0.025, self.found, self.total - self.found + 1))
        )

    @property
    def high(self) -> float:
        return (
            1.0
            if self.found == self.total
            else float(beta.ppf(0.975, self.found + 1, self.total - self.found))
        )

    def percent(self) -> str:
        return f"{100 * self.value:.1f} % ({100 * self.low:.1f} to {100 * self.high:.1f})"


@dataclass(frozen=True, slots=True)
class Bin:
    """Claims of about the same chance: their mean, and how often the direction was right."""

    name: float
    claimed: float
    right: Share

    @property
    def apart(self) -> float:
        return self.right.value - self.claimed


@dataclass(frozen=True, slots=True)
class Merit:
    """Everything that the evidence table shows."""

    unchanged: Share
    by_kind: Mapping[str, Share]
    """Ever called real, by kind of player."""
    at_default: Share
    wrong_sign: Share
    power: Share
    power_exact: Share
    """The detector that knows every SD, at the same false alarms."""
    power_told: Share
    """The one that also knows the drill."""
    bins: tuple[Bin, ...]
    cover: Mapping[str, Share]
    bins_of_all: tuple[Bin, ...]
    """The same over all players; of one who did not change half counts as right."""
    known_bins: tuple[Bin, ...]
    """Claims about players who changed, after the last session, by one who knows the generator's
    whole law and is therefore right as often as claimed over all players."""
    known_cover: Mapping[str, Share]
    """Cover of the intervals of one who knows the generator's whole law."""
    cover_by_kind: Mapping[str, Share]
    found_last: Mapping[str, Share]
    """Called real in the right direction after the last session, by kind."""
    claimed_actual: Mapping[str, float]
    """Estimated over true change after the last session, by kind."""
    habits_once: Mapping[str, Share]
    habits_ever: Mapping[str, Share]
    t_cover: Share
    thresholds: Mapping[str, tuple[float, float, float]]
    divergent: int
    """Looks at a fit with a divergence."""


UNCHANGED = ("plain", "sham", "deaf")
STEPS = ("step4", "step8", "step12", "improver")


def merit(rows: Columns) -> Merit:
    """Return the figures of a run."""
    kind, last = rows["kind"], rows["look"] == LAST
    unchanged = np.isin(kind, UNCHANGED)
    moved, logged = kind == "moved", rows["drill_logged"].astype(bool)
    changed = ~unchanged & (rows["truth"] != 0)
    real = rows["p_direction"] >= rows["threshold"]
    right = np.sign(rows["truth"]) == rows["sign"]
    inside = (rows["low"] <= rows["truth"]) & (rows["truth"] <= rows["high"])
    known = (rows["known_low"] - TINY <= rows["truth"]) & (
        rows["truth"] <= rows["known_high"] + TINY
    )
    t_inside = (rows["t_low"] <= rows["truth"]) & (rows["truth"] <= rows["t_high"])
    kinds = tuple(dict.fromkeys(str(k) for k in kind))
    habits = {
        "t-test on all shots, 5 %": rows["t_test_p"] < 0.05,
        f"last session's average, {WORTHWHILE_MM:g} mm": np.abs(rows["last_session"])
        > WORTHWHILE_MM,
        f"one shot against one shot, {WORTHWHILE_MM:g} mm": np.abs(rows["one_shot"])
        > WORTHWHILE_MM,
    }
    alarms = _ever(rows, unchanged & logged, real).value
    towards = np.where(rows["truth"] < 0, -1.0, 1.0)
    return Merit(
        unchanged=_ever(rows, unchanged, real),
        by_kind={k: _ever(rows, kind == k, real) for k in kinds},
        at_default=_ever(rows, unchanged, rows["p_direction"] >= 0.99),
        wrong_sign=_share(~right, changed & real),
        power=_ever(rows, moved, real & right),
        power_exact=_power(rows, "exact", unchanged & logged, moved, alarms),
        power_told=_power(rows, "told", unchanged & logged, moved, alarms),
        bins=tuple(_bin(name, rows["p_direction"], changed, right) for name in BINS),
        bins_of_all=tuple(
            _bin(name, rows["p_direction"], np.ones(right.size, bool), right, rows["truth"] == 0)
            for name in BINS
        ),
        known_bins=tuple(
            _bin(
                name,
                np.abs(rows["known_direction"]),
                changed & last,
                np.sign(rows["known_direction"]) == np.sign(rows["truth"]),
            )
            for name in BINS
        ),
        known_cover={
            "all players": _share(known, last),
            "unchanged": _share(known, last & unchanged),
            **{k: _share(known, last & (kind == k)) for k in ("moved", *STEPS) if k in kinds},
        },
        cover={
            "all players": _share(inside, last),
            "unchanged": _share(inside, last & unchanged),
            "logged movers": _share(inside, last & moved),
            "unlogged": _share(inside, last & np.isin(kind, STEPS)),
        },
        cover_by_kind={k: _share(inside, last & (kind == k)) for k in kinds},
        found_last={
            k: _share(real & right, last & (kind == k)) for k in ("moved", *STEPS) if k in kinds
        },
        claimed_actual={
            k: float(
                (rows["change"] * towards)[last & (kind == k)].mean()
                / np.abs(rows["truth"])[last & (kind == k)].mean()
            )
            for k in ("moved", *STEPS)
            if k in kinds
        },
        habits_once={name: _share(flag, unchanged & last) for name, flag in habits.items()},
        habits_ever={name: _ever(rows, unchanged, flag) for name, flag in habits.items()},
        t_cover=_share(t_inside, last),
        thresholds={
            name: tuple(np.quantile(rows["threshold"][chosen], [0.1, 0.5, 0.9]))
            for name, chosen in (
                ("without a logged change", ~logged),
                ("with a logged change", logged),
            )
        },
        divergent=int((rows["divergences"] > 0).sum()),
    )


def _power(
    rows: Columns,
    detector: str,
    unmoved: NDArray[np.bool_],
    moved: NDArray[np.bool_],
    alarms: float,
) -> Share:
    """Return how often a detector ever finds moved players at a given rate of false alarms."""
    claim = np.abs(rows[detector])
    seasons, of = np.unique(season_of(rows)[unmoved], return_inverse=True)
    surest = np.zeros(seasons.size)
    np.maximum.at(surest, of, claim[unmoved])
    limit = np.quantile(surest, 1 - alarms, method="higher")
    right = np.sign(rows[detector]) == np.sign(rows["truth"])
    return _ever(rows, moved, (claim > limit) & right)


def season_of(rows: Columns) -> NDArray[np.integer]:
    """Return which season each look belongs to."""
    return np.asarray(rows["squad"] * 1000 + rows["player"])


def first_calls(
    rows: Columns, mask: NDArray[np.bool_], flag: NDArray[np.bool_]
) -> dict[int, float]:
    """Return, by look, the share of seasons called real at that look or before."""
    season = season_of(rows)
    total = np.unique(season[mask]).size
    return {
        look: np.unique(season[mask & flag & (rows["look"] <= look)]).size / total for look in LOOKS
    }


def _share(flag: NDArray[np.bool_], among: NDArray[np.bool_]) -> Share:
    return Share(int(flag[among].sum()), int(among.sum()))


def _ever(rows: Columns, among: NDArray[np.bool_], flag: NDArray[np.bool_]) -> Share:
    season = season_of(rows)
    return Share(np.unique(season[among & flag]).size, np.unique(season[among]).size)


def _bin(
    name: float,
    claim: NDArray[np.floating],
    among: NDArray[np.bool_],
    right: NDArray[np.bool_],
    half: NDArray[np.bool_] | None = None,
) -> Bin:
    """Return one bin; every other one of the claims in ``half`` counts as right."""
    low, high = BINS[name]
    inside = among & (claim >= low) & (claim < high)
    claimed = float(claim[inside].mean()) if inside.any() else float("nan")
    if half is None:
        return Bin(name, claimed, _share(right, inside))
    halves = int((inside & half).sum())
    return Bin(
        name, claimed, Share(int((right & inside & ~half).sum()) + halves // 2, int(inside.sum()))
    )
