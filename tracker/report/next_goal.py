"""A player's next goal: from where to where, by which drill, for how many yards, known by when."""

from dataclasses import dataclass
from datetime import date, timedelta

from models.traits import TRAITS
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import gain_with_range, lever_aim, sessions_words
from tracker.decisions.verdict.guards import typical_gap_weeks
from tracker.decisions.verdict.retest import cheapest_design
from tracker.errors import NotEnoughData
from tracker.posterior import Fit
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import chance_words


@dataclass(frozen=True, slots=True)
class Retest:
    """What a retest takes, in words, and by when one will know."""

    takes: str
    known_by: str


@dataclass(frozen=True, slots=True)
class NextGoal:
    """What a player works on next: the same in one sentence and as lines to take along."""

    aim: str
    """The lever with the trait it is for."""
    sentence: str
    lines: tuple[str, ...]
    """Goal, drill, promise and, where it was worked out, retest."""


def next_goal(gains: Gains, system: System, retest: Retest | None = None) -> NextGoal | None:
    """Return the goal of a player's first lever; None where no lever comes first."""
    best = gains.best
    if best is None or best.trait is None:
        return None
    how, row = trait_display(best.trait, system), TRAITS[best.trait]
    fix = next(f for f in gains.fixes if f.trait == best.trait)
    low, high = (value_text(v, how, signed=row.signed) for v in fix.window)
    low = low.removesuffix(how.unit).rstrip()
    now = value_text(fix.now.median, how, signed=row.signed)
    practice = sessions_words(best.effort_sessions or 1.0)
    aim = lever_aim(best.lever)
    worth = gain_with_range(best.gain_m, gains.yardstick, system)
    known = "" if retest is None else f"; {retest.known_by}"
    lines = (
        f"Goal: {row.label} from {now} now ({range_text(fix.now, how, signed=row.signed)}) toward "
        f"the target, {low} to {high}.",
        f"Drill: {aim}, {practice} of practice.",
        f"Promised: {worth}.",
        *(() if retest is None else (f"Retest: {retest.takes}",)),
    )
    sentence = (
        f"From {row.label} {now} now toward {low} to {high}, by {aim} ({best.reason}): {worth} for "
        f"{practice} of practice{known}."
    )
    return NextGoal(aim, sentence, lines)


def next_retest(
    fit: Fit,
    player: str,
    trait: str,
    practice: float,
    limit: float,
    *,
    today: date,
) -> Retest:
    """Return what a retest of a trait takes if the player goes on coming as so far.

    ``practice`` is in sessions, ``limit`` is the squad's for players with a logged change.
    """
    try:
        design = cheapest_design(fit, player, trait, threshold=limit)
    except NotEnoughData as error:
        return Retest(f"{error}.", "when we will know cannot be said yet")
    if design is None:
        return Retest(
            "no retest of 12 sessions or fewer would show a change of this size; aim for a larger "
            "one, or read it more steadily.",
            "no retest of 12 sessions or fewer would show it",
        )
    gap = timedelta(weeks=typical_gap_weeks(fit, player))
    starts = max(fit.sessions(player)[-1].date(), today) + practice * gap
    ends = starts + design.sessions * gap
    return Retest(
        f"after the practice, from about {starts:%d %B %Y}: {design.sessions} sessions on "
        f"different days, {design.shots_per_session} shots read in each. We will know by about "
        f"{ends:%d %B %Y}; if the drill works, the chance that this shows it is "
        f"{chance_words(design.p_real)}.",
        f"we will know by about {ends:%d %B %Y}",
    )
