"""How a player's shots since the fit are put to the live model, on the draws of a stored fit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats
from models.tendency.likelihood import EFFECT_VARIANCES
from models.tendency.live import (
    LiveParameters,
    LivePosterior,
    LiveStart,
    NewSession,
    Readings,
    last_day,
    live_update,
)
from models.tendency.surrogate import HALF_YEAR_WEEKS
from models.traits import TRAITS, prior_of
from tracker.posterior import WEEK, Fit
from tracker.records import Change
from tracker.session_summary import DROP, TRIM


@dataclass(frozen=True, eq=False, slots=True)
class LiveFit:
    """A player's posterior after the shots since the fit.

    ``read`` (trait,) is the number of readings in ``session``, whether the fit has seen them or
    not; ``earlier`` that of all sessions before, in the store or in the fit; ``known_player``
    whether the fit knows the player; ``skipped`` how many stored sessions from before the fit's
    last one it has not seen: only a new fit can use those.
    """

    posterior: LivePosterior
    traits: tuple[str, ...]
    session: datetime
    read: NDArray[np.int64]
    earlier: NDArray[np.int64]
    known_player: bool
    skipped: int


def live_fit(
    fit: Fit, player: str, shots: pd.DataFrame, changes: Sequence[Change], session: datetime
) -> LiveFit:
    """Return a player's posterior for a session, from all that is stored of the player.

    ``shots`` is the player's table of ``Store.shots_frame`` for the fit's club; ``changes`` all
    that are logged of the player. Shots after ``session`` are left out; a session without shots
    gives the tendency as it stands on that day.
    """
    rng = np.random.default_rng([fit.info.seed, 4])
    places = {p.name: i for i, p in enumerate(fit.players)}
    place = places.get(player)
    shots = shots[shots["session"] <= session]
    methods, bias, reading_sd = _methods(fit, shots, rng)
    last = None
    if place is not None:
        known = np.flatnonzero(fit.session_start[place] <= _moment(session))  # NaT is never before
        last = int(known[-1]) if known.size else None
    parameters, start = _stand(fit, place, last, bias, reading_sd, rng)
    before = None if last is None or place is None else fit.session_start[place, last]
    known_starts = set() if place is None else set(fit.session_start[place].tolist()) - {None}
    stored = sorted({s.to_pydatetime() for s in shots["session"]} | {session})
    wanted = [s for s in stored if before is None or _moment(s) >= before]
    scale = np.sqrt(np.median(parameters.shot_sd, axis=0) ** 2 + reading_sd**2)
    new = []
    previous = before
    read = np.zeros(len(fit.traits), dtype=np.int64)
    for when in wanted:
        now = _moment(when)
        seen = np.zeros_like(fit.counts[:, 0, 0])
        if place is not None and last is not None and now == before:
            seen = fit.counts[:, place, last]
        fresh, read = _split(fit, shots[shots["session"] == when], methods, scale, seen)
        weeks = 0.0 if previous is None else float((now - previous) / WEEK)
        step_mean, step_variance = _logged(fit, place, changes, previous, now, rng)
        step_mean += _steady(fit, place) * weeks
        new.append(NewSession(weeks, step_mean, step_variance, fresh, seen.any(axis=0)))
        previous = now
    skipped = sum(1 for s in stored if s not in wanted and s not in known_starts)
    posterior = live_update(parameters, start, new)
    earlier = shots.loc[shots["session"] < session, list(fit.traits)].notna().sum().to_numpy()
    if place is not None:
        past = fit.session_start[place] < _moment(session)
        earlier = np.maximum(earlier, fit.counts[:, place][:, past].sum(axis=(0, 1)))
    return LiveFit(posterior, fit.traits, session, read, earlier, place is not None, skipped)


def _moment(when: datetime) -> np.datetime64:
    return np.datetime64(when, "s")


def _stand(
    fit: Fit,
    place: int | None,
    last: int | None,
    bias: Floats,
    reading_sd: Floats,
    rng: np.random.Generator,
) -> tuple[LiveParameters, LiveStart]:
    """Return what governs a player's shots, and where level and day stand after session ``last``.

    Days that the fit has seen count by their raw means and numbers of readings, as it keeps them.
    A draw in which an unlogged change has come holds no other.
    """
    rate = -np.log1p(-fit.jump_chance) / HALF_YEAR_WEEKS
    if place is not None:
        rate = np.where(fit.jump_at[:, place] >= 0, 0.0, rate)
    parameters = LiveParameters(
        fit.drift,
        fit.session_sd,
        fit.day_alike,
        fit.jump_sd,
        rate,
        _new_players_shot_sd(fit, rng) if place is None else fit.shot_sd[:, place],
        bias,
        reading_sd,
    )
    if place is None or last is None:
        nothing = np.zeros_like(fit.mu)
        return parameters, LiveStart(fit.mu, fit.spread**2, nothing, fit.session_sd**2)
    level = fit.level[:, place, : last + 1].astype(np.float64)
    count = np.zeros((len(reading_sd), last + 1, len(fit.traits)), dtype=np.int64)
    count[: len(fit.counts)] = fit.counts[:, place, : last + 1]
    day = last_day(parameters, level, count, fit.raw_mean[place, : last + 1])
    return parameters, LiveStart(level[:, -1], np.zeros_like(fit.mu), *day)


def _steady(fit: Fit, place: int | None) -> Floats:
    """Return what an unlogged change that came on steadily goes on to add a week, (N, K)."""
    if place is None:
        return np.zeros_like(fit.mu)
    return np.where(fit.jump_at[:, place] == 0, fit.jump[:, place].astype(np.float64), 0.0)


def _methods(
    fit: Fit, shots: pd.DataFrame, rng: np.random.Generator
) -> tuple[list[list[str]], Floats, Floats]:
    """Return method names by trait, and draws of bias (N, M, K) and reading SD (M, K).

    A method that the fit has not met has a bias drawn from the prior: until it has been used
    beside a known one, its readings may be off by that much.
    """
    names = []
    for k, trait in enumerate(fit.traits):
        known = list(fit.methods[k])
        met = shots.loc[shots[trait].notna(), TRAITS[trait].method_column].unique()
        names.append(known + sorted(str(name) for name in met if name not in known))
    most = max(max(map(len, names)), fit.bias.shape[1])
    bias = np.zeros((fit.samples, most, len(fit.traits)))
    reading_sd = np.ones((most, len(fit.traits)))
    own = fit.bias.shape[1]
    bias[:, :own], reading_sd[:own] = fit.bias, fit.reading_sd
    for k, trait in enumerate(fit.traits):
        for m in range(len(fit.methods[k]), len(names[k])):
            reading_sd[m, k] = TRAITS[trait].default_reading_sd(names[k][m])
            bias[:, m, k] = prior_of(trait).bias_scale * rng.standard_normal(fit.samples)
    return names, bias, reading_sd


def _new_players_shot_sd(fit: Fit, rng: np.random.Generator) -> Floats:
    """Return shot SDs that a player from outside the squad may have, (N, K)."""
    logs = np.log(fit.shot_sd)
    players = logs.shape[1]
    if players > 2:
        spread = logs.std(axis=1, ddof=1) * np.sqrt(1 + 1 / players)
    else:
        spread = np.array([prior_of(trait).log_shot_sd_spread for trait in fit.traits])
    return np.asarray(np.exp(logs.mean(axis=1) + spread * rng.standard_normal(fit.mu.shape)))


def _split(
    fit: Fit,
    rows: pd.DataFrame,
    methods: Sequence[Sequence[str]],
    scale: Floats,
    seen: NDArray[np.int64],
) -> tuple[Readings, NDArray[np.int64]]:
    """Return a session's readings that the fit has not seen, and how many there are in all.

    ``seen`` (M, K): how many of each method it has; the first ones stored.
    """
    fresh = tuple(np.zeros(scale.shape) for _ in range(3))
    read = np.zeros(len(fit.traits), dtype=np.int64)
    for k, trait in enumerate(fit.traits):
        values = rows[trait].to_numpy(dtype=np.float64)
        told = np.isfinite(values)
        read[k] = int(told.sum())
        if not read[k]:
            continue
        by = rows[TRAITS[trait].method_column].to_numpy(dtype=str)
        for m, name in enumerate(methods[k]):
            mine = values[told & (by == name)]
            if not mine.size:
                continue
            weight = _weights(mine, scale[m, k])
            new = slice(int(seen[m, k]) if m < len(seen) else 0, None)
            _summarise(fresh, m, k, mine[new], weight[new])
    return Readings(*fresh), read


def _weights(values: Floats, scale: float) -> Floats:
    """Return the weights of readings by the rule of ``tracker.session_summary``, scale known."""
    centre = float(np.median(values))
    for _ in range(2):
        far = np.abs(values - centre) / scale
        weight = np.where(far < DROP, (TRIM / np.maximum(far, TRIM)) ** 2, 0.0)
        if weight.sum() > 0:
            centre = float((weight * values).sum() / weight.sum())
    return np.asarray(weight, dtype=np.float64)


def _summarise(into: tuple[Floats, ...], m: int, k: int, values: Floats, weight: Floats) -> None:
    total = float(weight.sum())
    if total <= 0:
        return
    count, mean, squares = into
    count[m, k] = total
    mean[m, k] = float((weight * values).sum() / total)
    squares[m, k] = float((weight * (values - mean[m, k]) ** 2).sum())


def _logged(
    fit: Fit,
    place: int | None,
    changes: Sequence[Change],
    after: np.datetime64 | None,
    until: np.datetime64,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Return mean and variance (N, K) of what changes begun between two sessions add.

    A change that the fit has seen at work has its own draws; another is of its drill, the mean
    known or, of a drill that nobody has tried, drawn about 0. Of the parts of
    ``EFFECT_VARIANCES`` each draw has one, each part a like number of draws.
    """
    mean, variance = np.zeros_like(fit.mu), np.zeros_like(fit.mu)
    parts = np.resize(EFFECT_VARIANCES, fit.samples)
    keys = {_key(c): i for i, c in enumerate(fit.changes)}
    for change in changes:
        begun = _moment(datetime.combine(change.start, time.min))
        if begun > until or (after is not None and begun <= after):
            continue
        known = keys.get(_key(change))
        if place is None or not (fit.session_start[place] >= begun).any():
            known = None
        for k, trait in enumerate(fit.traits):
            if change.trait not in (None, trait):
                continue
            if known is not None and fit.affects[known, k]:
                mean[:, k] += fit.change_effect[:, known, k]
                continue
            variance[:, k] += fit.effect_sd[:, k] ** 2 * rng.permutation(parts)
            drill = fit.drills.index(change.name) if change.name in fit.drills else None
            if drill is not None and fit.drill_effect[:, drill, k].any():
                mean[:, k] += fit.drill_effect[:, drill, k]
            else:
                variance[:, k] += fit.drill_scale[:, k] ** 2
    return mean, variance


def _key(change: Change) -> tuple[object, ...]:
    return change.player, change.start, change.kind, change.name, change.trait
