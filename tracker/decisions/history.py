"""A fit's scales and a player's sessions in the form that the surrogate takes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.traits import TRAITS
from tracker.decisions.surrogate import Bools, Floats, Scales
from tracker.errors import BadRequest
from tracker.posterior import WEEK, Fit


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """A player's sessions with readings of one trait, one row a draw where the scales matter.

    ``places`` in the fit, ``weeks`` since the first, ``counts`` (method, session), ``noise`` and
    ``means`` (freed of method bias) (draw, session), ``started`` (change, session).
    """

    player: int
    places: NDArray[np.int64]
    scales: Scales
    weeks: Floats
    counts: NDArray[np.int64]
    noise: Floats
    means: Floats
    started: Bools


def mean_variance(fit: Fit, trait: str, player: int, counts: NDArray[np.int64]) -> Floats:
    """Return the variance of a session's mean from shots and readings, ``(draw, session)``."""
    k = fit.trait_index(trait)
    one = fit.shot_sd[:, player, k][:, None] ** 2 + fit.reading_sd[:, k] ** 2
    return np.asarray(1 / np.maximum((counts[None] / one[:, :, None]).sum(axis=1), 1e-12))


def mean_bias(fit: Fit, trait: str, counts: NDArray[np.int64]) -> Floats:
    """Return the bias of a session's mean from its reading methods, ``(draw, session)``."""
    return fit.bias[:, :, fit.trait_index(trait)] @ (counts / counts.sum(axis=0))


def fit_scales(fit: Fit, trait: str, change_mean: Floats, change: Floats) -> Scales:
    """Return the fit's scales of a trait as the surrogate takes them, one row a draw."""
    k = fit.trait_index(trait)
    return Scales(
        mean=fit.mu[:, k],
        between=fit.spread[:, k] ** 2,
        drift=fit.drift[:, k] ** 2,
        session=fit.session_sd[:, k] ** 2,
        change_mean=change_mean,
        change=change,
    )


def player_history(fit: Fit, trait: str, p: int) -> History | None:
    """Return a player's sessions; None with readings in fewer than two.

    What a logged change did is as open as its drill's effects are in the squad.
    """
    k = fit.trait_index(trait)
    places = np.flatnonzero(fit.counts[:, p, :, k].sum(axis=0) > 0)
    if places.size < 2:
        return None
    starts, counts = fit.session_start[p, places], fit.counts[:, p, :, k][:, places]
    mine = changes_of(fit, p, trait)
    named = [fit.drills.index(fit.changes[c].name) for c in mine]
    effect, spread = fit.drill_effect[:, named, k], fit.drill_spread[:, named, k]
    begun = np.array([fit.changes[c].start for c in mine], dtype="datetime64[s]")
    return History(
        player=p,
        places=places,
        scales=fit_scales(fit, trait, effect, spread**2),
        weeks=(starts - starts[0]) / WEEK,
        counts=counts,
        noise=mean_variance(fit, trait, p, counts),
        means=fit.raw_mean[p, places, k] - mean_bias(fit, trait, counts),
        started=starts[None, :] >= begun.reshape(-1, 1),
    )


def changes_of(fit: Fit, p: int, trait: str) -> tuple[int, ...]:
    """Return the places of a player's logged changes that touch a trait."""
    k, name = fit.trait_index(trait), fit.players[p].name
    return tuple(
        c for c, change in enumerate(fit.changes) if change.player == name and fit.affects[c, k]
    )


def new_drill_variance(trait: str) -> float:
    """Return the prior variance of what a drill does that nobody has used before.

    Its mean effect has the trait's change scale, players' effects about it half of that again.
    """
    prior = TRAITS[trait].prior
    if prior is None:
        raise BadRequest(f"trait: found {trait!r}, wanted one that the model covers")
    return prior.change_scale**2 * (1 + 0.5**2)
