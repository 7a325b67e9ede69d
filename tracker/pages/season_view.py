"""What the season's page says: which change works, for whom, and who does what next."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from models.traits import TRAITS
from tracker.charts.effect import EffectRow
from tracker.decisions.distance.gain_words import sessions_words
from tracker.decisions.season.plan import Planned, SeasonPlan
from tracker.decisions.season.plan_calendar import plan_calendar
from tracker.decisions.season.plan_table import plan_csv
from tracker.decisions.season.plan_words import (
    gain_words,
    left_out_words,
    load_words,
    plan_cautions,
    plan_headline,
    plan_lead,
    programme_aim,
    reading_brief,
    retest_words,
    sure_words,
)
from tracker.decisions.season.what_works import Answer, TraitWorks, WorkedRow, not_judged
from tracker.decisions.season.works_words import (
    APART,
    FINDING_WORDS,
    answer_words,
    best_rows,
    claim_rule,
    not_judged_words,
    settle_words,
    share_words,
    way_words,
    works_headline,
    works_lead,
)
from tracker.files.table_file import Value, heads, numbers, table_csv
from tracker.pages.shared.phrases import Rows, amount, amount_brief, amount_with_range, trait_label
from tracker.posterior import Fit
from tracker.units import System, brief_text, shown, trait_display
from tracker.words import chance_words, day_words, start_of_sentence

WORKS_COLUMNS = ("Change", "For", "Effect", "Helped", "Not moved", "Best choice", "So far")
MORE_COLUMNS = (
    "Change", "For", "What helps", "Spread between players", "Helps at all", "Beyond what matters",
    "A session of practice", "Missed by choosing it, on average", "What would settle it",
)  # fmt: skip
WHO_COLUMNS = ("Player", "Change", "Begun", "Stood at", "Wanted", "Effect", "Result")
PLAN_COLUMNS = ("Player", "Practise", "From", "Gain", "How sure", "Retest", "Read more")
LEFT_COLUMNS = ("Player", "Why not")


@dataclass(frozen=True, slots=True)
class EffectPicture:
    """The changes of one trait as a picture, and what it shows in words."""

    trait: str
    label: str
    positive: str
    rows: tuple[EffectRow, ...]
    text: str


@dataclass(frozen=True, slots=True)
class WorksView:
    """What works; no table where nothing is sound."""

    headline: str
    lead: str
    problems: tuple[str, ...]
    elsewhere: tuple[str, ...]
    """Problems of traits that have changes while others are sound."""
    traits: tuple[str, ...]
    """Those that the headline rests on."""
    pictures: tuple[EffectPicture, ...]
    rows: Rows
    more: Rows
    who: Rows
    notes: tuple[str, ...]
    works_csv: bytes
    who_csv: bytes


@dataclass(frozen=True, slots=True)
class PlanView:
    """A season's plan; nothing but problems where the fit is in doubt."""

    headline: str
    lead: str
    problems: tuple[str, ...]
    rows: Rows
    load: str
    left_out: Rows
    cautions: tuple[str, ...]
    plan_csv: bytes
    calendar: bytes


def works_view(fit: Fit, works: Sequence[TraitWorks], system: System) -> WorksView:
    """Return what to show of what works."""
    about = traits_with_changes(fit)
    problems = fit.problems_of(*about)
    logged, silent = bool(fit.changes), bool(problems) and not works
    left_out = not_judged(fit)
    rows = [row for one in works for row in one.rows]
    best = best_rows(works)
    return WorksView(
        headline=works_headline(works, logged=logged),
        lead=works_lead(works, system, logged=logged, left_out=left_out),
        problems=problems if silent else (),
        elsewhere=() if silent else problems,
        traits=tuple(dict.fromkeys(row.trait for row in best or rows)),
        pictures=tuple(_picture(one, system) for one in works),
        rows=tuple(line for one in works for line in _works_lines(one, system)),
        more=tuple(_more_line(row, system) for row in rows),
        who=tuple(_who_line(row, answer, system) for row in rows for answer in row.answers),
        notes=(APART, claim_rule(), *map(not_judged_words, left_out)) if works else (),
        works_csv=_works_csv(works, system),
        who_csv=_who_csv(rows, system),
    )


def plan_view(plan: SeasonPlan, system: System, made_at: datetime) -> PlanView:
    """Return what to show of a season's plan; ``made_at`` has a time zone."""
    return PlanView(
        headline=plan_headline(plan, system),
        lead=plan_lead(plan, system),
        problems=plan.problems,
        rows=tuple(_plan_line(one, system) for one in plan.planned),
        load=load_words(plan),
        left_out=tuple(
            (one.player, start_of_sentence(left_out_words(one, system))) for one in plan.left_out
        ),
        cautions=plan_cautions(plan),
        plan_csv=plan_csv(plan, system),
        calendar=plan_calendar(plan, system, made_at),
    )


def traits_with_changes(fit: Fit) -> tuple[str, ...]:
    """Return the traits that a logged change acts on and that have a better way."""
    return tuple(
        trait
        for trait in fit.traits
        if TRAITS[trait].goal != "none"
        and any(one.changes for one in fit.squad(trait).players.values())
    )


def _name(row: WorkedRow) -> str:
    return row.name if row.kind == "drill" else f"{row.name} ({row.kind})"


