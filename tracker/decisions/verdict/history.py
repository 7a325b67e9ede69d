"""A fit's scales and a player's sessions in the form that the surrogate takes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.arrays import Bools, Floats
from models.tendency.surrogate import HALF_YEAR_WEEKS, Scales
from tracker.posterior import WEEK, Fit


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """A player's sessions, one row a draw where the scales matter.

    ``places`` those with readings of the trait; ``weeks`` since the first, ``counts`` (method,
    session), ``means`` as read and 0 where nothing was; ``noise`` (infinite there) and ``bias``
    (draw, session); ``started`` (change, session), oldest first.
    """

    player: int
    places: NDArray[np.int64]
    scales: Scales
    weeks: Floats
    counts: NDArray[np.int64]
    means: Floats
    noise: Floats
    bias: Floats
    started: Bools


def mean_variance(fit: Fit, trait: str, player: int, counts: NDArray[np.int64]) -> Floats:
    """Return the variance of a session's mean from shots and readings, ``(draw, session)``.

    It is infinite where nothing was read.
    """
    k = fit.trait_index(trait)
    one = fit.shot_sd[:, player, k][:, None] ** 2 + fit.reading_sd[:, k] ** 2
    precision = (counts[None] / one[:, :, None]).sum(axis=1)
    with np.errstate(divide="ignore"):
        return np.asarray(1 / precision)


def mean_bias(fit: Fit, trait: str, counts: NDArray[np.int64]) -> Floats:
    """Return the bias of a session's mean from its reading methods, ``(draw, session)``."""
    return fit.bias[:, :, fit.trait_index(trait)] @ (counts / np.maximum(counts.sum(axis=0), 1))


def fit_scales(fit: Fit, trait: str, change_mean: Floats, change_open: Floats) -> Scales:
    """Return the fit's scales of a trait as the surrogate takes them, one row a draw.

    ``change_mean`` and ``change_open`` (draw, change): the mean effect of each logged change, and
    the variance of what is not known of it.
    """
    k = fit.trait_index(trait)
    return Scales(
        mean=fit.mu[:, k],
        between=fit.spread[:, k] ** 2,
        drift=fit.drift[:, k] ** 2,
        session=fit.session_sd[:, k] ** 2,
        alike=fit.day_alike[:, k],
        rate=-np.log1p(-fit.jump_chance[:, k]) / HALF_YEAR_WEEKS,
        jump=fit.jump_sd[:, k] ** 2,
        change_mean=change_mean,
        change=np.broadcast_to(fit.effect_sd[:, k, None] ** 2, change_mean.shape),
        change_open=change_open,
    )


def new_drills(fit: Fit, trait: str, number: int) -> Scales:
    """Return the fit's scales with logged changes that nobody had used before.

    Their mean effects lie about 0 as drills' do.
    """
    open_size = np.repeat(fit.drill_scale[:, fit.trait_index(trait), None] ** 2, number, axis=1)
    return fit_scales(fit, trait, np.zeros_like(open_size), open_size)


def player_history(fit: Fit, trait: str, p: int) -> History | None:
    """Return a player's sessions; None with readings in fewer than two.

    Each logged change has its drill's mean effect; those that begin later are left out.
    """
    k = fit.trait_index(trait)
    starts = fit.session_start[p]
    starts = starts[~np.isnat(starts)]
    counts = fit.counts[:, p, : starts.size, k]
    places = np.flatnonzero(counts.sum(axis=0) > 0)
    if places.size < 2:
        return None
    begun_by_now = [
        c for c in changes_of(fit, p, trait) if np.datetime64(fit.changes[c].start) <= starts[-1]
    ]
    mine = sorted(begun_by_now, key=lambda c: fit.changes[c].start)
    named = [fit.drills.index(fit.changes[c].name) for c in mine]
    effect = fit.drill_effect[:, named, k]
    begun = np.array([fit.changes[c].start for c in mine], dtype="datetime64[s]")
    return History(
        player=p,
        places=places,
        scales=fit_scales(fit, trait, effect, np.zeros_like(effect)),
        weeks=(starts - starts[0]) / WEEK,
        counts=counts,
        means=np.nan_to_num(fit.raw_mean[p, : starts.size, k]),
        noise=mean_variance(fit, trait, p, counts),
        bias=mean_bias(fit, trait, counts),
        started=starts[None, :] >= begun.reshape(-1, 1),
    )


def changes_of(fit: Fit, p: int, trait: str) -> tuple[int, ...]:
    """Return the places of a player's logged changes that touch a trait."""
    k, name = fit.trait_index(trait), fit.players[p].name
    return tuple(
        c for c, change in enumerate(fit.changes) if change.player == name and fit.affects[c, k]
    )
