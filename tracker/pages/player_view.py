"""What the player's page says: the verdict in words, what would settle it, and its pictures."""

from collections.abc import Sequence
from dataclasses import dataclass

from models.arrays import Floats
from models.traits import TRAITS
from tracker.charts.change import ChangePicture
from tracker.charts.trend import Trend
from tracker.decisions.distance.change_worth import ChangeWorth, worth_sentence
from tracker.decisions.verdict.consistency import SETTLED, ConsistencyVerdict
from tracker.decisions.verdict.consistency_words import (
    consistency_sentence,
    consistency_words,
    what_matters,
)
from tracker.decisions.verdict.unlogged_words import unlogged_sentence
from tracker.decisions.verdict.verdict import Verdict, WindowSummary
from tracker.decisions.verdict.verdict_words import moved_sentence
from tracker.interval import Interval
from tracker.pages.shared.phrases import (
    amount,
    amount_range,
    amount_with_range,
    counted,
    named,
    trait_label,
)
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.report.figures import trend_of
from tracker.units import System, trait_display
from tracker.words import VERDICT_WORDS, chance_words, start_of_sentence


@dataclass(frozen=True, slots=True)
class ScatterText:
    """The verdict on the scatter of single shots; ``words`` alone where there is none."""

    words: str = ""
    sentence: str = ""
    settle: str = ""
    guards: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class PlayerView:
    """Everything the player's page shows for one player and trait."""

    player: str
    headline: str
    lead: str
    settle: str
    next_step: bool
    """Whether ``settle`` says what to do next, since nothing is left to settle."""
    worth: str
    """What the measured move is worth in distance, or why that cannot be told."""
    unlogged: str
    """What the model holds of a change that nobody logged; empty where none is likelier than not.
    """
    problems: tuple[str, ...]
    guards: tuple[str, ...]
    trend: Trend
    trend_text: str
    change: ChangePicture | None
    change_text: str
    scatter: ScatterText
    noise: tuple[str, ...]
    why: tuple[str, ...]
    limit: tuple[str, ...]
    unlike: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Beside:
    """What goes with a verdict."""

    levels: tuple[Floats, Floats] | None = None
    """The draws it compared, stored unit; the fit's own when None."""
    limit: tuple[str, ...] = ()
    """Which limit was used and why."""
    scatter: ConsistencyVerdict | None = None
    scatter_why_not: str = ""
    unlike: tuple[str, ...] = ()
    """What the fit does not reproduce."""
    worth: ChangeWorth | None = None
    """What the move is worth in distance."""


NOTHING_BESIDE = Beside()


def player_view(
    fit: Fit, verdict: Verdict, system: System, beside: Beside = NOTHING_BESIDE
) -> PlayerView:
    """Return what to show of a verdict, with the pictures that prove it."""
    trend = trend_of(fit, verdict, system)
    change = None if verdict.problems else _change(fit, verdict, system, beside.levels)
    return PlayerView(
        player=verdict.player,
        headline=_headline(verdict),
        lead=_lead(verdict, system),
        settle=verdict.settle,
        next_step=verdict.verdict in SETTLED and not verdict.problems,
        worth=_worth(verdict, beside.worth, system),
        unlogged=unlogged_sentence(verdict, system),
        problems=verdict.problems,
        guards=verdict.guards,
        trend=trend,
        trend_text=_trend_text(verdict, trend, system),
        change=change,
        change_text=_change_text(verdict, system),
        scatter=_scatter(beside, system),
        noise=_noise(fit, verdict, system),
        why=_why(verdict, system),
        limit=beside.limit,
        unlike=beside.unlike,
    )


def _headline(verdict: Verdict) -> str:
    if verdict.problems:
        return "No verdict from this fit."
    return f"{VERDICT_WORDS[verdict.verdict]}."


def _lead(verdict: Verdict, system: System) -> str:
    if verdict.problems:
        return "The draws did not pass their checks, so no change is judged. Fit again."
    return moved_sentence(verdict, system)


def _worth(verdict: Verdict, worth: ChangeWorth | None, system: System) -> str:
    return "" if verdict.problems or worth is None else worth_sentence(worth, system)


