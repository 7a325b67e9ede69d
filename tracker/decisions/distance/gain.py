"""Which lever comes first: a player's levers by gain per session of practice, and how sure that is.

What the levers are worth is in ``worth``; here they are ranked at the efforts a coach sets. Ranking
again at other efforts takes no physics: keep the ``PlayerLevers`` and call ``ranked``.
"""

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import replace
from typing import TypedDict

import numpy as np

from models.arrays import Floats
from models.traits import TARGETED, TRAITS
from tracker.decisions.distance.gain_answer import Fix, Gains, LeverGain, Measure
from tracker.decisions.distance.gain_words import (
    LeverWords,
    common_words,
    follows_words,
    gain_doubt,
    gain_lead,
    gain_notes,
    gain_sentence,
    lever_reason,
    measure_words,
)
from tracker.decisions.distance.levers import new_drill
from tracker.decisions.distance.next_reading import reading_worth
from tracker.decisions.distance.order import CLEAR_REGRET_M, Order, lever_order
from tracker.decisions.distance.worth import (
    LeverWorth,
    PlayerLevers,
    YardstickWorth,
    common_gains,
    player_levers,
)
from tracker.decisions.distance.yardstick import TOWARD, Yardstick
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.units import System

LEAST_GAIN_M = 0.5
"""Gain below which no lever is worth taking up, m (or points): it has to be expected, and likelier
than not, to give that much. A mean that rests on a few happy draws is no reason to practise."""
LEAST_READING_M = 0.05
"""Worth of a session of readings below which none is named, m (or points)."""


class _How(TypedDict):
    """What the words of an answer depend on beside its numbers."""

    clear: bool
    worthwhile: bool
    unsure: bool
    system: System


def player_gains(
    fit: Fit,
    player: str,
    *,
    efforts: Mapping[str, float] | None = None,
    yardstick: Yardstick = TOWARD,
    seed: int = 1,
    draws: int = 400,
    shots: int = 32,
    system: System = "yards",
) -> Gains:
    """Return what each lever is worth to a player at the last session, and which comes first.

    ``efforts`` is sessions of practice by trait or by name of a lever, in place of what was logged;
    sentence and notes are said in the reader's ``system`` of units.
    """
    check_efforts(fit, efforts)  # a wrong one is refused before the work
    levers = player_levers(fit, player, yardstick=yardstick, seed=seed, draws=draws, shots=shots)
    return ranked(levers, efforts, system)


def squad_gains(
    fit: Fit,
    *,
    efforts: Mapping[str, float] | None = None,
    yardstick: Yardstick = TOWARD,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
    system: System = "yards",
) -> tuple[Gains, ...]:
    """Return the gains of every player of a fit, in the fit's order; see ``squad_levers``."""
    check_efforts(fit, efforts)
    found = squad_levers(fit, yardstick=yardstick, seed=seed, progress=progress)
    return tuple(ranked(levers, efforts, system) for levers in found)


def squad_levers(
    fit: Fit,
    *,
    yardstick: Yardstick = TOWARD,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
    players: Sequence[str] | None = None,
) -> tuple[PlayerLevers, ...]:
    """Return every player's levers, in the fit's order, whatever the number of threads.

    ``players`` are those worked out, in their order; all of the fit unless given.

    ``progress`` is told (players done, players in all) after each, in the caller's thread.
    ``workers`` is how many players are worked out at once, by default one a processor core.
    """
    common = common_gains(fit, yardstick, seed)

    def levers(player: str) -> PlayerLevers:
        return player_levers(fit, player, yardstick=yardstick, seed=seed, common=common)

    names = [p.name for p in fit.players] if players is None else players
    return for_players(names, levers, progress, workers)


def for_players[Result](
    players: Sequence[str],
    work: Callable[[str], Result],
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
) -> tuple[Result, ...]:
    """Return something worked out for each of some players, several at once, in their order.

    ``progress`` and ``workers`` are as ``squad_levers`` takes them.
    """
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        jobs = [pool.submit(work, name) for name in players]
        for done, _ in enumerate(as_completed(jobs), start=1):
            if progress is not None:
                progress(done, len(jobs))
        return tuple(job.result() for job in jobs)


