"""How alike neighbouring sessions err, and what it does to the levels behind them.

The tendency model takes a day's effect as new every day. Where days resemble their neighbours,
sessions count as fewer than they are and every chance comes out too sure. Here the fit's draws are
weighed anew, together with a correlation of neighbouring sessions' effects, by how likely they
make the squad's session means (importance sampling over draws and correlations, all of which are
alike before), so that drift, day-to-day scatter and correlation share what looks like any of them.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tracker.decisions.history import History, player_history
from tracker.decisions.surrogate import Floats, season
from tracker.posterior import Fit, Window, day_alike_draws, sessions_in, window_draws

CORRELATIONS: Final = np.array([0.0, 0.15, 0.3, 0.45, 0.6])
"""Correlations of neighbouring sessions considered."""
WEIGHED: Final = 160
"""Draws of the fit that are weighed."""
PAIRS: Final = 96
"""Pairs of a draw and a correlation that are kept."""


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """Equally likely pairs of a draw of the fit and a correlation of neighbouring sessions."""

    draws: NDArray[np.int64]
    correlation: Floats

    @property
    def mean(self) -> float:
        """Return the expected correlation."""
        return float(self.correlation.mean())

    def thinned(self, pairs: int) -> "Likeness":
        """Return evenly spaced pairs, for work whose cost grows with them."""
        kept = np.linspace(0, self.draws.size - 1, min(pairs, self.draws.size)).astype(np.int64)
        return Likeness(self.draws[kept], self.correlation[kept])


def apart(fit: Fit, pairs: int = PAIRS) -> Likeness:
    """Return a view in which days have nothing to do with one another."""
    return Likeness(_thinned(fit, pairs), np.zeros(min(pairs, fit.samples)))


def fitted_likeness(fit: Fit, trait: str, pairs: int) -> Likeness:
    """Return the fit's own view: its correlations, or days apart where it has none."""
    draws = _thinned(fit, pairs)
    return Likeness(draws, day_alike_draws(fit, trait)[draws])


def neighbour_likeness(fit: Fit, trait: str) -> Likeness:
    """Return what the squad's sessions say of the likeness of neighbouring sessions.

    A fit that lets days be alike says it itself.
    """
    if fit.day_alike is not None:
        return fitted_likeness(fit, trait, PAIRS)
    judges = _thinned(fit, WEIGHED)
    told = np.zeros((CORRELATIONS.size, judges.size))
    for p in range(len(fit.players)):
        own = player_history(fit, trait, p)
        if own is None:
            continue
        scales, noise = own.scales.take(judges), own.noise[judges]
        for i, correlation in enumerate(CORRELATIONS):
            known = season(scales, own.weeks, noise, own.started, float(correlation))
            z = known.whitened(own.means[None, judges])
            told[i] += known.log_likelihood(z)[0].sum(axis=1)
    gained = told - told[0]
    weight = np.exp(gained - gained.max()).ravel()
    ladder = np.cumsum(weight) / weight.sum()
    picked = np.searchsorted(ladder, (np.arange(PAIRS) + 0.5) / PAIRS)
    picked = np.minimum(picked, weight.size - 1)
    return Likeness(judges[picked % judges.size], CORRELATIONS[picked // judges.size])


def neighbouring_days(correlation: Floats, sessions: int, rng: np.random.Generator) -> Floats:
    """Return sessions' effects of SD 1, ``(season, session)``, one correlation a season."""
    day = rng.standard_normal((correlation.size, sessions))
    fresh = np.sqrt(1 - correlation**2)
    for s in range(1, sessions):
        day[:, s] = correlation * day[:, s - 1] + fresh * day[:, s]
    return day


def window_levels(
    fit: Fit, player: str, trait: str, windows: tuple[Window, Window], likeness: Likeness
) -> tuple[Floats, Floats]:
    """Return draws of a player's tendency in two windows, days alike allowed for.

    They are the fit's own draws, moved and spread by as much as the surrogate's mean and
    covariance with the likeness differ from those without it.
    """
    own = np.stack([window_draws(fit, player, trait, window) for window in windows], axis=1)
    history = player_history(fit, trait, fit.player_index(player))
    if history is None:
        return own[:, 0], own[:, 1]
    contrasts = np.zeros((2, history.weeks.size))
    for row, window in zip(contrasts, windows, strict=True):
        places = np.searchsorted(history.places, sessions_in(fit, player, trait, window))
        row[places] = 1 / places.size
    own_view = fitted_likeness(fit, trait, fit.samples)
    usual, usual_root = _overall(*contrast_moments(history, contrasts, own_view))
    mean, root = _overall(*contrast_moments(history, contrasts, likeness))
    spread = root @ np.linalg.inv(usual_root)
    centre = own.mean(axis=0)
    careful = centre + mean - usual + (own - centre) @ spread.T
    return careful[:, 0], careful[:, 1]


def _overall(mean: Floats, cov: Floats) -> tuple[Floats, Floats]:
    """Return mean and Cholesky factor of the covariance of a mixture of equal parts."""
    total = cov.mean(axis=0) + np.cov(mean.T, ddof=0)
    return mean.mean(axis=0), np.linalg.cholesky(total + 1e-12 * np.eye(total.shape[0]))


def contrast_moments(
    history: History, contrasts: Floats, likeness: Likeness
) -> tuple[Floats, Floats]:
    """Return means (pair, contrast) and covariances (pair, contrast, contrast) of level sums."""
    draws = likeness.draws
    known = season(
        history.scales.take(draws),
        history.weeks,
        history.noise[draws],
        history.started,
        likeness.correlation,
    )
    z = known.whitened(history.means[None, draws])[0]
    pull = np.einsum("jst,ct->jsc", known.level_cov, contrasts)
    v = np.einsum("jrs,jsc->jrc", known.whiten, pull)
    mean = known.level_mean @ contrasts.T + np.einsum("jr,jrc->jc", z, v)
    cov = np.einsum("cs,jsd->jcd", contrasts, pull) - np.einsum("jrc,jrd->jcd", v, v)
    return mean, cov


def _thinned(fit: Fit, number: int) -> NDArray[np.int64]:
    return np.linspace(0, fit.samples - 1, min(number, fit.samples)).astype(np.int64)
