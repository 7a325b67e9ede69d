"""How sure is sure enough: the P(direction) from which a squad's changes are called real.

A player who looks after every session looks often, so a fixed limit is crossed by luck sooner or
later. The threshold is the smallest at which an unchanged player of this squad, looked at after
each of twelve sessions, is ever called real in at most 4.5 % of seasons (so that it is at most 5 %
where shots are wilder than the simulated ones), with 95 % confidence over the seasons simulated
(one-sided Clopper-Pearson limit; Clopper & Pearson 1934, Biometrika 26:404). Seasons are drawn from
the posterior on the players' own calendars, days alike as the fit says, and judged by the surrogate
with the same posterior, weighed by the season itself.

A simulated player's level stands still, while the model that judges allows for drift and for
changes that nobody logged. A logged change is judged as one that nobody had used before: what a
squad knows of a drill, it has in part learned from the very seasons that are judged. Players with
and without a logged change have thresholds of their own, because a change of open size leaves more
to luck. The rules about size are left out, which only makes the threshold stricter.

Where the model itself proposes the date of a change (``windows.offered_split``), the player is
looked at a second way, at windows picked after the fact. This look has a threshold of its own, at
which it is ever fooled in at most 1 % of seasons; that of the usual look is then such that either
of them is in at most 4.5 %.
"""

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal, Protocol

import numpy as np
from scipy.special import betaincinv

from models.arrays import Bools, Floats, Indices
from models.tendency.surrogate import (
    Scales,
    Season,
    judged,
    neighbouring_days,
    season,
    window_contrast,
)
from tracker.decisions.verdict.guards import MIN_SESSIONS
from tracker.decisions.verdict.history import mean_variance, new_drills
from tracker.decisions.verdict.verdict import DEFAULT_THRESHOLD
from tracker.decisions.verdict.windows import OFFERED_FROM, Split, default_split, offered_split
from tracker.player_trait import WEEK, PlayerTrait
from tracker.posterior import Fit

type Which = Literal["usual", "offered"]
"""The look that is always there, or that at the windows which the model proposes."""

RECIPE: Final = 6
"""Raised when this module would answer differently, so that kept thresholds are worked out anew."""
LOOKS: Final = 12
SEASONS: Final = 2000
EVER: Final = 0.04
"""Share of imagined seasons in which luck may ever be called real. Shots of real seasons have
heavier tails than imagined ones, and players whom a drill leaves unmoved are judged by what it does
to others: in the evidence .045 here came out as .053 there."""
OFFERED_EVER: Final = 0.01
"""Share of the seasons in which the windows that the model offers may fool by themselves."""
CONFIDENCE: Final = 0.95
JUDGES: Final = 48
"""Draws that judge a simulated season."""
LOWEST, HIGHEST = 0.91, 0.9995
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
    """A player's sessions as they were read, extended at the usual pace to twelve."""

    one: PlayerTrait
    """What the fit holds of the player's trait."""
    weeks: Floats
    """Since the first session, ``(session,)``."""
    counts: Indices
    """Readings, ``(method, session)``."""
    started: Bools
    """Whether a logged change that acts on the trait had begun, ``(change, session)``."""


class Kept(Protocol):
    """Where thresholds stay between runs, by a key; the store's settings are such a place."""

    def setting(self, key: str, default: Any = None) -> Any:
        """Return what was kept (any JSON value), or ``default``."""

    def set_setting(self, key: str, value: Any) -> None:
        """Keep any JSON value but null."""


class Aside:
    """Keeps the thresholds of an earlier fit for this run, so that the latest fit's stay."""

    def __init__(self, kept: Kept) -> None:
        self._kept = kept
        self._own: dict[str, Any] = {}

    def setting(self, key: str, default: Any = None) -> Any:
        """Return what this run kept, else what is kept for good, else ``default``."""
        return self._own[key] if key in self._own else self._kept.setting(key, default)

    def set_setting(self, key: str, value: Any) -> None:
        """Keep a value for this run."""
        self._own[key] = value


