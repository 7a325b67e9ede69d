"""Who practises at the invented academy: players, their baselines, scatter and clubs."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from synthetic_data.arrays import Floats, Indices
from synthetic_data.spec import ATTACK, LOFT, SHOT_CORRELATION, TIERS, TRAITS, AcademySpec

NAMES = (
    "Alder", "Aspen", "Birch", "Cedar", "Elm", "Hawthorn", "Hazel", "Hornbeam", "Juniper",
    "Larch", "Linden", "Maple", "Oak", "Pine", "Rowan", "Sorrel", "Spruce", "Sycamore",
    "Willow", "Yew",
)  # fmt: skip
"""Code names: trees, so that no person is meant."""


@dataclass(frozen=True, slots=True, eq=False)
class PlayerTruth:
    """One player as planted; arrays are (trait,) or (trait, trait) in the order of ``TRAITS``.

    ``shot_covariance`` includes loft following attack. The club is the academy's head plus this
    player's offsets.
    """

    name: str
    tier: str
    handed: Literal["right", "left"]
    baseline: Floats
    shot_covariance: Floats
    e0_offset: float
    cg_height_offset_mm: float
    tee_height_mm: float

    @property
    def shot_sd(self) -> Floats:
        """Return the SD of one shot around its session, by trait."""
        sd: Floats = np.sqrt(np.diag(self.shot_covariance))
        return sd

    @property
    def shot_correlation(self) -> Floats:
        """Return the within-session correlation of the traits."""
        correlation: Floats = self.shot_covariance / np.outer(self.shot_sd, self.shot_sd)
        return correlation


def loft_follows(kappa: float) -> Floats:
    """Return the (trait, trait) map from free movement to movement with loft after attack."""
    follow = np.eye(len(TRAITS))
    follow[LOFT, ATTACK] = kappa
    return follow


def own_loft_sd(whole: float, attack_sd: float, kappa: float) -> float:
    """Return the SD of loft left when its share through attack is taken out, never below 30 %."""
    return float(np.sqrt(max(whole**2 - (kappa * attack_sd) ** 2, (0.3 * whole) ** 2)))


def make_roster(spec: AcademySpec, rng: np.random.Generator) -> tuple[PlayerTruth, ...]:
    """Return the players of one academy."""
    tiers = rng.permutation(_tier_of_each(spec.players))
    left = set(rng.permutation(spec.players)[: spec.left_handers].tolist())
    return tuple(
        _make_player(_name(i), int(tiers[i]), "left" if i in left else "right", spec, rng)
        for i in range(spec.players)
    )


def _name(i: int) -> str:
    turn, place = divmod(i, len(NAMES))
    return NAMES[place] if turn == 0 else f"{NAMES[place]} {turn + 1}"


def _tier_of_each(players: int) -> Indices:
    edges = np.cumsum([tier.share for tier in TIERS])[:-1]
    return np.searchsorted(edges, (np.arange(players) + 0.5) / players).astype(np.int64)


def _make_player(
    name: str,
    tier_idx: int,
    handed: Literal["right", "left"],
    spec: AcademySpec,
    rng: np.random.Generator,
) -> PlayerTruth:
    tier = TIERS[tier_idx]
    follow = loft_follows(spec.kappa)
    baseline = np.array(tier.level_mean) + follow @ rng.normal(0.0, tier.level_sd)

    sd = np.array(tier.shot_sd) * np.exp(rng.normal(0.0, 0.12, len(TRAITS)))
    sd[LOFT] = own_loft_sd(sd[LOFT], sd[ATTACK], spec.kappa)
    correlation = np.eye(len(TRAITS))
    strength = rng.uniform(0.6, 1.0)
    for (a, b), value in SHOT_CORRELATION.items():
        correlation[a, b] = correlation[b, a] = strength * value
    covariance = follow @ (correlation * np.outer(sd, sd)) @ follow.T
    return PlayerTruth(
        name,
        tier.name,
        handed,
        baseline,
        covariance,
        e0_offset=float(rng.normal(0.0, 0.004)),
        cg_height_offset_mm=float(rng.normal(0.0, 1.0)),
        tee_height_mm=float(np.round(rng.normal(40.0, 3.0))),
    )