def ranked(
    levers: PlayerLevers, efforts: Mapping[str, float] | None = None, system: System = "yards"
) -> Gains:
    """Return a player's gains at some efforts, sessions by trait or name of a lever."""
    asked = efforts or {}
    worths = {w.lever.key: w for w in levers.offered}
    effort = {key: _effort(w, asked) for key, w in worths.items()}
    at_edge = frozenset(k for k, w in worths.items() if _edge(levers, w))
    order = lever_order({k: w.gain for k, w in worths.items()}, effort, at_edge)
    pay = {k for k, w in worths.items() if w.gain.mean() >= LEAST_GAIN_M}
    lucky = {k for k in pay if np.median(worths[k].gain) < LEAST_GAIN_M}
    order = replace(order, keys=_lucky_behind(order.keys, pay - lucky, lucky))
    trusted, worthwhile = not levers.problems, bool(pay - lucky)
    settled, unsure = trusted and worthwhile, trusted and bool(lucky) and not worthwhile
    rows = tuple(_lever(levers, worths[key], order, effort[key], system) for key in order.keys)
    measure = _measure(levers, order, effort, asked) if trusted else None
    tied = order.tied if settled else ()
    first = worths[order.keys[0]] if settled else None
    words = tuple(_words(row, worths[key]) for key, row in zip(order.keys, rows, strict=True))
    tied_names = tuple(worths[k].lever.name for k in tied)
    how: _How = {
        "clear": settled and order.clear,
        "worthwhile": worthwhile,
        "unsure": unsure,
        "system": system,
    }
    return Gains(
        player=levers.player,
        as_of=levers.as_of,
        yardstick=levers.yardstick,
        carry_m=Interval.from_draws(levers.carry, "m"),
        levers=(*rows, *(_of_yardstick(levers, y) for y in levers.yardsticks)) if trusted else (),
        fixes=_fixes(levers, order, effort) if trusted else (),
        first=first.lever.trait if first else None,
        first_lever=first.lever.name if first else None,
        clear=order.clear if settled else False,
        tied=tuple(dict.fromkeys(t for k in tied if (t := worths[k].lever.trait))),
        tied_levers=tied_names,
        measure=measure,
        sentence=gain_sentence(levers, words, tied_names, **how),
        lead=gain_lead(levers, words, tied_names, **how),
        doubt=gain_doubt(words[0], tied_names, clear=order.clear, system=system) if first else "",
        measure_next=measure_words(
            levers, None if measure is None else (measure.trait, measure.worth_m),
            beats=measure is not None and measure.beats_acting, system=system,
        ),
        problems=levers.problems,
        notes=gain_notes(levers, system),
        follows=follows_words(levers, system) if trusted else "",
        tighter_scatter_gain_m=Interval.from_draws(levers.tighter, "m"),
        unread=levers.unread,
        unsure=unsure,
    )  # fmt: skip


def common_lever(found: Sequence[Gains]) -> str:
    """Return that one lever is first for most players of a squad; empty when none is."""
    return common_words([g.best.lever if g.best else None for g in found])


def check_efforts(fit: Fit, efforts: Mapping[str, float] | None) -> None:
    """Refuse sessions of practice for what is no lever, or that are not above 0."""
    known = (*TARGETED, *fit.drills)
    names = {*known, *(new_drill(t).name for t in TARGETED)}
    for name, sessions in (efforts or {}).items():
        if name not in names:
            raise BadRequest(f"efforts: found {name!r}, wanted one of {', '.join(known)}")
        if not (np.isfinite(sessions) and sessions > 0):
            raise BadRequest(f"efforts, {name}: found {sessions}, wanted sessions above 0")


def _effort(worth: LeverWorth, asked: Mapping[str, float]) -> float:
    """Return the sessions a lever takes: as set for it, for its trait, or as logged."""
    by_trait = asked.get(worth.lever.trait or "", worth.effect.effort_sessions)
    return float(asked.get(worth.lever.name, by_trait))


def _lucky_behind(keys: Sequence[str], pay: set[str], lucky: set[str]) -> tuple[str, ...]:
    """Return levers in their order, but those that hang on luck behind all of those that pay."""
    cut = max((place for place, key in enumerate(keys, start=1) if key in pay), default=0)
    ahead = sorted(keys[:cut], key=lambda key: key in lucky)
    return (*ahead, *keys[cut:])


def _edge(levers: PlayerLevers, worth: LeverWorth) -> bool:
    return levers.by_trait[worth.lever.trait or ""].target.at_edge


def _lever(
    levers: PlayerLevers, worth: LeverWorth, order: Order, effort: float, system: System
) -> LeverGain:
    lever, mean = worth.lever, float(worth.gain.mean())
    unit = levers.yardstick.unit
    return LeverGain(
        name=lever.name,
        kind=lever.kind,
        trait=lever.trait,
        move=Interval.from_draws(worth.move, TRAITS[lever.trait or ""].unit),
        effort_sessions=effort,
        gain_m=Interval.from_draws(worth.gain, unit),
        gain50_m=_half(worth.gain),
        mean_gain_m=mean,
        gain_per_session_m=mean / effort,
        p_best=order.p_best[lever.key],
        expected_regret_m=order.regret_m[lever.key],
        stays_inside_change=Interval.from_draws(worth.inside, "points"),
        particular_gain_m=None if worth.common is None else mean - worth.common,
        reason=lever_reason(worth.effect, system),
    )


