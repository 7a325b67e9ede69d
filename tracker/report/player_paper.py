"""What a player's page of paper says: what is next, whether the last change was real, how sure."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from models.traits import TRAITS
from tracker.charts import export
from tracker.charts.face_map import face_chart
from tracker.charts.trend import trend_chart
from tracker.decisions.distance.gain import Gains
from tracker.decisions.distance.gain_words import gain_with_range, lever_aim, sessions_words
from tracker.decisions.verdict.guards import typical_gap_weeks
from tracker.decisions.verdict.retest import RetestPlan, plan_retest
from tracker.decisions.verdict.verdict import Verdict, judge_change
from tracker.decisions.verdict.verdict_words import moved_sentence
from tracker.errors import NotEnoughData
from tracker.posterior import Fit
from tracker.report.figures import face_of, trend_of
from tracker.report.paper import Drawing, Paper, Part
from tracker.report.setting import PAPER_FONT
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import PRACTICE_CAUTIONS, VERDICT_WORDS, cautions_for, chance_words

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
        return Part(heading, (gains.sentence,)), "Nothing to change first.", gains.sentence
    how, row = trait_display(best.trait, system), TRAITS[best.trait]
    fix = next(f for f in gains.fixes if f.trait == best.trait)
    low, high = (value_text(v, how, signed=row.signed) for v in fix.window)
    low = low.removesuffix(how.unit).rstrip()
    now = value_text(fix.now.median, how, signed=row.signed)
    sessions = best.effort_sessions or 1.0
    aim = lever_aim(best.lever)
    promised = gain_with_range(best.gain_m, gains.yardstick, system)
    items = [
        f"Goal: {row.label} from {now} now ({range_text(fix.now, how, signed=row.signed)}) toward "
        f"the target, {low} to {high}.",
        f"Drill: {aim}, {sessions_words(sessions)} of practice.",
        f"Promised: {promised}.",
        *_retest(fit, gains, best.trait, sessions, limit, printed, system),
    ]
    chance = chance_words(best.p_best or 0.0)
    sure = f"It is the best choice in {chance} cases; others may do as well."
    if gains.clear:
        sure = "It is clearly the first choice."
    lead = f"{name} is promised {promised}. {sure}"
    return Part(heading, items=tuple(items)), f"Next: {aim}.", lead


def _retest(
    fit: Fit,
    gains: Gains,
    trait: str,
    practice: float,
    limit: Limit,
    printed: date,
    system: System,
) -> tuple[str, ...]:
    """Return when the retest is due and what it takes, if the player goes on coming as so far."""
    try:
        plan = plan_retest(fit, gains.player, trait, threshold=limit(trait, True), system=system)
    except NotEnoughData as error:
        return (f"Retest: {error}.",)
    return (f"Retest: {_plan_words(fit, gains, plan, practice, printed)}",)


def _plan_words(fit: Fit, gains: Gains, plan: RetestPlan, practice: float, printed: date) -> str:
    design = plan.recommended
    if design is None:
        return (
            "no retest of 12 sessions or fewer would show a change of this size; aim for a larger "
            "one, or read it more steadily."
        )
    gap = timedelta(weeks=typical_gap_weeks(fit, gains.player))
    starts = max(gains.as_of.date(), printed) + practice * gap
    ends = starts + design.sessions * gap
    return (
        f"after the practice, from about {starts:%d %B %Y}: {design.sessions} sessions on "
        f"different days, {design.shots_per_session} shots read in each. We will know by about "
        f"{ends:%d %B %Y}; if the drill works, the chance that this shows it is "
        f"{chance_words(design.p_real)}."
    )


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
