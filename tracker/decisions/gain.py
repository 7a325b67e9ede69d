"""Which fault to fix first: what each fix is worth in carry, and how sure the order is.

A partial fix moves a trait's level a share f of the way to its target, spread kept:
    gain = E[carry | level + f (target - level)] - E[carry | level],
draw by draw, with the same physics and the same shots on both sides. f ~ Beta(2.4, 3.6) is one
draw for all faults of a posterior draw: it stands for how far this player's practice gets, which
the faults share, so that P(best) shows what more reading could settle and not the luck of practice.

Club speed is no fault (it has no target), and path is none beside the face: carry depends on the
gap between the two, so listing both would offer the same gain twice.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from models.drive_parameters import DriveParameters
from models.traits import TRAITS
from tracker.decisions.cloud import DELIVERY, Cloud, LoftRule, player_cloud, spaced
from tracker.decisions.order import Order, first_fault_order, separating_reading
from tracker.decisions.target import Target, find_target
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit, Floats, level_draws, reading_count
from tracker.units import range_text, trait_display
from tracker.words import chance_words, fault_words

FIXABLE: tuple[str, ...] = (
    "strike_toe_mm",
    "strike_up_mm",
    "attack_deg",
    "loft_deg",
    "face_deg",
)
SHARE_A, SHARE_B = 2.4, 3.6
"""Beta shape of the share of the way a fix gets: mean .40, 90 % from .12 to .72 (estimate, no
source), until the squad's own history of changes replaces it."""
ASIDE = (200, 32)
"""Draws and shots for what stands beside the headline: full fix, loft held, tighter scatter."""
RUN = (130, 32)
"""Draws and shots for the gain in total, whose run is slow to work out."""
LEAST_GAIN_M = 1.0
"""Mean gain below which no fault is worth fixing first, m of carry."""
DEFAULT_EFFORT_SESSIONS = 1.0
THREADS = 4


@dataclass(frozen=True, slots=True)
class Fix:
    """What moving one trait toward its target is worth to one player.

    ``gain_m`` is the headline: the partial fix, delivered loft following a moved attack angle.
    ``gain_alone_m`` is the same with loft held, ``full_fix_gain_m`` the trait all the way at its
    target, ``total_gain_m`` the headline with the run. ``window`` is where expected carry is within
    1 m of the top. ``expected_regret_m`` is the carry expected to be missed by spending this fix's
    effort here rather than on the fix that is best in each draw.
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
    total_gain_m: Interval
    p_best: float
    p_top2: float
    expected_regret_m: float
    effort_sessions: float
    gain50_m: tuple[float, float] | None = None
    """Ends of the equal-tailed 50 % interval of the headline gain, for pictures."""


@dataclass(frozen=True, slots=True)
class Gains:
    """One player's fixes, best expected gain per session of effort first, and the first fault.

    ``first`` is None when the fit has problems or no fix is worth 1 m on average; ``tied`` are the
    fixes that share the first place (the first alone when that is clear).
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


@dataclass(frozen=True, eq=False)
class FixDraws:
    """Draws of what one fix is worth, in m: ``partial`` one a draw of the cloud, others fewer."""

    target: Target
    partial: Floats
    alone: Floats
    full: Floats
    total: Floats


@dataclass(frozen=True, eq=False)
class Standing:
    """A cloud, the share of the way a fix gets in each of its draws, and its distance now."""

    cloud: Cloud
    share: Floats
    now: Floats

    def partly(self, trait: str, target: float, loft: LoftRule = "follows") -> Cloud:
        """Return the cloud with one trait its share of the way to a target."""
        level = self.cloud.level_of(trait)
        return self.cloud.moved(trait, level + self.share * (target - level), loft)


def player_gains(
    fit: Fit,
    player: str,
    *,
    efforts: Mapping[str, float] | None = None,
    seed: int = 1,
    draws: int = 400,
    shots: int = 64,
    physics: DriveParameters | None = None,
) -> Gains:
    """Return what each fix is worth to a player at the last session, and which comes first.

    ``efforts`` is sessions of practice by trait (default 1 each). ``physics`` are parameters
    calibrated to the squad's own ball data, one entry a draw of the cloud; by default they are
    drawn from the published prior.
    """
    effort = _efforts(efforts)
    cloud = player_cloud(fit, player, seed=seed, draws=draws, shots=shots, physics=physics)
    share = share_draws(cloud.draws, seed)
    headline, aside, run = clouds_of(cloud, share)
    with ThreadPoolExecutor(THREADS) as pool:  # the table look-up lets go of the interpreter
        found = pool.map(lambda t: fix_draws(headline, aside, run, t), FIXABLE)
        worth = dict(zip(FIXABLE, found, strict=True))
    order = first_fault_order({t: w.partial for t, w in worth.items()}, effort)
    fixes = tuple(_fix(cloud, t, worth[t], share, order, effort[t]) for t in order.traits)
    worthwhile = max(f.mean_gain_m for f in fixes) >= LEAST_GAIN_M
    settled = not fit.problems and worthwhile
    tight = aside.cloud.tightened().carry() - aside.now
    return Gains(
        player=player,
        as_of=cloud.as_of,
        carry_m=Interval.from_draws(headline.now, "m"),
        fixes=fixes,
        first=order.traits[0] if settled else None,
        clear=order.clear if settled else False,
        tied=order.tied if settled else (),
        sentence=_sentence(fit, player, fixes, order, worthwhile),
        measure_next=_measure_next(cloud, worth, order, effort, settled, fit.problems),
        problems=fit.problems,
        notes=_notes(fit, player, physics),
        tighter_scatter_gain_m=Interval.from_draws(tight, "m"),
    )


