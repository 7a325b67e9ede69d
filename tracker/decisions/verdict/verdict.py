"""Whether a player's trait moved between two windows: the verdict, its evidence, its direction.

The change is the difference of two tendencies (level averaged over the window's dates).
P(direction) is the larger of P(change > 0) and P(change < 0): it asks whether the trait moved.
Whether the move helps is asked apart, draw by draw: club speed helps when it rises, any other
trait when |after - target| < |before - target|. So a level that goes past the target and ends as
far beyond it as it was short of it has really changed, and neither for better nor for worse: where
the two medians lie on either side of the target and neither direction has 90 %, no direction is
named and a guard says so.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.target import FLAT_M
from tracker.decisions.verdict.guards import (
    MIN_SESSIONS,
    method_guard,
    too_few_sessions,
    unlinked_method_guard,
)
from tracker.decisions.verdict.settle import Question, reading_of, sessions_to_settle
from tracker.decisions.verdict.windows import default_split
from tracker.decisions.verdict.worthwhile import Worthwhile, worthwhile_change
from tracker.errors import BadRequest, NotEnoughData
from tracker.interval import Interval
from tracker.player_trait import PlayerTrait, UnloggedChange, Window
from tracker.posterior import Fit
from tracker.units import System, display, trait_display, value_text
from tracker.words import VerdictName, chance_words, with_chance

DEFAULT_THRESHOLD = 0.99
"""P(direction) from which a change is called real; calibrated per squad by simulation."""
OFFERED = 0.5
"""Chance of an unlogged change from which its dates are offered as windows."""
SURE = 0.9
"""Share of draws that every other statement of a verdict needs."""

Direction = Literal["better", "worse"]
REAL: frozenset[VerdictName] = frozenset({"real-worthwhile", "real-size-unclear"})


@dataclass(frozen=True, slots=True)
class WindowSummary:
    """A window of days with the sessions and readings of the trait in it."""

    start: date
    end: date
    sessions: int
    shots: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a trait moved between two windows, and what would settle it."""

    player: str
    trait: str
    before: WindowSummary
    after: WindowSummary
    change: Interval
    """The shrunken difference."""
    p_better: float | None
    p_worthwhile: float
    """Share of draws beyond ``worthwhile`` on the likelier side."""
    p_no_worthwhile: float
    """Share of draws within it on either side."""
    worthwhile: float
    worthwhile_basis: str
    verdict: VerdictName
    direction: Direction | None
    settle: str
    guards: tuple[str, ...]
    raw_change: float | None
    """The plain difference of session means, for the "why" detail only."""
    threshold: float
    problems: tuple[str, ...]
    unlogged: UnloggedChange | None = None
    """What the model holds of a sudden change that nobody logged, whatever the windows."""
    target_window: tuple[float, float] | None = None
    """Where the trait should be for this player, trait's unit; None without a best level."""


def default_windows(fit: Fit, player: str, trait: str) -> tuple[Window, Window]:
    """Return the windows to compare when nobody has picked any.

    They are those of ``windows.default_split``.
    """
    days = _days_read(fit, player, trait)
    starts = [c.start.toordinal() for c in fit.of(player, trait).changes]
    split = default_split([d.toordinal() for d in days], starts)
    if split is None:
        raise NotEnoughData(
            f"{player} has {TRAITS[trait].label} readings on {len(days)} day(s); a change needs "
            "sessions on at least two days"
        )
    if split.change is None:
        return Window(days[0], days[split.before[-1]]), Window(days[split.after[0]], days[-1])
    start = date.fromordinal(split.change)
    return Window(days[split.before[0]], start - timedelta(days=1)), Window(start, days[-1])


def classify(
    p_direction: float, p_worthwhile: float, p_no_worthwhile: float, threshold: float
) -> VerdictName:
    """Return the verdict that three probabilities earn.

    A change that is surely there and surely too small to matter is "no worthwhile change": its
    size is settled, so it may not be called unclear.
    """
    if p_direction >= threshold and p_worthwhile >= SURE:
        return "real-worthwhile"
    if p_no_worthwhile >= SURE:
        return "no-worthwhile-change"
    if p_direction >= threshold:
        return "real-size-unclear"
    return "leaning" if p_direction >= SURE else "cannot-tell"