def kept_threshold(
    kept: Kept,
    fit: Fit,
    player: str,
    trait: str,
    *,
    logged: bool | None = None,
    offered: bool = False,
) -> Threshold:
    """Return the threshold for a player's trait, simulated only when fit or calendar are new.

    ``logged`` asks for that of players with or without a logged change, whatever the player has;
    ``offered`` for that of the windows that the model proposes.
    """
    if fit.problems_of(trait):
        return DEFAULT
    if logged is None:
        logged = bool(fit.of(player, trait).changes)
    key, made_of = f"threshold.{trait}.{'change' if logged else 'plain'}", _made_of(fit, trait)
    name: Which = "offered" if offered else "usual"
    known: Any = kept.setting(key)
    if isinstance(known, dict) and known.get("made_of") == made_of:
        return Threshold(**known[name])
    found = calibrated_thresholds(fit, trait, logged=logged)
    kept.set_setting(key, {"made_of": made_of, **{n: asdict(t) for n, t in found.items()}})
    return found[name]


def calibrated_thresholds(
    fit: Fit, trait: str, *, logged: bool, seasons: int = SEASONS, seed: int = 1
) -> dict[Which, Threshold]:
    """Return the thresholds for the players with (``logged``) or without a logged change.

    Without any such player with readings the default stands.
    """
    calendars = [c for c in squad_calendars(fit, trait) if bool(c.one.changes) == logged]
    if not calendars:
        return {"usual": DEFAULT, "offered": DEFAULT}
    each = -(-seasons // len(calendars))

    def surest(calendar: Calendar) -> Floats:
        one = calendar.one
        rng = np.random.default_rng([seed, one.trait_number, one.player_number])
        return unchanged_surest(calendar, each, rng)

    with ThreadPoolExecutor() as pool:
        found = np.concatenate(list(pool.map(surest, calendars)), axis=1)
    alike = float(fit.squad(trait).day_alike.mean())
    return smallest_thresholds(found[0], found[1], alike)


def smallest_thresholds(
    usual: Floats, offered: Floats, neighbours: float = 0.0
) -> dict[Which, Threshold]:
    """Return the smallest thresholds that each season's highest chances by either look allow.

    The look at offered windows alone may fool in ``OFFERED_EVER`` of the seasons, both together in
    ``EVER``; ``ever`` of the usual look counts both.
    """
    second = _smallest(offered, OFFERED_EVER, neighbours)
    both = np.where(offered >= second.value, 1.0, usual)
    return {"usual": _smallest(both, EVER, neighbours), "offered": second}


def _smallest(surest: Floats, ever: float, neighbours: float) -> Threshold:
    """Return the smallest threshold that is reached in at most a share ``ever`` of seasons."""
    total = surest.size
    allowed = allowed_alarms(total, ever)
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


def allowed_alarms(total: int, ever: float = EVER) -> int:
    """Return the most alarms whose upper 95 % limit is at most ``ever``; -1 when none is."""
    most = int(ever * total)
    limits = betaincinv(np.arange(most + 1) + 1, total - np.arange(most + 1), CONFIDENCE)
    return int(np.sum(limits <= ever)) - 1


def squad_calendars(fit: Fit, trait: str) -> tuple[Calendar, ...]:
    """Return the calendar of every player with readings of a trait."""
    return tuple(
        calendar
        for one in fit.squad(trait).players.values()
        if (calendar := _calendar(one)) is not None
    )


def _calendar(one: PlayerTrait) -> Calendar | None:
    counts, read = one.counts, one.places_read[:LOOKS]
    if not read.size:
        return None
    starts = one.times[read]
    weeks = (starts - starts[0]) / WEEK
    missing = LOOKS - read.size
    gap = float(np.median(np.diff(weeks))) if read.size > 1 else TYPICAL_GAP_WEEKS
    weeks = np.concatenate([weeks, weeks[-1] + max(gap, 1 / 7) * np.arange(1, missing + 1)])
    typical = counts[:, read[np.arange(LOOKS - missing, LOOKS) % read.size]]
    begun = np.array([(np.datetime64(c.start, "s") - starts[0]) / WEEK for c in one.changes])
    return Calendar(
        one=one,
        weeks=weeks,
        counts=np.concatenate([counts[:, read], typical], axis=1),
        started=weeks[None, :] >= begun.reshape(-1, 1),
    )


def unchanged_surest(calendar: Calendar, seasons: int, rng: np.random.Generator) -> Floats:
    """Return the highest P(direction) over the looks of each of some unchanged seasons.

    By the default windows, and by those that the model offers, ``(2, season)``; .5 where there is
    no such look.
    """
    one, sessions = calendar.one, calendar.weeks.size
    judges = _thinned(one.mu.size)
    scales = new_drills(one, len(one.changes)).take(judges)
    noise = mean_variance(one, calendar.counts)[judges]
    bias = one.mean_bias(calendar.counts)[judges]
    means = _unchanged_means(scales, noise, bias, seasons, rng)
    known = season(scales, calendar.weeks, noise, calendar.started, bias)
    days = np.floor(calendar.weeks * 7 + 1e-9).astype(int).tolist()
    begun = [days[int(np.argmax(on))] for on in calendar.started if on.any() and not on.all()]
    looks = range(2 * MIN_SESSIONS, sessions + 1)
    usual = [_contrast(default_split(days[:n], begun), sessions) for n in looks]
    nothing = np.zeros(sessions)
    asked = [(n, nothing if c is None else c) for n, c in zip(looks, usual, strict=True)]
    found = judged(known, means, asked)
    sure = np.where([c is None for c in usual], 0.5, _surest(found.above))
    offered = np.full(seasons, 0.5)
    for i, n in enumerate(looks):
        rows = np.flatnonzero(found.jump[:, i] >= OFFERED_FROM)
        if rows.size:
            here = _offered_surest(known, means[rows], found.unlogged[rows, i], n)
            offered[rows] = np.maximum(offered[rows], here)
    return np.stack([sure.max(axis=1), offered])


def _contrast(split: Split | None, sessions: int) -> Floats | None:
    """Return the contrast of two windows; None where a verdict on them is refused."""
    if split is None or not split.judgeable:
        return None
    return window_contrast(split.before, split.after, sessions)


def _surest(above: Floats) -> Floats:
    """Return the chance of the likelier direction."""
    return np.maximum(above[..., 0], 1 - above[..., 0])


def _offered_surest(known: Season, means: Floats, unlogged: Floats, upto: int) -> Floats:
    """Return P(direction) by the windows that the model offers each season, .5 where none."""
    splits = [offered_split(np.concatenate([[0.0], row[1:upto]])) for row in unlogged]
    ends = [None if s is None else (s.before.size, upto - s.after.size) for s in splits]
    sure = np.full(len(means), 0.5)
    for end in set(ends) - {None}:
        rows = [i for i, e in enumerate(ends) if e == end]
        contrast = _contrast(splits[rows[0]], known.weeks.size)
        if contrast is not None:
            sure[rows] = _surest(judged(known, means[rows], [(upto, contrast)]).above)[:, 0]
    return sure


def _thinned(samples: int) -> Indices:
    return np.linspace(0, samples - 1, min(JUDGES, samples)).astype(np.int64)


def _unchanged_means(
    scales: Scales, noise: Floats, bias: Floats, seasons: int, rng: np.random.Generator
) -> Floats:
    """Return session means of players whose level stands still, ``(season, session)``."""
    sessions = noise.shape[1]
    truth = rng.integers(0, noise.shape[0], seasons)
    level = scales.mean[truth] + np.sqrt(scales.between[truth]) * rng.standard_normal(seasons)
    day = neighbouring_days(scales.alike[truth], sessions, rng)
    day *= np.sqrt(scales.session[truth])[:, None]
    scatter = np.sqrt(noise[truth]) * rng.standard_normal((seasons, sessions))
    return np.asarray(level[:, None] + bias[truth] + day + scatter)


def _made_of(fit: Fit, trait: str) -> str:
    """Return a digest of everything that the threshold depends on: the fit and the calendar."""
    squad = fit.squad(trait)
    digest = hashlib.sha256(f"{fit.info.data_digest} {fit.info.seed} {trait} {RECIPE}".encode())
    for part in (
        squad.mu,
        squad.spread,
        squad.drift,
        squad.session_sd,
        squad.day_alike,
        squad.jump_sd,
        squad.jump_chance,
        squad.effect_sd,
        squad.drill_scale,
        squad.bias,
        *(part for one in squad.players.values() for part in (one.shot_sd, one.counts)),
    ):
        digest.update(np.ascontiguousarray(part).tobytes())
    for name in squad.players:
        digest.update(repr(fit.sessions(name)).encode())
    digest.update(repr([(c.player, c.start, c.name) for c in fit.changes]).encode())
    return digest.hexdigest()