def _picture(one: TraitWorks, system: System) -> EffectPicture:
    trait = TRAITS[one.trait]
    how = trait_display(one.trait, system)
    ways = {row.way for row in one.rows}
    way = ways.pop() if len(ways) == 1 else 0.0
    rows = [
        EffectRow(
            _name(row), shown(row.effect, trait.quantity, system), row.worthwhile * how.factor
        )
        for row in one.rows
    ]
    if way:  # what nobody has tried has a way only where all that were tried have the same
        fresh = one.new_drill.effect.scaled(way, one.new_drill.effect.unit)
        rows.append(
            EffectRow(one.new_drill.name, shown(fresh, trait.quantity, system), None, tried=False)
        )
    return EffectPicture(
        trait=one.trait,
        label=trait.label,
        positive=trait.positive,
        rows=tuple(rows),
        text="; ".join(
            f"{_name(row)} {amount_with_range(row.trait, row.effect, system, change=True)}"
            for row in one.rows
        ),
    )


def _works_lines(one: TraitWorks, system: System) -> Rows:
    lines = [
        (
            _name(row),
            trait_label(row.trait),
            amount_brief(row.trait, row.effect, system, change=True),
            share_words(row.helped, row.players),
            share_words(row.unmoved, row.players),
            chance_words(row.p_best),
            FINDING_WORDS[row.finding],
        )
        for row in one.rows
    ]
    fresh = one.new_drill
    new = (
        fresh.name,
        trait_label(one.trait),
        f"helps by {amount_brief(one.trait, fresh.effect, system, change=True)}",
        "",
        "",
        chance_words(fresh.p_best),
        "Nobody has tried it",
    )
    return (*lines, new)


def _more_line(row: WorkedRow, system: System) -> tuple[str, ...]:
    trait = row.trait
    spread = row.spread
    return (
        _name(row),
        trait_label(trait),
        way_words(row),
        "one player only" if spread is None else brief_text(spread, trait_display(trait, system)),
        chance_words(row.p_helps),
        f"{chance_words(row.p_worthwhile)} ({amount(trait, row.worthwhile, system)} matter)",
        f"helps by {amount_brief(trait, row.effect_per_session, system, change=True)}",
        f"{amount(trait, row.expected_regret, system)} over {sessions_words(row.effort_sessions)}",
        settle_words(row) or "settled",
    )


def _who_line(row: WorkedRow, answer: Answer, system: System) -> tuple[str, ...]:
    trait = row.trait
    signed = TRAITS[trait].signed
    target = answer.target
    return (
        answer.player,
        _name(row),
        day_words(answer.start),
        amount_brief(trait, answer.stood, system),
        "more" if target is None else amount(trait, target, system, signed=signed),
        amount_brief(trait, answer.effect, system, change=True),
        start_of_sentence(answer_words(answer)),
    )


def _plan_line(one: Planned, system: System) -> tuple[str, ...]:
    made = one.programme
    retest = retest_words(made)
    start = one.blocks[0].start
    return (
        one.player,
        programme_aim(made),
        f"{start.day} {start:%b}",
        gain_words(made, system),
        sure_words(made),
        retest if one.retest_on is None else f"{one.retest_on.day} {one.retest_on:%b}: {retest}",
        reading_brief(made, system),
    )


def _works_csv(works: Sequence[TraitWorks], system: System) -> bytes:
    columns = (
        "change", "kind", "trait", "unit", "players", *heads("effect"), "helpful_sign",
        *heads("spread"), "worthwhile", "p_positive",
        "p_helps", "p_worthwhile", "p_no_difference", "helped_share", "helped_low90",
        "helped_high90", "not_moved_share", "not_moved_low90", "not_moved_high90",
        "effort_sessions", "p_best", "expected_regret", "finding",
    )  # fmt: skip
    rows: list[tuple[Value, ...]] = []
    for row in (row for one in works for row in one.rows):
        how = trait_display(row.trait, system)
        rows.append(
            (
                row.name, row.kind, row.trait, how.unit, row.players,
                *numbers(row.effect.scaled(how.factor, how.unit)), row.way,
                *numbers(row.spread and row.spread.scaled(how.factor, how.unit)),
                row.worthwhile * how.factor, row.p_positive, row.p_helps, row.p_worthwhile,
                row.p_no_difference, *numbers(row.helped), *numbers(row.unmoved),
                row.effort_sessions, row.p_best, row.expected_regret * how.factor,
                FINDING_WORDS[row.finding],
            )
        )  # fmt: skip
    return table_csv(columns, rows)


def _who_csv(rows: Sequence[WorkedRow], system: System) -> bytes:
    columns = (
        "player", "change", "trait", "unit", "begun", "stood_at", "target", "effect",
        "effect_low90", "effect_high90", "worthwhile", "p_toward", "p_helped", "p_no_difference",
        "result",
    )  # fmt: skip
    found: list[tuple[Value, ...]] = []
    for row in rows:
        how = trait_display(row.trait, system)
        for answer in row.answers:
            target = None if answer.target is None else answer.target * how.factor
            found.append(
                (
                    answer.player, row.name, row.trait, how.unit, answer.start.isoformat(),
                    answer.before * how.factor, target,
                    *numbers(answer.effect.scaled(how.factor, how.unit)),
                    answer.worthwhile * how.factor, answer.p_toward, answer.p_helped,
                    answer.p_no_difference, answer_words(answer),
                )
            )  # fmt: skip
    return table_csv(columns, found)
