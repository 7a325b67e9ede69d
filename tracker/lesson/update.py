"""How a player's shots since the fit are put to the live model, on the draws of a stored fit."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models.arrays import Floats, Indices
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
from tracker.files.change_log import change_key
from tracker.player_trait import WEEK, PlayerTrait
from tracker.posterior import Fit, SquadTrait
from tracker.readings.session_summary import DROP, TRIM
from tracker.records import Change


@dataclass(frozen=True, eq=False, slots=True)
class _Known:
    """What the fit holds, trait by trait: of the squad and, of a player it knows, of the player."""

    squad: tuple[SquadTrait, ...]
    player: tuple[PlayerTrait, ...] | None
    times: NDArray[np.datetime64]
    """The player's sessions in the fit, oldest first."""
    methods: int
    """The most reading methods of any trait."""

    def counts(self, sessions: int) -> Indices:
        """Return the player's readings in the first sessions, (M, sessions, K)."""
        found = np.zeros((self.methods, sessions, len(self.squad)), dtype=np.int64)
        for k, one in enumerate(self.player or ()):
            found[: len(one.methods), :, k] = one.counts[:, :sessions]
        return found


@dataclass(frozen=True, eq=False, slots=True)
class LiveFit:
    """A player's posterior after the shots since the fit."""

    posterior: LivePosterior
    traits: tuple[str, ...]
    session: datetime
    read: Indices
    """(trait,) readings in ``session``, whether the fit has seen them or not."""
    earlier: Indices
    """(trait,) those of all sessions before, in the store or in the fit."""
    known_player: bool
    """Whether the fit knows the player."""
    skipped: int
    """Stored sessions from before the fit's last one that only a new fit can use."""


def live_fit(
    fit: Fit, player: str, shots: pd.DataFrame, changes: Sequence[Change], session: datetime
) -> LiveFit:
    """Return a player's posterior for a session, from all that is stored of the player.

    ``shots`` is the player's table of ``Store.shots_frame`` for the fit's club; ``changes`` all
    that are logged of the player. Shots after ``session`` are left out; a session without shots
    gives the tendency as it stands on that day.
    """
    rng = np.random.default_rng([fit.info.seed, 4])
    known = _known(fit, player)
    shots = shots[shots["session"] <= session]
    methods, bias, reading_sd = _methods(known, shots, rng)
    sofar = int((known.times <= _moment(session)).sum())
    parameters, start = _stand(known, sofar, bias, reading_sd, rng)
    before = known.times[sofar - 1] if sofar else None
    stored = sorted({s.to_pydatetime() for s in shots["session"]} | {session})
    wanted = [s for s in stored if before is None or _moment(s) >= before]
    scale = np.sqrt(np.median(parameters.shot_sd, axis=0) ** 2 + reading_sd**2)
    new = []
    previous = before
    read = np.zeros(len(fit.traits), dtype=np.int64)
    for when in wanted:
        now = _moment(when)
        seen = known.counts(sofar)[:, -1] if now == before else np.zeros_like(known.counts(1)[:, 0])
        fresh, read = _split(fit.traits, shots[shots["session"] == when], methods, scale, seen)
        weeks = 0.0 if previous is None else float((now - previous) / WEEK)
        step_mean, step_variance = _logged(known, changes, previous, now, rng)
        step_mean += _steady(known) * weeks
        new.append(NewSession(weeks, step_mean, step_variance, fresh, seen.any(axis=0)))
        previous = now
    skipped = sum(1 for s in stored if s not in wanted and _moment(s) not in known.times)
    posterior = live_update(parameters, start, new)
    earlier = shots.loc[shots["session"] < session, list(fit.traits)].notna().sum().to_numpy()
    past = known.counts(int((known.times < _moment(session)).sum())).sum(axis=(0, 1))
    earlier = np.maximum(earlier, past)
    return LiveFit(posterior, fit.traits, session, read, earlier, known.player is not None, skipped)


def _known(fit: Fit, player: str) -> _Known:
    squad = tuple(fit.squad(trait) for trait in fit.traits)
    most = max(len(one.methods) for one in squad)
    if not fit.knows(player):
        return _Known(squad, None, np.zeros(0, dtype="datetime64[s]"), most)
    own = tuple(fit.of(player, trait) for trait in fit.traits)
    return _Known(squad, own, own[0].times, most)


def _by_trait(draws: Iterable[NDArray[np.number]]) -> Floats:
    """Return draws of every trait side by side, the traits last."""
    return np.stack([np.asarray(d, dtype=np.float64) for d in draws], axis=-1)


def _moment(when: datetime) -> np.datetime64:
    return np.datetime64(when, "s")


