"""What a player's page of paper says: what is next, whether the last change was real, how sure."""

from collections.abc import Callable, Sequence
from datetime import date

from models.traits import TRAITS
from tracker.charts import export
from tracker.charts.face_map import face_chart
from tracker.charts.trend import trend_chart
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import gain_with_range, lever_aim
from tracker.decisions.verdict.verdict import Verdict, judge_change
from tracker.decisions.verdict.verdict_words import moved_sentence
from tracker.errors import NotEnoughData
from tracker.posterior import Fit
from tracker.report.figures import face_of, trend_of
from tracker.report.next_goal import next_goal, next_retest
from tracker.report.paper import Drawing, Paper, Part
from tracker.report.setting import PAPER_FONT
from tracker.units import System
from tracker.words import PRACTICE_CAUTIONS, VERDICT_WORDS, cases_words, cautions_for

Limit = Callable[[str, bool], float]
"""The squad's limit for calling a change of a trait real, with a logged change or without."""

FACE_CAPTION = (
    "The face from the front. Dots: shots. Patch: their true middle, 50 % and 90 % sure. Dotted: "
    "9 in 10 shots. Dashed: the target."
)
TREND_CAPTION = (
    "Line and bands: the tendency, 50 % and 90 % sure. Dots: what was read. Grey columns: the "
    "dates compared. Dashed across: the target."
)
HOW_TO_READ = (
    "A range that is “90 % sure” holds the truth with a chance of 90 %, given the shots, the "
    "errors of reading and the physics. A tendency is where shots lie on average once the noise "
    "of single shots and days is taken out; it says nothing of one swing. A promise is a "
    "forecast: the retest tells whether it was kept."
)
HALF_PAGE = (330, 250)
"""Size of a drawing beside another one, px: small, so that its words are not."""
NOT_ADVICE = "This page is not medical advice."
IN_DOUBT = "The fit did not pass its checks, so this page gives no number. Fit again first."


def player_paper(
    fit: Fit,
    gains: Gains,
    strikes: Sequence[tuple[float, float]],
    limit: Limit,
    *,
    printed: date,
    system: System,
) -> Paper:
    """Return a player's page; a fit in doubt shows its problems in place of numbers."""
    player = gains.player
    trait = _trait_to_judge(fit, gains)
    verdict = why_not = None
    if trait is not None:
        try:
            logged = bool(fit.of(player, trait).changes)
            verdict = judge_change(
                fit, player, trait, threshold=limit(trait, logged), system=system
            )
        except NotEnoughData as error:
            why_not = str(error)
    judged = fit.problems_of(trait) if trait is not None else ()
    problems = tuple(dict.fromkeys((*gains.problems, *judged)))
    next_part, headline, lead = _next(fit, gains, limit, printed, system)
    worked_on = gains.first or trait or fit.traits[0]
    parts = [] if gains.problems else [next_part]
    if not judged:
        parts.append(_past(verdict, why_not, system))
    parts.append(Part("How to read this page", (HOW_TO_READ,)))
    return Paper(
        title=player,
        about=f"Driver. As of {gains.as_of:%d %B %Y}; printed {printed:%d %B %Y}.",
        problems=problems,
        headline=headline,
        lead=lead,
        drawings=_drawings(fit, gains, verdict if not judged else None, strikes, system),
        parts=tuple(parts),
        cautions=(*cautions_for(worked_on), *PRACTICE_CAUTIONS, NOT_ADVICE),
        source=_source(fit, player),
        most_pages=1,
    )


def _trait_to_judge(fit: Fit, gains: Gains) -> str | None:
    """Return the trait of the latest logged change that was read, else that of the first lever."""
    read = [t for t in fit.traits if fit.of(gains.player, t).is_read]
    changes = [c for c in fit.acting_changes if c.player == gains.player and c.trait in read]
    if changes:
        return max(changes, key=lambda change: change.start).trait
    return gains.first if gains.first in read else next(iter(read), None)


def _next(
    fit: Fit, gains: Gains, limit: Limit, printed: date, system: System
) -> tuple[Part, str, str]:
    """Return the part on what to do next, and the headline and the sentence above all."""
    name = gains.player
    heading = "The next goal"
    if gains.problems:
        return Part(heading), "No answer from this fit.", IN_DOUBT
    best = gains.best
    if best is None or best.trait is None:
        headline = "Nothing to act on yet." if gains.unsure else "Nothing to change first."
        return Part(heading, (gains.measure_next,)), headline, gains.lead
    practice, sure_enough = best.effort_sessions or 1.0, limit(best.trait, True)
    retest = next_retest(fit, name, best.trait, practice, sure_enough, today=printed)
    goal = next_goal(gains, system, retest)
    promised = gain_with_range(best.gain_m, gains.yardstick, system)
    sure = f"It is the best choice {cases_words(best.p_best or 0.0)}; others may do as well."
    if gains.clear:
        sure = "It is clearly the first choice."
    lead = f"{name} is promised {promised}. {sure}"
    return Part(heading, items=goal.lines if goal else ()), f"Next: {lever_aim(best.lever)}.", lead


def _past(verdict: Verdict | None, why_not: str | None, system: System) -> Part:
    heading = "Was the last change real?"
    if verdict is None:
        return Part(heading, (f"{VERDICT_WORDS['cannot-tell']}: {why_not or 'nothing was read.'}",))
    label = TRAITS[verdict.trait].label
    before, after = verdict.before, verdict.after
    return Part(
        f"Is the change of {label} real?",
        (
            f"{VERDICT_WORDS[verdict.verdict]}. {moved_sentence(verdict, system)} Compared: "
            f"{before.start:%d %b} to {before.end:%d %b %Y} ({before.shots} shots) with "
            f"{after.start:%d %b} to {after.end:%d %b %Y} ({after.shots} shots). "
            f"{verdict.settle}".strip(),
            *verdict.guards,
        ),
    )


def _drawings(
    fit: Fit,
    gains: Gains,
    verdict: Verdict | None,
    strikes: Sequence[tuple[float, float]],
    system: System,
) -> tuple[Drawing, ...]:
    found = []
    face = None if gains.problems else face_of(fit, gains.player, gains, strikes)
    if face is not None:
        svg = export.svg(face_chart(face), font=PAPER_FONT, size=HALF_PAGE)
        found.append(Drawing(svg, FACE_CAPTION, f"{len(face.strikes)} shots on the club face."))
    if verdict is not None:
        trend = trend_of(fit, verdict, system)
        svg = export.svg(trend_chart(trend), font=PAPER_FONT, size=HALF_PAGE)
        words = f"{trend.label} at {len(trend.level)} sessions."
        found.append(Drawing(svg, TREND_CAPTION, words))
    return tuple(found)


def _source(fit: Fit, player: str) -> str:
    sessions = fit.sessions(player)
    made = fit.info.created_at
    shots = max(fit.of(player, trait).readings for trait in fit.traits)
    own = "adapted to the squad's own balls" if fit.is_calibrated else "as published"
    return (
        f"From up to {shots} readings a trait in {len(sessions)} sessions of {player}, "
        f"{sessions[0]:%d %b %Y} to {sessions[-1]:%d %b %Y}. Fit {fit.info.fit_id} of "
        f"{made:%d %b %Y}, physics {own}."
    )
