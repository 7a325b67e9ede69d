"""The ``explain`` command: where the metres between two shots, sessions, windows or players go."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.common import (
    DbOption,
    JsonOption,
    UnitsOption,
    WideOption,
    note_elsewhere,
    out,
    print_json,
    print_rows,
    refusals,
    system_named,
    warn_of_problems,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.ends import when_of, when_text
from tracker.decisions.distance.explain import GROUPS, UNEXPLAINED, Explanation
from tracker.decisions.distance.explain import explain as explain_difference
from tracker.decisions.distance.explain_words import (
    PART_WORDS,
    explanation_sentence,
    listed_parts,
    small_words,
    split_sentence,
)
from tracker.fits.kept_fits import not_stored
from tracker.interval import Interval
from tracker.readings.shot_frame import shots_of
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, display, trait_display

PART = "part of the difference"
LEFT_OUT = frozenset({"from", "to"})
"""Columns that a narrow terminal does without."""
WHEN = "a session's date, one shot of it (2026-05-31#3), or a window of days (A:B)"


def explain(
    player: Annotated[str, typer.Argument(help="Player's name as in the shot log.")],
    start: Annotated[str, typer.Option("--from", metavar="WHEN", help=f"From: {WHEN}.")],
    end: Annotated[str, typer.Option("--to", metavar="WHEN", help="To: the same.")],
    to_player: Annotated[
        str | None, typer.Option("--to-player", metavar="NAME", help="Whose --to it is.")
    ] = None,
    split: Annotated[
        bool,
        typer.Option("--split", help="Show attack alone and the loft it takes along apart."),
    ] = False,
    as_of: AsOfOption = None,
    wide: WideOption = False,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Explain a difference in carry by club speed, strike, attack, loft, path and face."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, DEFAULT_CLUB, as_of)
        fit = belief.fit
        other = to_player or player
        ends = when_of(fit, player, start), when_of(fit, other, end)
        stored = {player, other} - set(not_stored(store, fit))
        logged = [s for name in stored for s in shots_of(belief.shots(name))]
        found = explain_difference(fit, player, *ends, logged, to_player=other, split=split)
        if as_json:
            print_json({**explanation_json(found, system), **belief.as_json()})
            return
        belief.say_not_stored()
        warn_of_problems(found.problems)
        note_elsewhere(fit, *DISTANCE_PARTS)
        _print_explanation(found, system, wide)


def explanation_json(found: Explanation, system: System) -> Mapping[str, Any]:
    """Return an explanation under the keys of the contract, and a few more."""
    return {
        **fields_json(found, "player to_player carry_difference_m parts measured notes problems"),
        "from": when_text(found.start),
        "to": when_text(found.end),
        "attack_split": json_value(found.attack_split) or None,
        "from_level": json_value(found.start_level),
        "to_level": json_value(found.end_level),
        "words": explanation_sentence(found, system),
    }


def _print_explanation(found: Explanation, system: System, wide: bool) -> None:
    out.print(explanation_sentence(found, system), style="bold")
    rows = [{PART: PART_WORDS[n], **_part_cells(found, n, system)} for n in listed_parts(found)]
    if found.small_sum is not None:
        rows.append({PART: small_words(found), **_cells(found.small_sum, system)})
    left = found.parts[UNEXPLAINED]
    rows.append({PART: PART_WORDS[UNEXPLAINED], **_cells(left, system)})
    rows.append({PART: "together", **_cells(found.carry_difference_m, system)})
    print_rows(rows, wide, LEFT_OUT)
    if found.small:
        out.print(f"Small: {', '.join(PART_WORDS[name] for name in found.small)}.")
    if found.attack_split:
        out.print(split_sentence(found, system))
    for note in found.notes:
        out.print(note)


def _cells(part: Interval, system: System) -> dict[str, str]:
    how = display("distance", system)
    return {f"carry, {how.unit} (90 %)": brief_text(part, how, signed=True), "from": "", "to": ""}


def _part_cells(found: Explanation, name: str, system: System) -> dict[str, str]:
    """Return a part and what was delivered of it at both ends."""
    cells = _cells(found.parts[name], system)
    for end, levels in (("from", found.start_level), ("to", found.end_level)):
        cells[end] = ", ".join(
            f"{TRAITS[t].label} " * (len(GROUPS[name]) > 1)
            + brief_text(levels[t], trait_display(t, system), signed=TRAITS[t].signed)
            for t in GROUPS[name]
        )
    return cells
