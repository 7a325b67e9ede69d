"""The command that judges a change: of the tendency, and of the scatter of single shots."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.common import (
    AllOption,
    ClubOption,
    DbOption,
    JsonOption,
    PlayerArgument,
    TraitOption,
    UnitsOption,
    answer_players,
    out,
    parse_window,
    player_names,
    print_json,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.distance.change_worth import ChangeWorth, change_worth, worth_sentence
from tracker.decisions.verdict.consistency import ConsistencyVerdict, judge_consistency
from tracker.decisions.verdict.consistency_words import (
    consistency_sentence,
    consistency_words,
    what_matters,
)
from tracker.decisions.verdict.threshold import kept_threshold
from tracker.decisions.verdict.unlogged_words import unlogged_sentence
from tracker.decisions.verdict.verdict import (
    Verdict,
    default_windows,
    judge_change,
    offered_windows,
)
from tracker.errors import NotEnoughData
from tracker.interval import Interval
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.readings.stuck_device import without_stuck
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, trait_display, value_text
from tracker.words import VERDICT_WORDS, chance_words

BeforeOption = Annotated[
    str | None, typer.Option("--before", metavar="A:B", help="First window, two dates.")
]
AfterOption = Annotated[
    str | None, typer.Option("--after", metavar="C:D", help="Second window, two dates.")
]
WorthwhileOption = Annotated[
    float | None,
    typer.Option("--worthwhile", help="Smallest change that matters, in the trait's unit."),
]
UnloggedOption = Annotated[
    bool,
    typer.Option(
        "--unlogged",
        help="Compare before and after the change that nobody logged, if there is one.",
    ),
]
WINDOW_FIELDS = "start end sessions shots"
JUDGED_FIELDS = "p_worthwhile p_no_worthwhile verdict direction settle guards threshold"


def verdict(
    player: PlayerArgument = None,
    trait: TraitOption = "strike_up_mm",
    before: BeforeOption = None,
    after: AfterOption = None,
    worthwhile: WorthwhileOption = None,
    unlogged: UnloggedOption = False,
    as_of: AsOfOption = None,
    every: AllOption = False,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say whether a player's trait really changed, and what would settle it."""
    system = system_named(units)
    if unlogged and (before or after):
        raise typer.BadParameter("choose --unlogged, or --before and --after, not both")
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        fit.squad(trait)  # an unknown trait is refused before any player is judged
        windows = parse_window(before, "--before"), parse_window(after, "--after")

        def judged(name: str) -> Verdict:
            about = unlogged_windows(fit, name, trait) if unlogged else windows
            offered = unlogged and about != default_windows(fit, name, trait)
            return judge_change(
                fit,
                name,
                trait,
                *about,
                worthwhile=worthwhile,
                threshold=kept_threshold(belief.kept, fit, name, trait, offered=offered).value,
                system=system,
            )

        shots, _ = without_stuck(belief.shots())

        def compared(found: Verdict) -> tuple[Window, Window]:
            before, after = found.before, found.after
            return Window(before.start, before.end), Window(after.start, after.end)

        def scatter(found: Verdict) -> ConsistencyVerdict | None:
            try:
                return judge_consistency(shots, found.player, trait, *compared(found))
            except NotEnoughData:
                return None

        def worth(found: Verdict) -> ChangeWorth:
            return change_worth(fit, found.player, trait, *compared(found))

        def as_answer(name: str) -> Mapping[str, Any]:
            try:
                found = judged(name)
            except NotEnoughData as reason:
                if not every:
                    raise
                return {"player": name, "trait": trait, "refused": str(reason)}
            return {
                **verdict_json(found),
                "worth": worth_json(worth(found), system),
                "scatter": scatter_json(scatter(found)),
            }

        names = player_names(fit, player, every)
        if as_json:
            print_json({**answer_players(fit, player, every, as_answer), **belief.as_json()})
            return
        belief.warn(trait)
        for name in names:
            try:
                found = judged(name)
                _print_verdict(found, worth(found), scatter(found), system)
            except NotEnoughData as reason:
                if not every:
                    raise
                out.print(f"{name}: {reason}")


def unlogged_windows(fit: Fit, player: str, trait: str) -> tuple[Window, Window]:
    """Return the windows about the change that nobody logged; raise NotEnoughData without one."""
    found = offered_windows(fit, player, trait)
    if found is None:
        raise NotEnoughData(
            f"{player}: no unlogged change of {TRAITS[trait].label} is likelier than not, with "
            "two sessions read on either side; leave --unlogged out, or pick windows with "
            "--before and --after"
        )
    return found


def verdict_json(found: Verdict) -> Mapping[str, Any]:
    """Return a verdict under the keys of the contract, and a few more."""
    return {
        **fields_json(found, "player trait"),
        "before": fields_json(found.before, WINDOW_FIELDS),
        "after": fields_json(found.after, WINDOW_FIELDS),
        **fields_json(found, f"change p_better {JUDGED_FIELDS} worthwhile worthwhile_basis"),
        "words": VERDICT_WORDS[found.verdict],
        "unlogged": unlogged_json(found),
        "problems": list(found.problems),
    }


def unlogged_json(found: Verdict) -> Mapping[str, Any] | None:
    """Return what the model holds of a sudden change that nobody logged; null without one."""
    if found.unlogged is None:
        return None
    return {
        "p": found.unlogged.chance,
        "between": json_value(found.unlogged.between),
        "size": Interval.from_draws(found.unlogged.size, found.change.unit).as_json(),
    }


def scatter_json(found: ConsistencyVerdict | None) -> Mapping[str, Any] | None:
    """Return the verdict on the scatter of single shots; null with too few shots for one."""
    if found is None:
        return None
    return {
        **fields_json(found, f"sd_before sd_after ratio p_smaller {JUDGED_FIELDS}"),
        "words": consistency_words(found),
    }


def worth_json(worth: ChangeWorth, system: System) -> Mapping[str, Any]:
    """Return what the move is worth; gain null and the reason in words where that is not known."""
    return {
        "gain_m": json_value(worth.gain),
        "yardstick": worth.yardstick.name,
        "words": worth_sentence(worth, system),
    }


def _print_verdict(
    found: Verdict, worth: ChangeWorth, scatter: ConsistencyVerdict | None, system: System
) -> None:
    how = trait_display(found.trait, system)
    out.print(f"{found.player}: {VERDICT_WORDS[found.verdict]}.", style="bold")
    better = ""
    if found.p_better is not None:
        better = f", {chance_words(found.p_better)} that it is better"
    moved, matters = brief_text(found.change, how, signed=True), value_text(found.worthwhile, how)
    out.print(
        f"{TRAITS[found.trait].label} changed by {moved}{better}; a change "
        f"that matters is {matters} ({found.worthwhile_basis})."
    )
    if not found.problems:
        out.print(f"{worth_sentence(worth, system)}")
    for label, window in (("before", found.before), ("after", found.after)):
        out.print(
            f"  {label}: {window.start} to {window.end}, {window.sessions} sessions, "
            f"{window.shots} readings"
        )
    for line in (unlogged_sentence(found, system), *found.guards, found.settle):
        if line:
            out.print(f"  {line}")
    if scatter is not None and not found.problems:
        out.print(f"  Single shots: {consistency_words(scatter)}.", style="bold")
        lines = (consistency_sentence(scatter, system), what_matters(), *scatter.guards)
        for line in (*lines, scatter.settle):
            if line:
                out.print(f"    {line}")
