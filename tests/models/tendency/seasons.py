"""Seasons of one player as tests need them, by what is special about each, and squads of them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from models.tendency.data import TraitSeries, _scatter_peak
from models.traits import Prior
from tests.models.tendency.dense import Season, Values

PRIOR = Prior(
    mean=1.0, mean_sd=4.0, between_scale=6.0, shot_sd=8.0, session_scale=3.0, drift_scale=1.0,
    change_scale=5.0, bias_scale=2.0,
)  # fmt: skip


def made(sessions: int = 7, methods: int = 2, seed: int = 0, df: float = 18.0) -> Season:
    """Return a season with unread sessions, and with two methods in some of them."""
    rng = np.random.default_rng(seed)
    gap = np.r_[0.0, rng.uniform(0.3, 3.0, sessions - 1)]
    count = rng.integers(1, 6, (sessions, methods)).astype(float)
    if sessions > 2:
        count[2] = 0.0
    if methods > 1 and sessions > 1:
        count[-1, 1] = count[0, 0] = 0.0
    share = np.array([2 / 3, 1 / 3])[:methods] if methods > 1 else np.ones(1)
    reading2 = np.array([1.0, 6.0])[:methods]
    freedom = df * share
    scatter = freedom * (70.0 + reading2)
    mean = rng.normal(2.0, 6.0, (sessions, methods))
    return Season(gap, count, np.where(count > 0, mean, 0.0), scatter, freedom, reading2)


SEASONS = {
    "no change": made(),
    "one method": made(methods=1, seed=1),
    "two changes": replace(made(), change_at=(2, 4), change_drill=(0, 1)),
    "two changes on one day": replace(made(seed=2), change_at=(3, 3), change_drill=(0, 1)),
    "three changes of one drill": replace(
        made(seed=3), change_at=(1, 3, 5), change_drill=(1, 1, 1)
    ),
    "five changes": replace(made(seed=4), change_at=(1, 2, 4, 5, 6), change_drill=(0, 1, 0, 1, 1)),
    "change before the first session": replace(made(seed=5), change_at=(0,), change_drill=(1,)),
    "one session": made(sessions=1, seed=6),
    "one session, one method, one change": replace(
        made(sessions=1, methods=1, seed=7), change_at=(0,), change_drill=(0,)
    ),
    "two sessions on one day": replace(made(seed=8), gap=np.array([0, 1.0, 0, 0.7, 0, 2, 1])),
    "missed faces": replace(
        made(seed=9), missed=3.0, centre=-8.0, half=28.0, other_inside=0.97
    ),
    "scatter no more than reading error": replace(made(seed=10), scatter=np.array([9.0, 30.0])),
    "last sessions unread": replace(
        made(seed=11), count=made(seed=11).count * np.array([1, 1, 0, 1, 1, 0, 0])[:, None]
    ),
    "nothing read": replace(
        made(seed=12), count=np.zeros((7, 2)), scatter=np.zeros(2), scatter_df=np.zeros(2)
    ),
}  # fmt: skip


def values_for(season: Season, **other: float) -> Values:
    """Return parameters with as many biases and drills as a season needs."""
    return Values(bias=(0.0, 0.7)[: season.reading2.size], **other)


def peak_of(season: Season, prior: Prior = PRIOR) -> tuple[float, float]:
    """Return where the scatter puts the log shot SD, and the information."""
    face = {
        "missed": np.array([season.missed]),
        "centre": np.array([season.centre]),
        "half": season.half,
        "other_inside": np.array([season.other_inside]),
    }
    best, information = _scatter_peak(
        season.scatter[None], season.scatter_df[None], season.reading2, face, prior
    )
    return float(best[0]), float(information[0])


def squad(seasons: Sequence[Season], drills: int = 0, prior: Prior = PRIOR) -> TraitSeries:
    """Return seasons of several players as one trait of a squad."""
    best, information = zip(*(peak_of(s, prior) for s in seasons), strict=True)
    ends = np.cumsum([0, *(s.gap.size for s in seasons)])
    changes = np.cumsum([0, *(len(s.change_at) for s in seasons)])
    return TraitSeries(
        first=ends.astype(np.int64),
        gap=np.concatenate([s.gap for s in seasons]),
        count=np.concatenate([s.count for s in seasons]),
        mean=np.concatenate([s.mean for s in seasons]),
        scatter=np.array([s.scatter for s in seasons]),
        scatter_df=np.array([s.scatter_df for s in seasons]),
        reading2=seasons[0].reading2,
        missed=np.array([s.missed for s in seasons]),
        centre=np.array([s.centre for s in seasons]),
        half=seasons[0].half,
        other_inside=np.array([s.other_inside for s in seasons]),
        best=np.array(best),
        information=np.array(information),
        change_first=changes.astype(np.int64),
        change_at=np.array([a for s in seasons for a in s.change_at], dtype=np.int64),
        change_group=np.array([d for s in seasons for d in s.change_drill], dtype=np.int64),
        effect=np.arange(changes[-1]),
        groups=np.arange(drills),
    )
