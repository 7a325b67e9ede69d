"""Detectors of a logged change that know what no tool can know: how good could a verdict be?

Both know every SD of the generator, the days' correlation and each method's bias; the level
before the change is open. ``exact`` has no idea of what the change did (a flat prior of its size);
``told`` knows what the drill does on average and how players differ about it.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from tests.evidence.seasons import (
    ANSWER_SD_MM,
    BETWEEN_SD_MM,
    CREEP_MM,
    NEIGHBOURS,
    READING_SD_MM,
    SESSION_SD_MM,
    SHOT_SD_MM,
    TRAIT,
    Squad,
    name_of,
)

Floats = NDArray[np.float64]

FLAT_MM = 1e3


def known_change(squad: Squad, p: int, look: int) -> tuple[float, float]:
    """Return signed P(direction) of a player's logged change by both detectors; 0 without one."""
    own = [c for c in squad.changes if c.player == name_of(p)]
    if not own:
        return 0.0, 0.0
    mine = squad.shots[(squad.shots["player"] == name_of(p)) & (squad.shots["place"] < look)]
    groups = mine.groupby("place")
    count = groups[TRAIT].size().to_numpy(dtype=float)
    spray = (groups["strike_method"].first() == "spray").to_numpy()
    mean = groups[TRAIT].mean().to_numpy() - spray  # the generator's bias: 1 mm
    reading = np.where(spray, READING_SD_MM["spray"], READING_SD_MM["photo"])
    weeks = squad.day[p, :look] / 7
    at = np.arange(look)
    cov = BETWEEN_SD_MM**2 + np.diag((SHOT_SD_MM**2 + reading**2) / count)
    cov += SESSION_SD_MM**2 * NEIGHBOURS ** np.abs(at[:, None] - at)
    cov += CREEP_MM**2 * (np.minimum(weeks[:, None], weeks) - weeks[0])
    start = np.datetime64(own[0].start, "s")
    on = (groups["session"].first().to_numpy().astype("datetime64[s]") >= start).astype(float)
    if not 0 < on.sum() < look:
        return 0.0, 0.0
    ladder = own[0].name == "ladder"
    flat = _signed(mean, cov, on, 0.0, FLAT_MM)
    knows = _signed(mean, cov, on, squad.works, ANSWER_SD_MM) if ladder else 0.0
    return flat, knows


def _signed(mean: Floats, cov: Floats, on: Floats, centre: float, sd: float) -> float:
    """Return P(size > 0) as a signed P(direction) of a step with a normal prior."""
    inverse = np.linalg.inv(cov)
    precision = on @ inverse @ on + 1 / sd**2
    size = (on @ inverse @ mean + centre / sd**2) / precision
    up = float(ndtr(size * np.sqrt(precision)))
    return up if up >= 0.5 else up - 1
