"""The same seasons through the full model: how far the quick posterior is from it."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from models.sampling import Effort
from tests.evidence.judging import surrogate_difference
from tests.evidence.quick_fit import quick_fit
from tests.evidence.seasons import SESSIONS, TRAIT, Squad, name_of, squads
from tracker.dataset import squad_data
from tracker.decisions.surrogate import chances
from tracker.decisions.threshold import look_windows
from tracker.fitting import fit_squad

ORIGIN = np.datetime64("2026-01-01", "D")


@dataclass(frozen=True, slots=True)
class Pair:
    """P(change > 0) of one season: from draws of levels of the full fit, from the surrogate with
    the full fit's scales, and from the quick fit."""

    full: float
    surrogate: float
    quick: float


def windows_of(squad: Squad, p: int, look: int = SESSIONS):
    """Return the default windows of a player, as places among the sessions."""
    starts = [(c.start) for c in squad.changes if c.player == name_of(p)]
    changes = [int((np.datetime64(s, "D") - ORIGIN).astype(int)) for s in starts]
    days = (np.datetime64("2026-01-05", "D") - ORIGIN).astype(int) + squad.day[p, :look]
    return look_windows(days.tolist(), changes)


def compared(seed: int, number: int, draws: int = 1000) -> Iterator[Pair]:
    """Yield every player of some squads after twelve sessions."""
    for n, squad in enumerate(squads(seed, number)):
        data = squad_data(squad.shots, squad.changes, traits=(TRAIT,), references=("photo",))
        fit = fit_squad(data, seed=n + 1, effort=Effort(draws=draws, target_accept=0.95))
        quick = quick_fit(squad, SESSIONS, seed + n, steps=12000).fit
        for p in range(len(squad.kinds)):
            windows = windows_of(squad, p)
            assert windows is not None
            level = fit.level[:, p, :, 0].astype(float)
            full = level[:, windows[1]].mean(axis=1) - level[:, windows[0]].mean(axis=1)
            yield Pair(
                float(np.mean(full > 0)),
                *(_above(*surrogate_difference(f, p, windows)) for f in (fit, quick)),
            )


def _above(mean, variance) -> float:
    found = chances(mean, variance, None, 1.0)
    return float(found.direction[0] if found.sign[0] > 0 else 1 - found.direction[0])
