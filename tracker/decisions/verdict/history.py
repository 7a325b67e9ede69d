"""A fit's scales and a player's sessions in the form that the surrogate takes."""

from dataclasses import dataclass

import numpy as np

from models.arrays import Bools, Floats, Indices
from models.tendency.surrogate import HALF_YEAR_WEEKS, Scales
from tracker.player_trait import WEEK, PlayerTrait, TraitDraws
from tracker.posterior import Fit


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """A player's sessions of a trait, one row a draw where the scales matter."""

    one: PlayerTrait
    """What the fit holds of the player's trait."""
    places: Indices
    """Sessions with readings of the trait."""
    scales: Scales
    weeks: Floats
    """Since the first session, ``(session,)``."""
    counts: Indices
    """Readings, ``(method, session)``."""
    means: Floats
    """As read, ``(session,)``; 0 where nothing was."""
    noise: Floats
    """Variance of a session's mean, ``(draw, session)``; infinite where nothing was read."""
    bias: Floats
    """Bias of a session's mean, ``(draw, session)``."""
    started: Bools
    """Whether a logged change had begun, ``(change, session)``, the oldest first."""


def mean_variance(one: PlayerTrait, counts: Indices) -> Floats:
    """Return the variance of a session's mean from shots and readings, ``(draw, session)``.

    It is infinite where nothing was read.
    """
    of_one_shot = one.shot_sd[:, None] ** 2 + one.reading_sd**2
    precision = (counts[None] / of_one_shot[:, :, None]).sum(axis=1)
    with np.errstate(divide="ignore"):
        return np.asarray(1 / precision)


def fit_scales(drawn: TraitDraws, change_mean: Floats, change_open: Floats) -> Scales:
    """Return the fit's scales of a trait as the surrogate takes them, one row a draw.

    ``change_mean`` and ``change_open`` (draw, change): the mean effect of each logged change, and
    the variance of what is not known of it.
    """
    return Scales(
        mean=drawn.mu,
        between=drawn.spread**2,
        drift=drawn.drift**2,
        session=drawn.session_sd**2,
        alike=drawn.day_alike,
        rate=-np.log1p(-drawn.jump_chance) / HALF_YEAR_WEEKS,
        jump=drawn.jump_sd**2,
        change_mean=change_mean,
        change=np.broadcast_to(drawn.effect_sd[:, None] ** 2, change_mean.shape),
        change_open=change_open,
    )


def new_drills(drawn: TraitDraws, number: int) -> Scales:
    """Return the fit's scales with logged changes that nobody had used before.

    Their mean effects lie about 0 as drills' do.
    """
    open_size = np.repeat(drawn.drill_scale[:, None] ** 2, number, axis=1)
    return fit_scales(drawn, np.zeros_like(open_size), open_size)


def player_history(fit: Fit, player: str, trait: str) -> History | None:
    """Return a player's sessions; None with readings in fewer than two.

    Each logged change has its drill's mean effect; those that begin later are left out.
    """
    one = fit.of(player, trait)
    starts, places = one.times, one.places_read
    if places.size < 2:
        return None
    begun_by_now = [c for c in one.changes if np.datetime64(c.start) <= starts[-1]]
    mine = sorted(begun_by_now, key=lambda c: c.start)
    effect = one.drill_effects([c.name for c in mine])
    begun = np.array([c.start for c in mine], dtype="datetime64[s]")
    return History(
        one=one,
        places=places,
        scales=fit_scales(one, effect, np.zeros_like(effect)),
        weeks=(starts - starts[0]) / WEEK,
        counts=one.counts,
        means=np.nan_to_num(one.raw_mean),
        noise=mean_variance(one, one.counts),
        bias=one.mean_bias(one.counts),
        started=starts[None, :] >= begun.reshape(-1, 1),
    )
