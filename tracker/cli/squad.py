"""The command that compares the squad: which places on a trait, and which drill does what."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.answers import CorridorOption, YardstickOption, yardstick_named
from tracker.cli.board import board_json, board_of, print_board
from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    TraitOption,
    UnitsOption,
    out,
    parse_day,
    plain_table,
    print_json,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.board.board_words import tied_words
from tracker.decisions.board.filters import Asked, players_left
from tracker.decisions.distance.yardstick import CORRIDOR_M, TOWARD
from tracker.decisions.squad import DrillRow, SquadRow, drill_table, squad_table
from tracker.errors import BadRequest
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, trait_display

GroupOption = Annotated[
    str | None, typer.Option("--group", metavar="NAME", help="Only players of this group.")
]
CoachOption = Annotated[
    str | None, typer.Option("--coach", metavar="NAME", help="Only players of this coach.")
]
HandedOption = Annotated[
    str | None, typer.Option("--handed", metavar="HAND", help="Only right- or left-handers.")
]
SinceOption = Annotated[
    str | None,
    typer.Option(
        "--since", metavar="DATE", help="Only sessions from that day on; the start is the first."
    ),
]
BriefOption = Annotated[
    bool, typer.Option("--brief", help="Places and drills alone: no looks, no levers.")
]
DRILL_FIELDS = "name kind trait effect p_positive players"


def squad(
    trait: TraitOption = "strike_up_mm",
    group: GroupOption = None,
    coach: CoachOption = None,
    handed: HandedOption = None,
    since: SinceOption = None,
    yardstick: YardstickOption = TOWARD.name,
    corridor: CorridorOption = f"{CORRIDOR_M:g}m",
    brief: BriefOption = False,
    as_of: AsOfOption = None,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare the squad: places on one trait that know what they do not know, and the season."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        asked, counts = _asked(group, coach, handed, since), yardstick_named(yardstick, corridor)
        players = players_left(fit, store.labels(), asked)
        if not players:
            raise BadRequest("nobody is left by these filters: ask for fewer of them")
        rows = squad_table(fit, trait, players=players, since=asked.since)
        drills = [d for d in drill_table(fit) if not fit.problems_of(d.trait)]
        if not as_json:
            belief.warn(trait)
            _print_places(trait, rows, system)
            _print_drills(drills, system)
        board = None if brief else board_of(belief, trait, players, asked.since, counts, system)
        if as_json:
            print_json(
                {
                    "trait": trait,
                    "players": [_place_json(r) for r in rows],
                    "drills": [fields_json(d, DRILL_FIELDS) for d in drills],
                    **({} if board is None else board_json(board, system)),
                    **belief.as_json(),
                    "problems": list(fit.problems_of(trait)),
                }
            )
        elif board is not None:
            print_board(board, trait, system)


def _asked(group: str | None, coach: str | None, handed: str | None, since: str | None) -> Asked:
    if handed not in (None, "right", "left"):
        raise BadRequest(f"--handed: found {handed!r}, wanted right or left")
    return Asked(group, coach, handed, parse_day(since, "--since", "2026-03-01"))


def _place_json(row: SquadRow) -> Mapping[str, Any]:
    return {
        **fields_json(row, "player level trend_per_month expected_rank rank90 p_top3 tied_with"),
        "off_target": json_value(row.shortfall),
        "target_window": json_value(row.target_window),
    }


def _print_places(trait: str, rows: Sequence[SquadRow], system: System) -> None:
    how = trait_display(trait, system)
    out.print(f"{TRAITS[trait].label}, + {TRAITS[trait].positive}. In brackets: 90 %.")
    table = plain_table("player", "tendency", "a month", "rank, 90 %", "P(top 3)", "tied with")
    for r in rows:
        table.add_row(
            r.player,
            brief_text(r.level, how, signed=True),
            brief_text(r.trend_per_month, how, signed=True) if r.trend_per_month else "one session",
            f"{r.rank90[0]} to {r.rank90[1]}",
            f"{r.p_top3:.2f}",
            tied_words(r.tied_with, len(rows)),
        )
    out.print(table)


def _print_drills(drills: Sequence[DrillRow], system: System) -> None:
    changes = plain_table("change", "trait", "effect", "P(effect > 0)", "players")
    for d in drills:
        own = trait_display(d.trait, system)
        changes.add_row(
            f"{d.name} ({d.kind})",
            TRAITS[d.trait].label,
            brief_text(d.effect, own, signed=True),
            f"{d.p_positive:.2f}",
            str(d.players),
        )
    if drills:
        out.print(changes)