def squad_gains(
    fit: Fit,
    *,
    efforts: Mapping[str, float] | None = None,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Gains, ...]:
    """Return the gains of every player of a fit, in the fit's order.

    ``progress`` is told (players done, players in all) after each.
    """
    found = []
    for done, player in enumerate(fit.players, start=1):
        found.append(player_gains(fit, player.name, efforts=efforts, seed=seed))
        if progress is not None:
            progress(done, len(fit.players))
    return tuple(found)


def share_draws(draws: int, seed: int) -> Floats:
    """Return draws of the share of the way that a fix gets."""
    return np.random.default_rng([seed, draws]).beta(SHARE_A, SHARE_B, draws)


def clouds_of(cloud: Cloud, share: Floats) -> tuple[Standing, Standing, Standing]:
    """Return the player as for the headline, for what stands beside it, and with the run."""
    aside, run = cloud.part(*ASIDE), cloud.part(*RUN)
    return (
        Standing(cloud, share, cloud.carry()),
        Standing(aside, share[spaced(share.size, ASIDE[0])], aside.carry()),
        Standing(run, share[spaced(share.size, RUN[0])], run.total()),
    )


def fix_draws(headline: Standing, aside: Standing, run: Standing, trait: str) -> FixDraws:
    """Return the draws of what a fix is worth."""
    target = find_target(headline.cloud, trait)
    partial = headline.partly(trait, target.best).carry() - headline.now
    full = aside.cloud.moved(trait, target.best).carry() - aside.now
    alone = partial
    if trait == "attack_deg":  # nothing else moves with any other trait
        alone = aside.partly(trait, target.best, loft="held").carry() - aside.now
    total = run.partly(trait, target.best).total() - run.now
    return FixDraws(target, partial, alone, full, total)


def _efforts(asked: Mapping[str, float] | None) -> dict[str, float]:
    efforts = dict.fromkeys(FIXABLE, DEFAULT_EFFORT_SESSIONS)
    for trait, sessions in (asked or {}).items():
        if trait not in efforts:
            raise BadRequest(f"efforts: found {trait!r}, wanted one of {', '.join(FIXABLE)}")
        if not (np.isfinite(sessions) and sessions > 0):
            raise BadRequest(f"efforts, {trait}: found {sessions}, wanted sessions above 0")
        efforts[trait] = float(sessions)
    return efforts


def _fix(
    cloud: Cloud, trait: str, worth: FixDraws, share: Floats, order: Order, effort: float
) -> Fix:
    low, high = np.quantile(worth.partial, [0.25, 0.75])
    return Fix(
        trait=trait,
        now=Interval.from_draws(cloud.level_of(trait), TRAITS[trait].unit),
        target=worth.target.best,
        window=worth.target.window,
        share=Interval.from_draws(share, ""),
        gain_m=Interval.from_draws(worth.partial, "m"),
        mean_gain_m=float(worth.partial.mean()),
        full_fix_gain_m=Interval.from_draws(worth.full, "m"),
        gain_alone_m=Interval.from_draws(worth.alone, "m"),
        total_gain_m=Interval.from_draws(worth.total, "m"),
        p_best=order.p_best[trait],
        p_top2=order.p_top2[trait],
        expected_regret_m=order.regret_m[trait],
        effort_sessions=effort,
        gain50_m=(float(low), float(high)),
    )


def _sentence(fit: Fit, player: str, fixes: tuple[Fix, ...], order: Order, worthwhile: bool) -> str:
    if fit.problems:
        return f"{player}: this fit did not pass its checks, so no fault is named."
    if not worthwhile:
        return f"{player}: no fault worth fixing first; none costs enough carry."
    first = fixes[0]
    words = {f.trait: fault_words(f.trait, f.now.median, f.target) for f in fixes}
    if order.clear:
        return (
            f"{player}: {words[first.trait]} comes first; {chance_words(first.p_best)} that "
            "nothing else pays more for the effort."
        )
    named = [words[t] for t in order.tied]
    listed = ", ".join(named[:-1]) + f" and {named[-1]}" if len(named) > 1 else named[0]
    return f"{player}: {listed} are too close to call; the slight edge is to {words[first.trait]}."


def _measure_next(
    cloud: Cloud,
    worth: Mapping[str, FixDraws],
    order: Order,
    effort: Mapping[str, float],
    settled: bool,
    problems: tuple[str, ...],
) -> str:
    if problems:
        return "Fit again before reading anything more."
    if not settled:
        return "Nothing to read more of for this; look again after the next few sessions."
    if order.clear:
        return ""
    first = order.traits[0]
    second = next(t for t in order.by_chance if t != first)
    gap = worth[first].partial / effort[first] - worth[second].partial / effort[second]
    levels = {t: cloud.level_of(t) for t in DELIVERY}
    trait = separating_reading(gap, levels, cloud.physics)
    if trait is None:
        return (
            "To separate them, read ball speed, launch and spin beside the delivery: what the "
            "physics leaves open moves the order most."
        )
    return (
        f"To separate them, read {TRAITS[trait].label} in one more session: what is not yet known "
        "about it moves the order most."
    )


def _notes(fit: Fit, player: str, physics: DriveParameters | None) -> tuple[str, ...]:
    notes = []
    for trait in DELIVERY:
        if not reading_count(fit, player, trait)[0]:
            level = Interval.from_draws(level_draws(fit, player, trait), TRAITS[trait].unit)
            notes.append(
                f"No {TRAITS[trait].label} reading: taken from the squad "
                f"({range_text(level, trait_display(trait, 'metres'))})."
            )
    if physics is None:
        notes.append(
            "No ball data of the squad used: the physics is the published one, so the carry itself "
            "is uncertain by several metres; gains, being differences, much less."
        )
    return tuple(notes)
