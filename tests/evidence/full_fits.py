"""The same seasons through the full model: how far the quick posterior is from it."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.sampling import Effort
from tests.evidence.judging import surrogate_difference
from tests.evidence.quick_fit import quick_fit
from tests.evidence.seasons import SESSIONS, TRAIT, Squad, name_of, squads
from tracker.dataset import squad_data
from tracker.decisions.history import player_history
from tracker.decisions.likeness import (
    Likeness,
    contrast_moments,
    neighbour_likeness,
    window_levels,
)
from tracker.decisions.surrogate import chances, window_contrast
from tracker.decisions.threshold import look_windows
from tracker.fitting import fit_squad
from tracker.posterior import Fit, Window, window_draws

ORIGIN = np.datetime64("2026-01-01", "D")


@dataclass(frozen=True, slots=True)
class Pair:
    """P(change > 0) of one season, from the full fit's levels, the closed form with the full fit's
    scales, and the quick fit; then, days alike allowed for, from the levels that a verdict uses
    and from the closed form."""

    full: float
    surrogate: float
    quick: float
    verdict: float
    careful: float


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
        alike = neighbour_likeness(fit, TRAIT)
        for p in range(len(squad.kinds)):
            windows = windows_of(squad, p)
            assert windows is not None
            yield _pair(fit, quick, alike, p, windows)


def _pair(
    fit: Fit,
    quick: Fit,
    alike: Likeness,
    p: int,
    windows: tuple[NDArray[np.int64], NDArray[np.int64]],
) -> Pair:
    name = fit.players[p].name
    dates = tuple(
        Window(*(fit.session_start[p, w[i]].item().date() for i in (0, -1))) for w in windows
    )
    before, after = (window_draws(fit, name, TRAIT, d) for d in dates)
    first, second = window_levels(fit, name, TRAIT, dates, alike)
    own = player_history(fit, TRAIT, p)
    assert own is not None
    contrast = window_contrast(*windows, own.weeks.size)
    means, cov = contrast_moments(own, contrast[None], alike)
    return Pair(
        full=float(np.mean(after > before)),
        surrogate=_above(*surrogate_difference(fit, p, windows)),
        quick=_above(*surrogate_difference(quick, p, windows)),
        verdict=float(np.mean(second > first)),
        careful=_above(means.T, cov[:, 0, 0]),
    )


def _above(mean, variance) -> float:
    found = chances(mean, variance, None, 1.0)
    return float(found.direction[0] if found.sign[0] > 0 else 1 - found.direction[0])
