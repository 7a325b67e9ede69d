"""How sure is sure enough: the P(direction) from which a squad's changes are called real.

A player who looks after every session looks often, so a fixed limit is crossed by luck sooner or
later. The threshold is the smallest at which an unchanged player of this squad, looked at after
each of twelve sessions, is ever called real in at most 5 % of seasons, with 95 % confidence over
the seasons simulated (one-sided Clopper-Pearson limit; Clopper & Pearson 1934, Biometrika 26:404).
Seasons are drawn from the posterior on the players' own calendars, neighbouring days as alike as
``likeness`` finds them, and judged by the surrogate with the same posterior, weighed by the season
itself.

A simulated player's level stands still, while the model that judges allows for drift. A logged
change is judged as one that nobody had used before: what a squad knows of a drill, it has in part
learned from the very seasons that are judged. Players with and without a logged change have
thresholds of their own, because a change of open size leaves more to luck. The rules about size
are left out, which only makes the threshold stricter.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from tracker.decisions.change import DEFAULT_THRESHOLD
from tracker.decisions.guards import MIN_SESSIONS
from tracker.decisions.history import (
    changes_of,
    fit_scales,
    mean_bias,
    mean_variance,
    new_drill_variance,
)
from tracker.decisions.likeness import Likeness, neighbour_likeness, neighbouring_days
from tracker.decisions.surrogate import (
    Bools,
    Floats,
    Scales,
    mixing_weights,
    p_direction,
    season,
    window_contrast,
)
from tracker.posterior import WEEK, Fit
from tracker.store import Store

Indices = NDArray[np.int64]

RECIPE: Final = 3
"""Raised when this module would answer differently, so that kept thresholds are worked out anew."""
LOOKS: Final = 12
SEASONS: Final = 2000
EVER: Final = 0.05
CONFIDENCE: Final = 0.95
JUDGES: Final = 48
"""Pairs of a draw and a correlation that judge a simulated season."""
LOWEST, HIGHEST = 0.95, 0.9995
TYPICAL_GAP_WEEKS: Final = 1.0


@dataclass(frozen=True, slots=True)
class Threshold:
    """P(direction) from which a change is real, and how often that fools an unchanged player.

    ``ever`` is the share of simulated seasons ever called real, ``ever_high`` its upper 95 %
    limit; both None when nothing was simulated and the default stands.
    """

    value: float
    ever: float | None
    ever_high: float | None
    seasons: int
    neighbours: float
    """Correlation of neighbouring sessions that was simulated."""


DEFAULT: Final = Threshold(DEFAULT_THRESHOLD, None, None, 0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Calendar:
    """A player's sessions as they were read, extended at the usual pace to twelve.

    ``weeks`` (session,); ``counts`` (method, session); ``started`` (change, session) for the
    logged changes that touch the trait, whose places in the fit are ``changes``.
    """

    player: int
    weeks: Floats
    counts: NDArray[np.int64]
    started: Bools
    changes: tuple[int, ...]


def stored_threshold(
    store: Store, fit: Fit, player: str, trait: str, *, logged: bool | None = None
) -> Threshold:
    """Return the threshold for a player's trait, simulated only when fit or calendar are new.

    ``logged`` asks for that of players with or without a logged change, whatever the player has.
    """
    if fit.problems:
        return DEFAULT
    if logged is None:
        logged = bool(changes_of(fit, fit.player_index(player), trait))
    key, made_of = f"threshold.{trait}.{'change' if logged else 'plain'}", _made_of(fit, trait)
    kept: Any = store.setting(key)
    if isinstance(kept, dict) and kept.get("made_of") == made_of:
        return Threshold(**kept["threshold"])
    found = calibrated_threshold(fit, trait, logged=logged)
    store.set_setting(key, {"made_of": made_of, "threshold": asdict(found)})
    return found


def calibrated_threshold(
    fit: Fit,
    trait: str,
    *,
    logged: bool,
    seasons: int = SEASONS,
    seed: int = 1,
    likeness: Likeness | None = None,
) -> Threshold:
    """Return the threshold for the players with (``logged``) or without a logged change.

    Without any such player with readings the default stands. ``likeness`` replaces what the
    squad's sessions say of neighbouring days.
    """
    calendars = [c for c in squad_calendars(fit, trait) if bool(c.changes) == logged]
    if not calendars:
        return DEFAULT
    alike = neighbour_likeness(fit, trait) if likeness is None else likeness
    each = -(-seasons // len(calendars))
    rng = np.random.default_rng([seed, fit.trait_index(trait), int(logged)])
    surest = np.concatenate([unchanged_surest(fit, trait, c, each, alike, rng) for c in calendars])
    return smallest_threshold(surest, alike.mean)


def smallest_threshold(surest: Floats, neighbours: float = 0.0) -> Threshold:
    """Return the smallest threshold that ``surest`` (each season's highest chance) allows."""
    total = surest.size
    allowed = allowed_alarms(total)
    falling = np.sort(surest)[::-1]
    value = LOWEST
    if allowed < 0:
        value = HIGHEST
    elif allowed < total:
        value = np.floor(falling[allowed] * 1e4) / 1e4 + 1e-4
    value = float(np.clip(round(value, 4), LOWEST, HIGHEST))
    alarms = int((surest >= value).sum())
    return Threshold(value, alarms / total, upper_limit(alarms, total), total, neighbours)


def upper_limit(alarms: int, total: int) -> float:
    """Return the upper 95 % limit of a share (Clopper & Pearson 1934)."""
    return 1.0 if alarms >= total else float(betaincinv(alarms + 1, total - alarms, CONFIDENCE))


def allowed_alarms(total: int) -> int:
    """Return the most alarms whose upper 95 % limit is at most 5 %; -1 when none is allowed."""
    most = int(EVER * total)
    limits = betaincinv(np.arange(most + 1) + 1, total - np.arange(most + 1), CONFIDENCE)
    return int(np.sum(limits <= EVER)) - 1


def look_windows(days: Sequence[int], changes: Sequence[int]) -> tuple[Indices, Indices] | None:
    """Return which sessions the default windows of a verdict hold; None without two windows.

    ``days`` are the days of the sessions so far, ``changes`` those of logged changes that touch
    the trait. The rule is that of ``change.default_windows``.
    """
    own = np.asarray(days)
    unique = sorted(set(days))
    starts = sorted(set(changes))
    for place in reversed(range(len(starts))):
        later, earlier = own >= starts[place], own < starts[place]
        if later.any() and earlier.any():
            since = earlier & (own >= starts[place - 1]) if place else earlier
            first = since if since.any() else earlier
            return np.flatnonzero(first), np.flatnonzero(later)
    if len(unique) < 2:
        return None
    third = min(len(unique) // 2, max(2, round(len(unique) / 3)))
    return np.flatnonzero(own <= unique[third - 1]), np.flatnonzero(own >= unique[-third])


def squad_calendars(fit: Fit, trait: str) -> tuple[Calendar, ...]:
    """Return the calendar of every player with readings of a trait."""
    return tuple(
        calendar
        for p in range(len(fit.players))
        if (calendar := _calendar(fit, trait, p)) is not None
    )


def _calendar(fit: Fit, trait: str, p: int) -> Calendar | None:
    k = fit.trait_index(trait)
    counts = fit.counts[:, p, :, k]
    read = np.flatnonzero(counts.sum(axis=0) > 0)[:LOOKS]
    if not read.size:
        return None
    starts = fit.session_start[p, read]
    weeks = (starts - starts[0]) / WEEK
    missing = LOOKS - read.size
    gap = float(np.median(np.diff(weeks))) if read.size > 1 else TYPICAL_GAP_WEEKS
    weeks = np.concatenate([weeks, weeks[-1] + max(gap, 1 / 7) * np.arange(1, missing + 1)])
    typical = counts[:, read[np.arange(LOOKS - missing, LOOKS) % read.size]]
    own = changes_of(fit, p, trait)
    begun = np.array([(np.datetime64(fit.changes[c].start, "s") - starts[0]) / WEEK for c in own])
    return Calendar(
        player=p,
        weeks=weeks,
        counts=np.concatenate([counts[:, read], typical], axis=1),
        started=weeks[None, :] >= begun.reshape(-1, 1),
        changes=own,
    )


def unchanged_surest(
    fit: Fit,
    trait: str,
    calendar: Calendar,
    seasons: int,
    likeness: Likeness,
    rng: np.random.Generator,
) -> Floats:
    """Return the highest P(direction) over the looks of each of some unchanged seasons."""
    p, sessions = calendar.player, calendar.weeks.size
    none = np.zeros((fit.samples, len(calendar.changes)))
    scales = fit_scales(fit, trait, none, none + new_drill_variance(trait))
    noise, bias = (
        mean_variance(fit, trait, p, calendar.counts),
        mean_bias(fit, trait, calendar.counts),
    )
    few = likeness.thinned(JUDGES)
    judges, alike = few.draws, few.correlation
    scales, noise, bias = scales.take(judges), noise[judges], bias[judges]
    means = _unchanged_means(scales, noise, bias, alike, seasons, rng)
    known = season(scales, calendar.weeks, noise, calendar.started, alike)
    z = known.whitened(means[:, None, :] - bias)
    told = np.cumsum(known.log_likelihood(z), axis=2)
    days = np.floor(calendar.weeks * 7 + 1e-9).astype(int).tolist()
    begun = [days[int(np.argmax(on))] for on in calendar.started if on.any() and not on.all()]
    surest = np.full(seasons, 0.5)
    for n in range(2 * MIN_SESSIONS, sessions + 1):
        windows = look_windows(days[:n], begun)
        if windows is None or min(w.size for w in windows) < MIN_SESSIONS:
            continue
        mean, variance = known.difference(z, window_contrast(*windows, sessions), n)
        sure = p_direction(mean, variance, mixing_weights(told[:, :, n - 1]))
        surest = np.maximum(surest, sure)
    return surest


def _unchanged_means(
    scales: Scales,
    noise: Floats,
    bias: Floats,
    alike: Floats,
    seasons: int,
    rng: np.random.Generator,
) -> Floats:
    """Return session means of players whose level stands still, ``(season, session)``."""
    sessions = noise.shape[1]
    truth = rng.integers(0, noise.shape[0], seasons)
    level = scales.mean[truth] + np.sqrt(scales.between[truth]) * rng.standard_normal(seasons)
    day = neighbouring_days(alike[truth], sessions, rng)
    scatter = np.sqrt(noise[truth]) * rng.standard_normal((seasons, sessions))
    day *= np.sqrt(scales.session[truth])[:, None]
    return np.asarray(level[:, None] + bias[truth] + day + scatter)


def _made_of(fit: Fit, trait: str) -> str:
    """Return a digest of everything that the threshold depends on: the fit and the calendar."""
    k = fit.trait_index(trait)
    digest = hashlib.sha256(f"{fit.info.data_digest} {fit.info.seed} {trait} {RECIPE}".encode())
    for part in (fit.mu, fit.spread, fit.drift, fit.session_sd, fit.drill_spread, fit.bias):
        digest.update(np.ascontiguousarray(part[..., k]).tobytes())
    digest.update(fit.session_start.astype(np.int64).tobytes())
    digest.update(np.ascontiguousarray(fit.counts[..., k]).tobytes())
    digest.update(repr([(c.player, c.start, c.name) for c in fit.changes]).encode())
    return digest.hexdigest()
