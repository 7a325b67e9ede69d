"""How far the strike rises on the face with the tee: a rule of the trade, and the squad's own data.

The rule: .5 to 1 mm of strike height a mm of tee height (common practice, no source), read as
Normal(.75, .15). Where tee heights were logged, the slope of session-mean strike height on
session-mean tee height within players (each player's own mean taken out, least squares) is put
together with the rule by precision, so few sessions change it little. A drill that came in with
the new tee height is counted with it: the slope is what happened, not what the tee did alone.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from models.arrays import Floats
from tracker.records import DEFAULT_CLUB

if TYPE_CHECKING:
    import pandas as pd

RULE_MEAN, RULE_SD = 0.75, 0.15
"""Rise of the strike a mm of tee height, mm."""
FARTHEST_MM = 12.0
"""Change of tee height beyond which the strike no longer follows (common practice, no source)."""
LEAST_FREEDOM = 3
"""Degrees of freedom from which the squad's own slope is asked."""


@dataclass(frozen=True, slots=True)
class Slope:
    """A least-squares slope with its standard error."""

    value: float
    error: float


def squad_slope(shots: "pd.DataFrame") -> Slope | None:
    """Return the slope of strike height on tee height within players; None with too little data."""
    known = shots[["tee_height_mm", "strike_up_mm"]].notna().all(axis=1)
    if "club" in shots.columns:
        known &= shots["club"] == DEFAULT_CLUB
    columns = ["tee_height_mm", "strike_up_mm"]
    means = shots[known].groupby(["player", "session"])[columns].mean()
    centred = means - means.groupby("player").transform("mean")
    tee, strike = centred.to_numpy(dtype=np.float64).T
    freedom = len(means) - means.index.get_level_values("player").nunique() - 1
    spread = float(tee @ tee)
    if freedom < LEAST_FREEDOM or not spread > 0:
        return None
    slope = float(tee @ strike) / spread
    left = strike - slope * tee
    return Slope(slope, float(np.sqrt(left @ left / freedom / spread)))


def rise_draws(shots: "pd.DataFrame | None", draws: int, seed: int) -> Floats:
    """Return draws of the rise of the strike a mm of tee height."""
    mean, sd = RULE_MEAN, RULE_SD
    own = None if shots is None else squad_slope(shots)
    if own is not None:
        weight = RULE_SD**2 / (RULE_SD**2 + own.error**2)
        mean, sd = mean + weight * (own.value - mean), sd * float(np.sqrt(1 - weight))
    return mean + sd * np.random.default_rng([seed, draws, 3]).standard_normal(draws)