def _of_yardstick(levers: PlayerLevers, worth: YardstickWorth) -> LeverGain:
    return LeverGain(
        name=worth.lever.name,
        kind=worth.lever.kind,
        trait=worth.lever.trait,
        move=None,
        effort_sessions=None,
        gain_m=Interval.from_draws(worth.gain, levers.yardstick.unit),
        gain50_m=_half(worth.gain),
        mean_gain_m=float(worth.gain.mean()),
        gain_per_session_m=None,
        p_best=None,
        expected_regret_m=None,
        stays_inside_change=Interval.from_draws(worth.inside, "points"),
        particular_gain_m=None,
    )


def _words(row: LeverGain, worth: LeverWorth) -> LeverWords:
    return LeverWords(
        lever=worth.lever,
        gain=row.gain_m,
        mean_gain=row.mean_gain_m,
        mean_alone=float(worth.alone.mean()),
        effort=row.effort_sessions or 0.0,
        p_best=row.p_best or 0.0,
        p_worse=float(np.mean(worth.gain < 0)),
        reason=row.reason,
    )


def _fixes(levers: PlayerLevers, order: Order, effort: Mapping[str, float]) -> tuple[Fix, ...]:
    worths = {w.lever.key: w for w in levers.offered}
    best: dict[str, str] = {}
    for key in order.keys:
        best.setdefault(worths[key].lever.trait or "", key)
    among = lever_order({k: worths[k].gain for k in best.values()}, effort)
    return tuple(_fix(levers, worths[key], among, effort[key]) for key in among.keys)


def _fix(levers: PlayerLevers, worth: LeverWorth, order: Order, effort: float) -> Fix:
    trait, key, unit = worth.lever.trait or "", worth.lever.key, levers.yardstick.unit
    at = levers.by_trait[trait]
    level = levers.level_of(trait)
    gap = at.aim - level
    share = np.divide(worth.move, gap, out=np.zeros(gap.size), where=gap != 0)
    return Fix(
        trait=trait,
        lever=worth.lever.name,
        now=Interval.from_draws(level, TRAITS[trait].unit),
        target=at.target.best,
        window=at.target.window,
        share=Interval.from_draws(np.clip(share, -1.0, 1.0), ""),
        gain_m=Interval.from_draws(worth.gain, unit),
        mean_gain_m=float(worth.gain.mean()),
        full_fix_gain_m=Interval.from_draws(at.full, unit),
        gain_alone_m=Interval.from_draws(worth.alone, unit),
        gain_as_player_moves_m=Interval.from_draws(worth.gain, unit),
        total_gain_m=Interval.from_draws(worth.ball.total, "m"),
        ball_speed_gain_mps=Interval.from_draws(worth.ball.ball_speed, "m/s"),
        spin_change_rpm=Interval.from_draws(worth.ball.spin, "rpm"),
        side_change_m=Interval.from_draws(worth.ball.side, "m"),
        p_best=order.p_best[key],
        p_top2=order.p_top2[key],
        expected_regret_m=order.regret_m[key],
        effort_sessions=effort,
        target_at_edge=at.target.at_edge,
    )


def _measure(
    levers: PlayerLevers, order: Order, effort: Mapping[str, float], asked: Mapping[str, float]
) -> Measure | None:
    """Return the trait worth reading most; of equal practice, the first lever's."""
    sessions = effort[order.keys[0]] if order.keys else 1.0
    size = levers.level.shape[0]
    gains = _columns((w.gain / effort[w.lever.key] for w in levers.offered), size) * sessions
    now = float(gains.mean(axis=0).max(initial=0.0)) / sessions
    worth = {}
    for trait, session in levers.sessions.items():
        own = [w for w in levers.unread_levers if w.lever.trait == trait]
        more = _columns((w.gain / _effort(w, asked) for w in own), size) * sessions
        worth[trait] = reading_worth(gains, session, more)
    trait = max(worth, key=lambda t: worth[t])
    if worth[trait] < LEAST_READING_M and order.keys:
        return None
    beats = worth[trait] > now and worth[trait] >= CLEAR_REGRET_M
    return Measure(trait, worth[trait], trait not in levers.unread, beats)


def _columns(draws: Iterable[Floats], size: int) -> Floats:
    found = tuple(draws)
    return np.stack(found, axis=1) if found else np.zeros((size, 0))


def _half(draws: Floats) -> tuple[float, float]:
    low, high = np.quantile(draws, [0.25, 0.75])
    return float(low), float(high)
