"""How a player's shots since the fit are put to the live model, on the draws of a stored fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.live import LiveParameters, LivePosterior, NewSession, Readings, live_update
from models.traits import TRAITS, Prior
from tracker.posterior import WEEK, Fit
from tracker.records import Change
from tracker.session_summary import DROP, TRIM

Floats = NDArray[np.float64]

NEW_DRILL_SPREAD = 0.5
"""Spread between players of an unknown drill's effect, as a share of its prior scale."""


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
    if place is None:
        mean, variance = fit.mu, fit.spread**2
        shot_sd = _new_players_shot_sd(fit, rng)
        last = None
    else:
        known = np.flatnonzero(
            ~np.isnat(fit.session_start[place]) & (fit.session_start[place] <= _moment(session))
        )
        last = int(known[-1]) if known.size else None
        mean = fit.mu if last is None else fit.level[:, place, last].astype(np.float64)
        variance = fit.spread**2 if last is None else np.zeros_like(fit.mu)
        shot_sd = fit.shot_sd[:, place]
    parameters = LiveParameters(fit.drift, fit.session_sd, shot_sd, bias, reading_sd)
    before = None if last is None or place is None else fit.session_start[place, last]
    known_starts = set() if place is None else set(fit.session_start[place].tolist()) - {None}
    stored = sorted({s.to_pydatetime() for s in shots["session"]} | {session})
    wanted = [s for s in stored if before is None or _moment(s) >= before]
    scale = np.sqrt(np.median(shot_sd, axis=0) ** 2 + reading_sd**2)
    new = []
    previous = before
    read = np.zeros(len(fit.traits), dtype=np.int64)
    for start in wanted:
        rows = shots[shots["session"] == start]
        fitted = place is not None and last is not None and _moment(start) == before
        seen_count = fit.counts[:, place, last] if fitted else None
        seen, fresh, read = _split(fit, rows, methods, scale, seen_count)
        step = _step(fit, changes, previous, _moment(start))
        weeks = 0.0 if previous is None else float((_moment(start) - previous) / WEEK)
        new.append(NewSession(weeks, *step, fresh, seen))
        previous = _moment(start)
    skipped = sum(1 for s in stored if s not in wanted and s not in known_starts)
    posterior = live_update(parameters, mean, variance, new)
    earlier = shots.loc[shots["session"] < session, list(fit.traits)].notna().sum().to_numpy()
    if place is not None:
        past = fit.session_start[place] < _moment(session)
        earlier = np.maximum(earlier, fit.counts[:, place][:, past].sum(axis=(0, 1)))
    return LiveFit(posterior, fit.traits, session, read, earlier, place is not None, skipped)


def _moment(when: datetime) -> np.datetime64:
    return np.datetime64(when, "s")


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
        met = shots.loc[shots[trait].notna(), _method_column(trait)].unique()
        names.append(known + sorted(str(name) for name in met if name not in known))
    most = max(max(map(len, names)), fit.bias.shape[1])
    bias = np.zeros((fit.samples, most, len(fit.traits)))
    reading_sd = np.ones((most, len(fit.traits)))
    own = fit.bias.shape[1]
    bias[:, :own], reading_sd[:own] = fit.bias, fit.reading_sd
    for k, trait in enumerate(fit.traits):
        for m in range(len(fit.methods[k]), len(names[k])):
            reading_sd[m, k] = TRAITS[trait].default_reading_sd(names[k][m])
            bias[:, m, k] = _prior(trait).bias_scale * rng.standard_normal(fit.samples)
    return names, bias, reading_sd


def _method_column(trait: str) -> str:
    return "strike_method" if TRAITS[trait].group == "strike" else "delivery_method"


def _prior(trait: str) -> Prior:
    prior = TRAITS[trait].prior
    if prior is None:
        raise ValueError(f"{trait} is not a modelled trait")
    return prior


def _new_players_shot_sd(fit: Fit, rng: np.random.Generator) -> Floats:
    """Return shot SDs that a player from outside the squad may have, (N, K)."""
    logs = np.log(fit.shot_sd)
    players = logs.shape[1]
    if players > 2:
        spread = logs.std(axis=1, ddof=1) * np.sqrt(1 + 1 / players)
    else:
        spread = np.array([_prior(trait).log_shot_sd_spread for trait in fit.traits])
    return np.asarray(np.exp(logs.mean(axis=1) + spread * rng.standard_normal(fit.mu.shape)))


def _split(
    fit: Fit,
    rows: pd.DataFrame,
    methods: Sequence[Sequence[str]],
    scale: Floats,
    seen_count: NDArray[np.int64] | None,
) -> tuple[Readings, Readings, NDArray[np.int64]]:
    """Return a session's readings that the fit has seen and has not, and how many there are."""
    shape = scale.shape
    seen, fresh = (tuple(np.zeros(shape) for _ in range(3)) for _ in range(2))
    read = np.zeros(len(fit.traits), dtype=np.int64)
    for k, trait in enumerate(fit.traits):
        values = rows[trait].to_numpy(dtype=np.float64)
        told = np.isfinite(values)
        read[k] = int(told.sum())
        if not read[k]:
            continue
        by = rows[_method_column(trait)].to_numpy(dtype=str)
        for m, name in enumerate(methods[k]):
            mine = values[told & (by == name)]
            if not mine.size:
                continue
            weight = _weights(mine, scale[m, k])
            done = int(seen_count[m, k]) if seen_count is not None and m < len(seen_count) else 0
            for into, part in ((seen, slice(None, done)), (fresh, slice(done, None))):
                _summarise(into, m, k, mine[part], weight[part])
    return Readings(*seen), Readings(*fresh), read


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


def _step(
    fit: Fit, changes: Sequence[Change], after: np.datetime64 | None, until: np.datetime64
) -> tuple[Floats, Floats]:
    """Return mean and variance (N, K) of what changes begun between two sessions add.

    A change in the fit has its own draws; one of a known name its drill's; another the prior's.
    """
    mean, variance = np.zeros_like(fit.mu), np.zeros_like(fit.mu)
    keys: Mapping[object, int] = {_key(c): i for i, c in enumerate(fit.changes)}
    for change in changes:
        begun = _moment(datetime.combine(change.start, time.min))
        if begun > until or (after is not None and begun <= after):
            continue
        known = keys.get(_key(change))
        for k, trait in enumerate(fit.traits):
            if change.trait not in (None, trait):
                continue
            if known is not None and fit.affects[known, k]:
                mean[:, k] += fit.change_effect[:, known, k]
            elif change.name in fit.drills and fit.drill_spread[:, _drill(fit, change), k].any():
                mean[:, k] += fit.drill_effect[:, _drill(fit, change), k]
                variance[:, k] += fit.drill_spread[:, _drill(fit, change), k] ** 2
            else:
                scale = _prior(trait).change_scale
                variance[:, k] += scale**2 * (1 + NEW_DRILL_SPREAD**2)
    return mean, variance


def _key(change: Change) -> tuple[object, ...]:
    return change.player, change.start, change.kind, change.name, change.trait


def _drill(fit: Fit, change: Change) -> int:
    return fit.drills.index(change.name)
