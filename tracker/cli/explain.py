"""The ``explain`` command: where the metres between two shots, sessions, windows or players go."""

from collections.abc import Mapping
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.cli.common import (
    DbOption,
    JsonOption,
    UnitsOption,
    cell,
    note_elsewhere,
    out,
    plain_table,
    print_json,
    refusals,
    system_named,
    warn_of_problems,
)
from tracker.cli.stored import open_store
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.ends import when_of, when_text
from tracker.decisions.distance.explain import GROUPS, Explanation
from tracker.decisions.distance.explain import explain as explain_difference
from tracker.decisions.distance.explain_words import PART_WORDS, explanation_sentence
from tracker.fits.kept_fits import latest_fit
from tracker.shot_frame import shots_of
from tracker.units import System, display, trait_display

WHEN = "a session's date, one shot of it (2026-05-31#3), or a window of days (A:B)"


def explain(
    player: Annotated[str, typer.Argument(help="Player's name as in the shot log.")],
    start: Annotated[str, typer.Option("--from", metavar="WHEN", help=f"From: {WHEN}.")],
    end: Annotated[str, typer.Option("--to", metavar="WHEN", help="To: the same.")],
    to_player: Annotated[
        str | None, typer.Option("--to-player", metavar="NAME", help="Whose --to it is.")
    ] = None,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Explain a difference in carry by club speed, strike, attack, loft, path and face."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        fit = latest_fit(store)
        other = to_player or player
        ends = when_of(fit, player, start), when_of(fit, other, end)
        logged = [s for name in {player, other} for s in shots_of(store.shots_frame(name))]
        found = explain_difference(fit, player, *ends, logged, to_player=other)
        if as_json:
            print_json(explanation_json(found, system))
            return
        warn_of_problems(found.problems)
        note_elsewhere(fit, *DISTANCE_PARTS)
        _print_explanation(found, system)


def explanation_json(found: Explanation, system: System) -> Mapping[str, Any]:
    """Return an explanation under the keys of the contract, and a few more."""
    return {
        "player": found.player,
        "from": when_text(found.start),
        "to": when_text(found.end),
        "to_player": found.to_player,
        "carry_difference_m": found.carry_difference_m.as_json(),
        "parts": {name: part.as_json() for name, part in found.parts.items()},
        "from_level": {t: level.as_json() for t, level in found.start_level.items()},
        "to_level": {t: level.as_json() for t, level in found.end_level.items()},
        "measured": found.measured,
        "words": explanation_sentence(found, system),
        "notes": list(found.notes),
        "problems": list(found.problems),
    }


def _print_explanation(found: Explanation, system: System) -> None:
    how = display("distance", system)
    out.print(explanation_sentence(found, system), style="bold")
    table = plain_table("part of the difference", f"carry, {how.unit} (90 %)", "from", "to")
    for name, part in found.parts.items():
        row = [PART_WORDS[name], cell(part, how, signed=True)]
        for levels in (found.start_level, found.end_level):
            moved = [
                f"{TRAITS[t].label} " * (len(GROUPS[name]) > 1)
                + cell(levels[t], trait_display(t, system), signed=TRAITS[t].signed)
                for t in GROUPS.get(name, ())
            ]
            row.append(", ".join(moved))
        table.add_row(*row)
    table.add_row("together", cell(found.carry_difference_m, how, signed=True))
    out.print(table)
    for note in found.notes:
        out.print(note)
