"""The command that plans a retest, and the practice card it can write."""

from collections.abc import Mapping
from datetime import date
from html import escape
from pathlib import Path
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json
from tracker.cli.common import (
    ClubOption,
    DbOption,
    ForceOption,
    JsonOption,
    TraitOption,
    UnitsOption,
    may_write,
    out,
    print_json,
    print_table,
    refusals,
    system_named,
    warn_of_problems,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.verdict.retest import (
    SESSION_COST,
    SHOTS,
    RetestPlan,
    luck_words,
    plan_retest,
)
from tracker.decisions.verdict.threshold import kept_threshold
from tracker.fits.beliefs import belief_words
from tracker.records import DEFAULT_CLUB
from tracker.store.private_files import write_private
from tracker.units import System, trait_display, value_text
from tracker.words import cautions_for, chance_words

ChangeOption = Annotated[
    float | None,
    typer.Option(
        "--change", help="Change to show, in the trait's unit. Default: the best lever's."
    ),
]
CardOption = Annotated[
    Path | None,
    typer.Option("--card", metavar="FILE", help="Write a practice card (HTML, or text for .txt)."),
]
SHOWN_SESSIONS = (2, 4, 6, 8, 10, 12)


def retest(
    player: Annotated[str, typer.Argument(help="Player's name as in the shot log.")],
    trait: TraitOption = "strike_up_mm",
    change: ChangeOption = None,
    session_cost: Annotated[
        float, typer.Option("--session-cost", help="What a session costs, in shots.")
    ] = SESSION_COST,
    card: CardOption = None,
    force: ForceOption = False,
    as_of: AsOfOption = None,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how many sessions and shots would show a change, and the cheapest that is enough."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        if card is not None:
            may_write(card, force)
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        fit.of(player, trait)  # unknown names are refused before anything is worked out
        plan = plan_retest(
            fit,
            player,
            trait,
            change=change,
            threshold=kept_threshold(belief.kept, fit, player, trait, logged=True).value,
            session_cost=session_cost,
            system=system,
        )
        if card is not None:
            said = () if belief.day is None else (belief_words(fit),)
            _write_card(card, plan, system, said)
        if as_json:
            print_json({**retest_json(plan), **belief.as_json()})
            return
        belief.say_not_stored()
        warn_of_problems(plan.problems)
        _print_plan(plan)
        if card is not None:
            out.print(f"The practice card is in {card}.")


def retest_json(plan: RetestPlan) -> Mapping[str, Any]:
    """Return a plan under the keys of the contract, and a few more."""
    design = "sessions shots_per_session p_real cost_shots"
    best = plan.recommended
    return {
        **fields_json(
            plan, "player trait change change_basis worthwhile threshold reason problems"
        ),
        "unit": TRAITS[plan.trait].unit,
        "designs": [fields_json(d, design) for d in plan.designs],
        "recommended": None if best is None else fields_json(best, design),
        "best_shots_per_session": plan.best_shots,
        "words": plan.sentence,
        "luck": luck_words(),
    }


def _print_plan(plan: RetestPlan) -> None:
    out.print(plan.sentence, style="bold")
    out.print(f"The change: {plan.change_basis}. Chance of a real verdict:")
    chance = {(d.sessions, d.shots_per_session): f"{d.p_real:.2f}" for d in plan.designs}
    print_table(
        ("sessions", *(f"{shots} shots" for shots in SHOTS)),
        ((str(n), *(chance[n, shots] for shots in SHOTS)) for n in SHOWN_SESSIONS),
    )
    out.print(luck_words())
    out.print(plan.reason)


def card_lines(plan: RetestPlan, system: System, today: date) -> tuple[str, tuple[str, ...]]:
    """Return the heading and the lines of a practice card."""
    label = TRAITS[plan.trait].label
    size = value_text(plan.change, trait_display(plan.trait, system), signed=True)
    heading = f"Practice card: {plan.player}, {label}, {today.isoformat()}"
    if plan.problems:
        return heading, (
            "No plan yet: the fit of this trait has problems. Fit again with more draws first.",
        )
    aim = f"The change to show: {size} ({TRAITS[plan.trait].positive} is +)."
    if plan.recommended is None:
        what = (
            f"Not reachable in 12 sessions. Aim for a larger change, or read {label} more steadily."
        )
        return heading, (aim, what, *cautions_for(plan.trait))
    design = plan.recommended
    return heading, (
        aim,
        f"{design.sessions} sessions on different days, {design.shots_per_session} shots read in "
        f"each, warm-up left out. Tick: {'[ ] ' * design.sessions}".rstrip(),
        "Log the day the change starts, read every shot the same way, and keep the bad ones too.",
        f"Chance that this shows it: {chance_words(design.p_real)}. More days tell more than more "
        "shots on one day.",
        *cautions_for(plan.trait),
    )


def _write_card(path: Path, plan: RetestPlan, system: System, said: tuple[str, ...]) -> None:
    heading, lines = card_lines(plan, system, date.today())
    lines = (*said, *lines)
    if path.suffix == ".txt":
        text = "\n".join([heading, "", *(f"- {line}" for line in lines), ""])
    else:
        items = "\n".join(f"<li>{escape(line)}</li>" for line in lines)
        text = (
            '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
            f"<title>{escape(heading)}</title>\n"
            "<style>body{font:14pt/1.5 sans-serif;max-width:38em;margin:2em auto}</style></head>\n"
            f"<body><h1>{escape(heading)}</h1>\n<ul>\n{items}\n</ul>\n</body></html>\n"
        )
    write_private(path, text.encode())
