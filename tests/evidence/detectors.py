"""Detectors of a logged change that know what no tool can know: how good could a verdict be?

Both know every SD of the generator, the days' correlation and each method's bias; the level
before the change is open. ``exact`` has no idea of what the change did (a flat prior of its size);
``told`` knows what the drill does on average and how players differ about it.

``known_interval`` knows the whole law of the generator, the shares of its kinds of players too, and
is the exact posterior of a change under it: what 90 % intervals hold for each kind when nothing at
all is left to learn.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.laguerre import laggauss
from numpy.typing import NDArray
from scipy.special import ndtr

from models.arrays import Floats
from tests.evidence.seasons import (
    ANSWER_SD_MM,
    BETWEEN_SD_MM,
    CREEP_MM,
    IMPROVES_MM_A_WEEK,
    KINDS,
    LOGGED,
    NEIGHBOURS,
    READING_SD_MM,
    SESSION_SD_MM,
    SHOT_SD_MM,
    STEP_MM,
    STEP_PLACES,
    TRAIT,
    Squad,
    name_of,
)

FLAT_MM = 1e3
NOTHING_MM = 1e-9


def known_change(squad: Squad, p: int, look: int) -> tuple[float, float]:
    """Return signed P(direction) of a player's logged change by both detectors; 0 without one."""
    own = [c for c in squad.changes if c.player == name_of(p)]
    if not own:
        return 0.0, 0.0
    mean, cov, walk, session = _readings(squad, p, look)
    cov = cov + walk
    start = np.datetime64(own[0].start, "s")
    on = (session >= start).astype(float)
    if not 0 < on.sum() < look:
        return 0.0, 0.0
    ladder = own[0].name == "ladder"
    flat = _signed(mean, cov, on, 0.0, FLAT_MM)
    knows = _signed(mean, cov, on, squad.works, ANSWER_SD_MM) if ladder else 0.0
    return flat, knows


@dataclass(frozen=True, eq=False)
class _Story:
    """One thing that may have happened to a player: its share, shape and further covariance."""

    share: float
    shape: Floats
    extra: Floats


def known_interval(
    squad: Squad,
    p: int,
    look: int,
    windows: tuple[Sequence[int] | NDArray[np.int64], Sequence[int] | NDArray[np.int64]],
    rng: np.random.Generator,
) -> tuple[float, float, float]:
    """Return the 90 % interval of the change between two windows by the generator's own law, and
    the signed P(direction), to which no change at all adds half."""
    mean, cov, walk, session = _readings(squad, p, look)
    contrast = np.zeros(look)
    for window, sign in zip(windows, (-1.0, 1.0), strict=True):
        contrast[window] += sign / len(window)
    weights, middles, sds = [], [], []
    for story in _stories(squad, p, session, walk):
        whole = cov + story.extra
        root = np.linalg.cholesky(whole)
        away = mean - story.shape
        z = np.linalg.solve(root, away)
        weights.append(np.log(story.share) - 0.5 * z @ z - np.log(np.diag(root)).sum())
        gain = np.linalg.solve(whole, story.extra @ contrast)
        middles.append(contrast @ story.shape + gain @ away)
        left = contrast @ story.extra @ contrast - gain @ story.extra @ contrast
        sds.append(np.sqrt(max(left, 0.0)))
    weight = np.exp(np.array(weights) - max(weights))
    of = rng.choice(len(weight), 4000, p=weight / weight.sum())
    drawn = np.array(middles)[of] + np.array(sds)[of] * rng.standard_normal(of.size)
    low, high = np.quantile(drawn, [0.05, 0.95])
    nothing = np.abs(drawn) < NOTHING_MM
    up = float(np.mean((drawn > 0) & ~nothing) + np.mean(nothing) / 2)
    return float(low), float(high), up if up >= 0.5 else up - 1


def _stories(squad: Squad, p: int, session: NDArray[np.datetime64], walk: Floats) -> list[_Story]:
    """Return what may have happened, by the shares of the generator's kinds."""
    look = session.size
    still, nothing = np.zeros(look), np.zeros((look, look))
    own = [c for c in squad.changes if c.player == name_of(p)]
    if own and own[0].name != "ladder":
        return [_Story(1.0, still, nothing)]
    if own:
        on = (session >= np.datetime64(own[0].start, "s")).astype(float)
        deaf, moved = KINDS.count("deaf"), KINDS.count("moved")
        found = [_Story(deaf / (deaf + moved), still, nothing)]
        # a Laplace answer is normal with an exponential variance (Andrews & Mallows 1974)
        for node, share in zip(*laggauss(8), strict=True):
            extra = walk + node * ANSWER_SD_MM**2 * np.outer(on, on)
            found.append(_Story(share * moved / (deaf + moved), squad.works * on, extra))
        return found
    rest = [k for k in KINDS if k not in LOGGED]
    found = [_Story(rest.count("plain") / len(rest), still, nothing)]
    for side in (-1.0, 1.0):
        for kind, size in STEP_MM.items():
            for at in STEP_PLACES:
                share = rest.count(kind) / len(rest) / 2 / len(STEP_PLACES)
                found.append(_Story(share, side * size * (np.arange(look) >= at), nothing))
        weeks = (session - session[0]) / np.timedelta64(7 * 86400, "s")
        share = rest.count("improver") / len(rest) / 2
        found.append(_Story(share, side * IMPROVES_MM_A_WEEK * weeks, nothing))
    return found


def _readings(
    squad: Squad, p: int, look: int
) -> tuple[Floats, Floats, Floats, NDArray[np.datetime64]]:
    """Return a player's session means without bias, their covariance about what happened, the
    covariance that creep adds, and the sessions' dates."""
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
    walk = CREEP_MM**2 * (np.minimum(weeks[:, None], weeks) - weeks[0])
    return mean, cov, walk, groups["session"].first().to_numpy().astype("datetime64[s]")


def _signed(mean: Floats, cov: Floats, on: Floats, centre: float, sd: float) -> float:
    """Return P(size > 0) as a signed P(direction) of a step with a normal prior."""
    inverse = np.linalg.inv(cov)
    precision = on @ inverse @ on + 1 / sd**2
    size = (on @ inverse @ mean + centre / sd**2) / precision
    up = float(ndtr(size * np.sqrt(precision)))
    return up if up >= 0.5 else up - 1