def _change(
    fit: Fit, verdict: Verdict, system: System, levels: tuple[Floats, Floats] | None
) -> ChangePicture | None:
    one, trait = fit.of(verdict.player, verdict.trait), verdict.trait
    windows = [Window(w.start, w.end) for w in (verdict.before, verdict.after)]
    if not all(one.places_in(w).size for w in windows):
        return None
    how = trait_display(trait, system)
    drawn = levels or [one.tendency(w) for w in windows]
    before, after = (draws * how.factor for draws in drawn)
    worthwhile = verdict.worthwhile * how.factor
    return ChangePicture(trait_label(trait), how.unit, before, after, after - before, worthwhile)


def _trend_text(verdict: Verdict, trend: Trend, system: System) -> str:
    if not trend.level:
        return ""
    last = trend.level[-1]
    how = trait_display(verdict.trait, system)
    level = Interval(last.median, last.most[0], last.most[1], how.unit).scaled(
        1 / how.factor, TRAITS[verdict.trait].unit
    )
    changes = named([c.name for c in trend.changes])
    return (
        f"{start_of_sentence(trend.label)} at {counted(len(trend.level), 'session')}; at the last "
        f"one the tendency is {amount_with_range(verdict.trait, level, system)}. "
        + (f"Logged changes: {changes}." if changes else "No change is logged.")
        + (f" {unlogged}" if (unlogged := unlogged_sentence(verdict, system)) else "")
    )


def _change_text(verdict: Verdict, system: System) -> str:
    worthwhile = amount(verdict.trait, verdict.worthwhile, system)
    return (
        f"Changes smaller than {worthwhile} either way are too small to matter here "
        f"({verdict.worthwhile_basis}). A larger one: "
        f"{chance_words(verdict.p_worthwhile)}; one as small as that: "
        f"{chance_words(verdict.p_no_worthwhile)}."
    )


def _scatter(beside: Beside, system: System) -> ScatterText:
    found = beside.scatter
    if found is None:
        return ScatterText(beside.scatter_why_not)
    return ScatterText(
        f"{consistency_words(found)}.",
        consistency_sentence(found, system),
        f"{what_matters()} {found.settle}",
        found.guards,
    )


def _noise(fit: Fit, verdict: Verdict, system: System) -> tuple[str, ...]:
    one, trait = fit.of(verdict.player, verdict.trait), verdict.trait
    unit = TRAITS[trait].unit
    shot = Interval.from_draws(one.shot_sd, unit)
    session = Interval.from_draws(one.session_sd, unit)
    used = one.methods_in(one.places_read)
    readings = [
        (name, float(sd))
        for name, sd in zip(one.methods, one.reading_sd, strict=True)
        if name in used
    ]
    return (
        f"From shot to shot: two shots in three land within {amount(trait, shot.median, system)} "
        f"of that day's middle ({amount_range(trait, shot, system)}). More shots average it out.",
        f"From day to day: warm-up, tiredness and set-up shift a whole session by about "
        f"{amount(trait, session.median, system)} ({amount_range(trait, session, system)}). "
        "More shots on the same day do not average it out; more days do.",
        *(_reading_text(trait, name, sd, system) for name, sd in readings),
    )


def _reading_text(trait: str, method: str, sd: float, system: System) -> str:
    by = "" if method == "unstated" else f" ({method})"
    return (
        f"From reading it{by}: one reading is taken to be off by about "
        f"{amount(trait, sd, system)}, an assumption until shots have been read twice."
    )


def _why(verdict: Verdict, system: System) -> tuple[str, ...]:
    trait = verdict.trait
    lines = [
        f"Before: {_window_text(verdict.before)}.",
        f"After: {_window_text(verdict.after)}.",
        f"Change of the tendency: {amount_with_range(trait, verdict.change, system, change=True)}.",
    ]
    if verdict.raw_change is not None:
        lines.append(
            "Plain difference of what was read, before day-to-day noise is taken out: "
            f"{amount(trait, verdict.raw_change, system, signed=True)}. It is not used."
        )
    if verdict.p_better is not None:
        lines.append(f"Chance that it is better: {chance_words(verdict.p_better)}.")
    return tuple(lines)


def _window_text(window: WindowSummary) -> str:
    return (
        f"{window.start:%d %b %Y} to {window.end:%d %b %Y}, "
        f"{counted(window.sessions, 'session')}, {counted(window.shots, 'shot')}"
    )


def modelled_traits(fit: Fit) -> Sequence[str]:
    """Return the traits of a fit, in the shot log's order."""
    return [t for t in TRAITS if t in fit.traits]