def _stand(
    known: _Known, sofar: int, bias: Floats, reading_sd: Floats, rng: np.random.Generator
) -> tuple[LiveParameters, LiveStart]:
    """Return what governs a player's shots, and where level and day stand after some sessions.

    Days that the fit has seen count by their raw means and numbers of readings, as it keeps them.
    A draw in which an unlogged change has come holds no other.
    """
    squad, own = known.squad, known.player
    rate = -np.log1p(-_by_trait(one.jump_chance for one in squad)) / HALF_YEAR_WEEKS
    if own is not None:
        rate = np.where(_by_trait(one.jump_at for one in own) >= 0, 0.0, rate)
    session_sd = _by_trait(one.session_sd for one in squad)
    parameters = LiveParameters(
        _by_trait(one.drift for one in squad),
        session_sd,
        _by_trait(one.day_alike for one in squad),
        _by_trait(one.jump_sd for one in squad),
        rate,
        _by_trait(o.shot_sd for o in own) if own is not None else _new_players_shot_sd(squad, rng),
        bias,
        reading_sd,
    )
    nothing = np.zeros_like(session_sd)
    if own is None or not sofar:
        mean = _by_trait(one.mu for one in squad)
        between = _by_trait(one.spread**2 for one in squad)
        return parameters, LiveStart(mean, between, nothing, session_sd**2)
    level = _by_trait(one.level[:, :sofar] for one in own)
    count = np.zeros((len(reading_sd), sofar, len(own)), dtype=np.int64)
    count[: known.methods] = known.counts(sofar)
    day = last_day(parameters, level, count, _by_trait(one.raw_mean[:sofar] for one in own))
    return parameters, LiveStart(level[:, -1], nothing, *day)


def _steady(known: _Known) -> Floats:
    """Return what an unlogged change that came on steadily goes on to add a week, (N, K)."""
    if known.player is None:
        return np.zeros((known.squad[0].mu.size, len(known.squad)))
    return _by_trait(np.where(one.jump_at == 0, one.jump, 0.0) for one in known.player)


def _methods(
    known: _Known, shots: pd.DataFrame, rng: np.random.Generator
) -> tuple[list[list[str]], Floats, Floats]:
    """Return method names by trait, and draws of bias (N, M, K) and reading SD (M, K).

    A method that the fit has not met has a bias drawn from the prior: until it has been used
    beside a known one, its readings may be off by that much.
    """
    names = []
    for one in known.squad:
        met = shots.loc[shots[one.trait].notna(), TRAITS[one.trait].method_column].unique()
        names.append([*one.methods, *sorted(str(n) for n in met if n not in one.methods)])
    most, samples = max(map(len, names)), known.squad[0].mu.size
    bias, reading_sd = np.zeros((samples, most, len(names))), np.ones((most, len(names)))
    for k, one in enumerate(known.squad):
        own = len(one.methods)
        bias[:, :own, k], reading_sd[:own, k] = one.bias, one.reading_sd
        for m in range(own, len(names[k])):
            reading_sd[m, k] = TRAITS[one.trait].default_reading_sd(names[k][m])
            bias[:, m, k] = prior_of(one.trait).bias_scale * rng.standard_normal(samples)
    return names, bias, reading_sd


def _new_players_shot_sd(squad: Sequence[SquadTrait], rng: np.random.Generator) -> Floats:
    """Return shot SDs that a player from outside the squad may have, (N, K)."""
    by_player = [[p.shot_sd for p in one.players.values()] for one in squad]
    logs = np.log(_by_trait(np.stack(draws, axis=1) for draws in by_player))
    players = logs.shape[1]
    if players > 2:
        spread = logs.std(axis=1, ddof=1) * np.sqrt(1 + 1 / players)
    else:
        spread = np.array([prior_of(one.trait).log_shot_sd_spread for one in squad])
    mean = logs.mean(axis=1)
    return np.asarray(np.exp(mean + spread * rng.standard_normal(mean.shape)))


def _split(
    traits: Sequence[str],
    rows: pd.DataFrame,
    methods: Sequence[Sequence[str]],
    scale: Floats,
    seen: Indices,
) -> tuple[Readings, Indices]:
    """Return a session's readings that the fit has not seen, and how many there are in all.

    ``seen`` (M, K): how many of each method it has; the first ones stored.
    """
    fresh = tuple(np.zeros(scale.shape) for _ in range(3))
    read = np.zeros(len(traits), dtype=np.int64)
    for k, trait in enumerate(traits):
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
    """Return the weights of readings by the rule of session summaries, their scale known."""
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
    known: _Known,
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
    samples = known.squad[0].mu.size
    mean, variance = np.zeros((2, samples, len(known.squad)))
    parts = np.resize(EFFECT_VARIANCES, samples)
    for change in changes:
        begun = _moment(datetime.combine(change.start, time.min))
        if begun > until or (after is not None and begun <= after):
            continue
        seen = bool((known.times >= begun).any())
        for k, one in enumerate(known.squad):
            if change.trait not in (None, one.trait):
                continue
            effect = _own_effect(known.player[k], change) if known.player and seen else None
            if effect is not None:
                mean[:, k] += effect
                continue
            variance[:, k] += one.effect_sd**2 * rng.permutation(parts)
            drill = one.drill_effect.get(change.name)
            if drill is not None and drill.any():
                mean[:, k] += drill
            else:
                variance[:, k] += one.drill_scale**2
    return mean, variance


def _own_effect(one: PlayerTrait, change: Change) -> Floats | None:
    """Return what a logged change did to the player by the fit; None where it does not say."""
    effects = zip(one.changes, one.change_effect, strict=True)
    return {change_key(held): effect for held, effect in effects}.get(change_key(change))
