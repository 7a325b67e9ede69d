"""The command that says which logged changes work, for whom, and against what else is known."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from models.traits import MODELLED, TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    UnitsOption,
    out,
    plain_table,
    print_json,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.distance.gain_words import sessions_words
from tracker.decisions.season.what_works import (
    Answer,
    NotJudged,
    TraitWorks,
    WorkedRow,
    not_judged,
    what_works,
)
from tracker.decisions.season.works_words import (
    ANSWER_WORDS,
    APART,
    FINDING_WORDS,
    answer_words,
    claim_rule,
    not_judged_words,
    settle_words,
    share_words,
    way_words,
    works_headline,
    works_lead,
)
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, trait_display
from tracker.words import chance_words

WorksTraitOption = Annotated[
    str | None,
    typer.Option("--trait", help=f"One of {', '.join(MODELLED)}. Default: every trait."),
]


def works(
    trait: WorksTraitOption = None,
    as_of: AsOfOption = None,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say which drill or other change works for which trait, for whom, and how surely."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        found, left_out = what_works(fit, trait), not_judged(fit, trait)
        about = fit.traits if trait is None else (trait,)
        if as_json:
            problems = list(fit.problems_of(*about))
            said = works_json(fit, found, left_out, system)
            print_json({**belief.as_json(), **said, "problems": problems})
            return
        belief.warn(*about)
        _print_works(fit, found, left_out, system)


def works_json(
    fit: Fit, found: tuple[TraitWorks, ...], left_out: tuple[NotJudged, ...], system: System
) -> Mapping[str, Any]:
    """Return what works as JSON: rows by trait, each with who did it and a new drill beside."""
    return {
        "words": works_headline(found, logged=bool(fit.changes)),
        "lead": works_lead(found, system, logged=bool(fit.changes), left_out=left_out),
        "traits": [
            {
                "trait": one.trait,
                "works": [_row_json(row) for row in one.rows],
                "new_drill": {
                    **fields_json(one.new_drill, "name effort_sessions p_best expected_regret"),
                    "helpful_effect": json_value(one.new_drill.effect),
                },
            }
            for one in found
        ],
        "not_judged": [
            {
                **fields_json(one, "trait reason"),
                "changes": list(one.names),
                "words": not_judged_words(one),
            }
            for one in left_out
        ],
    }


def _row_json(row: WorkedRow) -> Mapping[str, Any]:
    return {
        **fields_json(row, "name kind trait players effect"),
        "helpful_sign": row.way,
        "wanted_the_other_way": row.other_way,
        **fields_json(row, "spread worthwhile p_positive p_helps p_worthwhile p_no_difference"),
        "helped_share": json_value(row.helped),
        "non_responder_share": json_value(row.unmoved),
        **fields_json(row, "effort_sessions effect_per_session p_best expected_regret"),
        **fields_json(row, "more_players finding"),
        "words": FINDING_WORDS[row.finding],
        "who": [_answer_json(answer) for answer in row.answers],
    }


def _answer_json(answer: Answer) -> Mapping[str, Any]:
    names = "player start before target effect worthwhile p_toward p_helped p_no_difference finding"
    return {**fields_json(answer, names), "words": ANSWER_WORDS[answer.finding]}


def _print_works(
    fit: Fit, found: tuple[TraitWorks, ...], left_out: tuple[NotJudged, ...], system: System
) -> None:
    logged = bool(fit.changes)
    out.print(works_headline(found, logged=logged), style="bold")
    out.print(works_lead(found, system, logged=logged, left_out=left_out))
    for one in found:
        _print_trait(one, system)
    for unjudged in left_out if found else ():
        out.print(not_judged_words(unjudged))
    if found:
        out.print(f"In brackets: 90 %. {APART} {claim_rule()}")


def _print_trait(one: TraitWorks, system: System) -> None:
    label, how = TRAITS[one.trait].label, trait_display(one.trait, system)
    out.print(f"\n{label}, + {TRAITS[one.trait].positive}", style="bold")
    table = plain_table("change", "effect", "helped", "not moved", "best", "so far")
    for row in one.rows:
        table.add_row(
            row.name,
            brief_text(row.effect, how, signed=True),
            share_words(row.helped, row.players),
            share_words(row.unmoved, row.players),
            chance_words(row.p_best),
            FINDING_WORDS[row.finding],
        )
    fresh = one.new_drill
    table.add_row(
        fresh.name,
        f"helps by {brief_text(fresh.effect, how, signed=True)}",
        *("", ""),
        chance_words(fresh.p_best),
        "nobody has tried it",
    )
    out.print(table)
    for row in one.rows:
        practice = sessions_words(row.effort_sessions)
        said = f"{row.name}: what helps is {way_words(row)}; {practice} of practice."
        out.print(f"{said} {settle_words(row)}".rstrip())
        for answer in row.answers:
            out.print(
                f"  {answer.player}: {brief_text(answer.effect, how, signed=True)}, "
                f"{answer_words(answer)}",
            )
