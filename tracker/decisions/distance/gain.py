"""Which fault to fix first: a player's fixes by gain per session of practice, and how sure that is.

What the fixes are worth is in ``fixes``; here they are ranked at the efforts a coach sets. Ranking
again at other efforts takes no physics: keep the ``PlayerFixes`` and call ``ranked``.
"""

import os
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from models.traits import DELIVERY, FAULTS, TRAITS
from tracker.decisions.distance.fixes import FixDraws, PlayerFixes, player_fixes
from tracker.decisions.distance.gain_words import gain_notes, gain_sentence, measure_next_words
from tracker.decisions.distance.order import Order, first_fault_order, separating_reading
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.units import System

LEAST_GAIN_M = 1.0
"""Mean gain below which no fault is worth fixing first, m of carry."""
DEFAULT_EFFORT_SESSIONS = 1.0


@dataclass(frozen=True, slots=True)
class Fix:
    """What moving one trait toward its target is worth to one player.

    ``gain_m`` is the headline: the partial fix, delivered loft following a moved attack angle and
    nothing else. ``gain_alone_m`` is the same with loft held, ``gain_as_player_moves_m`` with every
    other trait following as it does from shot to shot, ``full_fix_gain_m`` the trait all the way at
    its target. ``total_gain_m``, ``ball_speed_gain_mps``, ``spin_change_rpm`` and ``side_change_m``
    (where it lands, + toward the open-face side) are what else the headline changes. ``window`` is
    where expected carry is within 1 m of the top; ``target_at_edge`` says that the best lies at the
    end of the range looked at. ``expected_regret_m`` is the carry expected to be missed by spending
    this fix's effort here rather than on the fix that is best in each draw.
    """

    trait: str
    now: Interval
    target: float
    window: tuple[float, float]
    share: Interval
    gain_m: Interval
    mean_gain_m: float
    full_fix_gain_m: Interval
    gain_alone_m: Interval
    gain_as_player_moves_m: Interval
    total_gain_m: Interval
    ball_speed_gain_mps: Interval
    spin_change_rpm: Interval
    side_change_m: Interval
    p_best: float
    p_top2: float
    expected_regret_m: float
    effort_sessions: float
    gain50_m: tuple[float, float] | None = None
    """Ends of the equal-tailed 50 % interval of the headline gain, for pictures."""
    target_at_edge: bool = False


@dataclass(frozen=True, slots=True)
class Gains:
    """One player's fixes, best expected gain per session of effort first, and the first fault.

    Only traits that were read have a fix. ``first`` is None when the fit has problems, nothing that
    could be a fault was read or no fix is worth 1 m on average; ``tied`` are the
    fixes that share the first place (the first alone when that is clear). ``measure_next_trait`` is
    the trait whose reading would separate them, None when none would or none is needed.
    """

    player: str
    as_of: datetime
    carry_m: Interval
    fixes: tuple[Fix, ...]
    first: str | None
    clear: bool
    tied: tuple[str, ...]
    sentence: str
    measure_next: str
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    tighter_scatter_gain_m: Interval
    measure_next_trait: str | None = None
    unread: tuple[str, ...] = ()
    """Traits of the delivery of which the player has no reading."""


def player_gains(
    fit: Fit,
    player: str,
    *,
    efforts: Mapping[str, float] | None = None,
    seed: int = 1,
    draws: int = 400,
    shots: int = 32,
    system: System = "yards",
) -> Gains:
    """Return what each fix is worth to a player at the last session, and which comes first.

    ``efforts`` is sessions of practice by trait (default 1 each); sentence and notes are said in
    the reader's ``system`` of units.
    """
    _efforts(efforts)  # a wrong one is refused before the work
    fixes = player_fixes(fit, player, seed=seed, draws=draws, shots=shots)
    return ranked(fixes, efforts, system)


def squad_gains(
    fit: Fit,
    *,
    efforts: Mapping[str, float] | None = None,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
    system: System = "yards",
) -> tuple[Gains, ...]:
    """Return the gains of every player of a fit, in the fit's order; see ``squad_fixes``."""
    _efforts(efforts)
    found = squad_fixes(fit, seed=seed, progress=progress)
    return tuple(ranked(fixes, efforts, system) for fixes in found)