def judge_change(
    fit: Fit,
    player: str,
    trait: str,
    before: Window | None = None,
    after: Window | None = None,
    *,
    worthwhile: float | None = None,
    threshold: float = DEFAULT_THRESHOLD,
    system: System = "yards",
) -> Verdict:
    """Return the verdict on a player's trait between two windows.

    ``worthwhile`` (trait's unit) replaces the change worth 2 m of carry; ``threshold`` should be
    the squad's own. Words are said in the reader's ``system`` of units.
    """
    before, after = _windows(fit, player, trait, before, after)
    one = fit.of(player, trait)
    first, second = one.tendency(before), one.tendency(after)
    change = second - first
    size = _size(worthwhile_change(fit, player, trait, system=system), worthwhile)
    sign = 1.0 if np.mean(change > 0) >= np.mean(change < 0) else -1.0
    p_direction = float(np.mean(sign * change > 0))
    p_worthwhile = float(np.mean(sign * change > size.value))
    p_small = float(np.mean(np.abs(change) < size.value))
    p_better = _p_better(first, second, trait, size.target)

    blocked = _blocked(fit, player, trait, before, after)
    verdict: VerdictName = (
        "cannot-tell" if blocked else classify(p_direction, p_worthwhile, p_small, threshold)
    )
    direction: Direction | None = None
    notes = [method_guard(fit, player, trait, before, after)] if not blocked else []
    notes.append(_near_the_limit(p_direction, threshold, fit.samples))
    if verdict in REAL or verdict == "leaning":
        direction, overshoot = _direction(first, second, p_better, trait, size.target, system)
        notes += [overshoot, _flat(first, second, trait, size.window, system)]
    if blocked:
        settle = blocked[0][1]
    else:
        settle = _settle(
            verdict, first, second, fit=fit, player=player, trait=trait,
            worthwhile=size.value, threshold=threshold,
        )  # fmt: skip
    return Verdict(
        player=player,
        trait=trait,
        before=_summary(one, before),
        after=_summary(one, after),
        change=Interval.from_draws(change, TRAITS[trait].unit),
        p_better=p_better,
        p_worthwhile=p_worthwhile,
        p_no_worthwhile=p_small,
        worthwhile=size.value,
        worthwhile_basis=size.basis,
        verdict=verdict,
        direction=direction,
        settle=settle,
        guards=(*(why for why, _ in blocked if why), *(n for n in notes if n)),
        raw_change=_raw_mean(one, after) - _raw_mean(one, before),
        threshold=threshold,
        problems=fit.problems_of(trait),
        unlogged=one.unlogged(),
        target_window=size.window,
    )


def offered_windows(fit: Fit, player: str, trait: str) -> tuple[Window, Window] | None:
    """Return the windows about an unlogged change that is likelier than not; None without one.

    They leave out the sessions among which it lies, where two sessions remain on either side.
    """
    found = fit.of(player, trait).unlogged()
    if found is None or found.chance < OFFERED:
        return None
    days = _days_read(fit, player, trait)
    first = [d for d in days if d <= found.between[0]]
    later = [d for d in days if d >= found.between[1]]
    if len(first) < MIN_SESSIONS or len(later) < MIN_SESSIONS:
        return None
    return Window(first[0], first[-1]), Window(later[0], later[-1])


def _near_the_limit(p_direction: float, threshold: float, samples: int) -> str | None:
    """Return a note when the chance is nearer to the threshold than its draws can tell."""
    error = 2 * np.sqrt(max(p_direction * (1 - p_direction), 1 / samples) / samples)
    if abs(p_direction - threshold) > error:
        return None
    return (
        "The chance lies at the limit for calling a change real, nearer than its own sampling "
        "error: another session will tell more than another fit."
    )


def _days_read(fit: Fit, player: str, trait: str) -> list[date]:
    one = fit.of(player, trait)
    return sorted({one.starts[place].date() for place in one.places_read})


def _windows(
    fit: Fit, player: str, trait: str, before: Window | None, after: Window | None
) -> tuple[Window, Window]:
    """Fill in the windows left open and refuse a pair that overlaps."""
    if before is None or after is None:
        first, second = default_windows(fit, player, trait)
        before, after = before or first, after or second
    if after.start <= before.end:
        raise BadRequest(
            f"the window after starts on {after.start}, before the window before has ended "
            f"({before.end}); pick windows that share no day, the earlier one first"
        )
    return before, after


def _size(found: Worthwhile, asked: float | None) -> Worthwhile:
    if asked is None:
        return found
    if not (np.isfinite(asked) and asked > 0):
        raise BadRequest(f"worthwhile: found {asked}, wanted a number above 0")
    return replace(found, value=asked, basis="set by hand")


