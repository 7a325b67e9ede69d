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
    at_default: Share
    wrong_sign: Share
    power: Share
    bins: tuple[Bin, ...]
    bins_alone: tuple[Bin, ...]
    bins_beyond: tuple[Bin, ...]
    bins_within: tuple[Bin, ...]
    wrong_alone: Share
    cover: Mapping[str, Share]
    habits_once: Mapping[str, Share]
    habits_ever: Mapping[str, Share]
    t_cover: Share
    thresholds: Mapping[str, tuple[float, float, float]]


def merit(rows: Columns) -> Merit:
    """Return the figures of a run."""
    kind, last = rows["kind"], rows["look"] == LAST
    unchanged = (kind == "plain") | (kind == "sham")
    moved = kind == "moved"
    real = rows["p_direction"] >= rows["threshold"]
    right = np.sign(rows["truth"]) == rows["sign"]
    beyond = np.abs(rows["truth"]) > NOTHING_MM
    right_alone = np.sign(rows["truth"]) == rows["sign_alone"]
    inside = (rows["low"] <= rows["truth"]) & (rows["truth"] <= rows["high"])
    t_inside = (rows["t_low"] <= rows["truth"]) & (rows["truth"] <= rows["t_high"])
    habits = {
        "t-test on all shots, 5 %": rows["t_test_p"] < 0.05,
        f"last session's average, {WORTHWHILE_MM:g} mm": np.abs(rows["last_session"])
        > WORTHWHILE_MM,
        f"one shot against one shot, {WORTHWHILE_MM:g} mm": np.abs(rows["one_shot"])
        > WORTHWHILE_MM,
    }
    return Merit(
        unchanged=_ever(rows, unchanged, real),
        by_kind={k: _ever(rows, kind == k, real) for k in ("plain", "sham", "deaf")},
        at_default=_ever(rows, unchanged, rows["p_direction"] >= 0.99),
        wrong_sign=_share(~right, moved & real),
        power=_ever(rows, moved, real & right),
        bins=tuple(_bin(name, rows["p_direction"], moved, right) for name in BINS),
        bins_beyond=tuple(_bin(name, rows["p_direction"], moved & beyond, right) for name in BINS),
        bins_within=tuple(_bin(name, rows["p_direction"], moved & ~beyond, right) for name in BINS),
        bins_alone=tuple(_bin(name, rows["p_alone"], moved, right_alone) for name in BINS),
        wrong_alone=_share(~right_alone, moved & (rows["p_alone"] >= 0.99)),
        cover={
            "all players": _share(inside, last),
            "unchanged": _share(inside, last & unchanged),
            "moved": _share(inside, last & moved),
        },
        habits_once={name: _share(flag, unchanged & last) for name, flag in habits.items()},
        habits_ever={name: _ever(rows, unchanged, flag) for name, flag in habits.items()},
        t_cover=_share(t_inside, last),
        thresholds={
            name: tuple(np.quantile(rows["threshold"][logged], [0.1, 0.5, 0.9]))
            for name, logged in (
                ("without a logged change", ~rows["drill_logged"].astype(bool)),
                ("with a logged change", rows["drill_logged"].astype(bool)),
            )
        },
    )


def first_calls(
    rows: Columns, mask: NDArray[np.bool_], flag: NDArray[np.bool_]
) -> dict[int, float]:
    """Return, by look, the share of seasons called real at that look or before."""
    season = rows["squad"] * 1000 + rows["player"]
    total = np.unique(season[mask]).size
    return {
        look: np.unique(season[mask & flag & (rows["look"] <= look)]).size / total for look in LOOKS
    }


def _share(flag: NDArray[np.bool_], among: NDArray[np.bool_]) -> Share:
    return Share(int(flag[among].sum()), int(among.sum()))


def _ever(rows: Columns, among: NDArray[np.bool_], flag: NDArray[np.bool_]) -> Share:
    season = rows["squad"] * 1000 + rows["player"]
    return Share(np.unique(season[among & flag]).size, np.unique(season[among]).size)


def _bin(
    name: float,
    claim: NDArray[np.floating],
    moved: NDArray[np.bool_],
    right: NDArray[np.bool_],
) -> Bin:
    low, high = BINS[name]
    inside = moved & (claim >= low) & (claim < high)
    claimed = float(claim[inside].mean()) if inside.any() else float("nan")
    return Bin(name, claimed, _share(right, inside))