def squad_fixes(
    fit: Fit,
    *,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
) -> tuple[PlayerFixes, ...]:
    """Return every player's fixes, in the fit's order, whatever the number of threads.

    ``progress`` is told (players done, players in all) after each, in the caller's thread.
    ``workers`` is how many players are worked out at once, by default one a processor core.
    """
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        jobs = [pool.submit(player_fixes, fit, p.name, seed=seed) for p in fit.players]
        for done, _ in enumerate(as_completed(jobs), start=1):
            if progress is not None:
                progress(done, len(jobs))
        return tuple(job.result() for job in jobs)


def ranked(
    fixes: PlayerFixes, efforts: Mapping[str, float] | None = None, system: System = "yards"
) -> Gains:
    """Return a player's gains at some efforts (sessions by trait, default 1 each)."""
    effort = _efforts(efforts)
    worth = fixes.by_trait
    order = first_fault_order({t: w.partial for t, w in worth.items()}, effort)
    rows = tuple(_fix(fixes, t, worth[t], order, effort[t]) for t in order.traits)
    worthwhile = max((row.mean_gain_m for row in rows), default=0.0) >= LEAST_GAIN_M
    settled = not fixes.problems and worthwhile
    close = settled and not order.clear
    reading = _reading_between(fixes, order, effort) if close else None
    return Gains(
        player=fixes.player,
        as_of=fixes.as_of,
        carry_m=Interval.from_draws(fixes.carry, "m"),
        fixes=rows,
        first=order.traits[0] if settled else None,
        clear=order.clear if settled else False,
        tied=order.tied if settled else (),
        sentence=gain_sentence(
            fixes.player,
            {row.trait: (row.now.median, row.target) for row in rows},
            order,
            worthwhile=worthwhile,
            trusted=not fixes.problems,
            system=system,
        ),
        measure_next=measure_next_words(
            reading,
            trusted=not fixes.problems,
            read=bool(rows),
            worthwhile=worthwhile,
            close=close,
        ),
        measure_next_trait=reading,
        problems=fixes.problems,
        notes=gain_notes(fixes, system),
        tighter_scatter_gain_m=Interval.from_draws(fixes.tighter, "m"),
        unread=fixes.unread,
    )


def _efforts(asked: Mapping[str, float] | None) -> dict[str, float]:
    efforts = dict.fromkeys(FAULTS, DEFAULT_EFFORT_SESSIONS)
    for trait, sessions in (asked or {}).items():
        if trait not in efforts:
            raise BadRequest(f"efforts: found {trait!r}, wanted one of {', '.join(FAULTS)}")
        if not (np.isfinite(sessions) and sessions > 0):
            raise BadRequest(f"efforts, {trait}: found {sessions}, wanted sessions above 0")
        efforts[trait] = float(sessions)
    return efforts


def _fix(fixes: PlayerFixes, trait: str, worth: FixDraws, order: Order, effort: float) -> Fix:
    low, high = np.quantile(worth.partial, [0.25, 0.75])
    return Fix(
        trait=trait,
        now=Interval.from_draws(fixes.level_of(trait), TRAITS[trait].unit),
        target=worth.target.best,
        window=worth.target.window,
        share=Interval.from_draws(fixes.share, ""),
        gain_m=Interval.from_draws(worth.partial, "m"),
        mean_gain_m=float(worth.partial.mean()),
        full_fix_gain_m=Interval.from_draws(worth.full, "m"),
        gain_alone_m=Interval.from_draws(worth.alone, "m"),
        gain_as_player_moves_m=Interval.from_draws(worth.as_player_moves, "m"),
        total_gain_m=Interval.from_draws(worth.total, "m"),
        ball_speed_gain_mps=Interval.from_draws(worth.ball_speed, "m/s"),
        spin_change_rpm=Interval.from_draws(worth.spin, "rpm"),
        side_change_m=Interval.from_draws(worth.side, "m"),
        p_best=order.p_best[trait],
        p_top2=order.p_top2[trait],
        expected_regret_m=order.regret_m[trait],
        effort_sessions=effort,
        gain50_m=(float(low), float(high)),
        target_at_edge=worth.target.at_edge,
    )


def _reading_between(fixes: PlayerFixes, order: Order, effort: Mapping[str, float]) -> str | None:
    """Return the trait to read to tell the two likeliest apart; None when the physics decides."""
    first = order.traits[0]
    second = next(t for t in order.by_chance if t != first)
    rate = {t: fixes.by_trait[t].partial / effort[t] for t in (first, second)}
    levels = {t: fixes.level_of(t) for t in DELIVERY}
    return separating_reading(rate[first] - rate[second], levels, fixes.physics)