def _p_better(first: Floats, second: Floats, trait: str, target: float | None) -> float | None:
    if TRAITS[trait].goal == "more":
        return float(np.mean(second > first))
    if target is None:
        return None
    return float(np.mean(np.abs(second - target) < np.abs(first - target)))


def _direction(
    first: Floats,
    second: Floats,
    p_better: float | None,
    trait: str,
    target: float | None,
    system: System,
) -> tuple[Direction | None, str | None]:
    """Return the likelier direction, and a note when the level has gone past its target."""
    if p_better is None:
        return None, None
    likelier: Direction = "better" if p_better >= 0.5 else "worse"
    if target is None:
        return likelier, None
    sides = np.sign(np.median(first) - target), np.sign(np.median(second) - target)
    if sides[0] * sides[1] >= 0:
        return likelier, None
    if max(p_better, 1 - p_better) >= SURE:
        return likelier, f"The level has gone past the target ({_said(trait, target, system)})."
    return None, (
        f"The level has gone past the target ({_said(trait, target, system)}): it has moved, "
        f"but whether it is nearer now is not settled ({chance_words(p_better)})."
    )


def _flat(
    first: Floats,
    second: Floats,
    trait: str,
    window: tuple[float, float] | None,
    system: System,
) -> str | None:
    """Return a note when both levels lie where carry hardly depends on the trait."""
    if window is None:
        return None
    low, high = window
    if not all(low <= float(np.median(level)) <= high for level in (first, second)):
        return None
    flat = value_text(FLAT_M, display("distance", system), decimals=1)
    return (
        f"From {_said(trait, low, system)} to {_said(trait, high, system)} expected carry differs "
        f"by less than {flat}: for distance it makes no odds."
    )


def _said(trait: str, value: float, system: System) -> str:
    return value_text(value, trait_display(trait, system))


def _blocked(
    fit: Fit, player: str, trait: str, before: Window, after: Window
) -> list[tuple[str, str]]:
    """Return what forbids a verdict, each with what would settle it."""
    found = []
    if fit.problems_of(trait):
        found.append(("", "Fit again with more draws: the numbers here cannot be trusted yet."))
    if too_few_sessions(fit, player, trait, (after,)):
        more = MIN_SESSIONS - fit.of(player, trait).places_in(after).size
        found.append(
            (
                f"Only one session from {after.start} to {after.end}: the day cannot be told from "
                "the player.",
                f"{more} more session, so that the latest window holds two.",
            )
        )
    if too_few_sessions(fit, player, trait, (before,)):
        found.append(
            (
                f"Only one session from {before.start} to {before.end}: the day cannot be told "
                "from the player.",
                "An earlier window with at least two sessions, or a new baseline of two sessions "
                "from now on.",
            )
        )
    unlinked = unlinked_method_guard(fit, player, trait, before, after)
    if unlinked:
        found.append((unlinked, "One session of any player read by both methods."))
    return found


def _settle(
    verdict: VerdictName,
    first: Floats,
    second: Floats,
    *,
    fit: Fit,
    player: str,
    trait: str,
    worthwhile: float,
    threshold: float,
) -> str:
    if verdict == "real-worthwhile":
        return "Settled: one session a month shows whether it holds."
    if verdict == "no-worthwhile-change":
        return "Settled for these dates: change the plan, or look again after more practice."
    question: Question = "size" if verdict == "real-size-unclear" else "direction"
    reading = reading_of(fit, player, trait)
    sessions, chance = sessions_to_settle(first, second, reading, worthwhile, threshold, question)
    shots = f"{reading.shots} shot{'s' if reading.shots > 1 else ''}"
    plural = "s" if sessions > 1 else ""
    if chance >= 0.8:
        return (
            f"About {sessions} more session{plural} of {shots} should settle it "
            f"({chance_words(chance)})."
        )
    return (
        f"Hard to settle: even {sessions} more sessions of {shots} would do it "
        f"{with_chance(chance)}. More sessions before the next change, or a larger change, help."
    )


def _summary(one: PlayerTrait, window: Window) -> WindowSummary:
    places = one.places_in(window)
    shots = int(one.counts[:, places].sum())
    return WindowSummary(window.start, window.end, int(places.size), shots)


def _raw_mean(one: PlayerTrait, window: Window) -> float:
    return float(one.raw_mean[one.places_in(window)].mean())
