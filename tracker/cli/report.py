"""The command that makes a page of paper: a player's, or the squad's."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer

from models.traits import MODELLED, STRIKES
from tracker.cli.common import (
    DbOption,
    ForceOption,
    JsonOption,
    PlayerArgument,
    UnitsOption,
    may_write,
    out,
    print_json,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, Belief, belief_asked_for, open_store
from tracker.decisions.distance.gain import player_gains, squad_gains
from tracker.decisions.squad import drill_table, last_changed, squad_table
from tracker.decisions.verdict.threshold import kept_threshold
from tracker.errors import BadRequest
from tracker.fits.beliefs import belief_words
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.report.handing_over import as_file
from tracker.report.paper import Paper, with_about
from tracker.report.player_paper import player_paper
from tracker.report.squad_paper import squad_paper
from tracker.store.private_files import write_private
from tracker.units import System

OutOption = Annotated[
    Path, typer.Option("--out", metavar="FILE", help="Where to: a name ending in .pdf or .html.")
]
SquadOption = Annotated[bool, typer.Option("--squad", help="The squad's paper, two pages at most.")]
RankedOption = Annotated[
    str | None,
    typer.Option(
        "--trait",
        help="With --squad: what to compare on. Default: what was worked on last. "
        f"One of {', '.join(MODELLED)}.",
    ),
]


def report(
    out_file: OutOption,
    player: PlayerArgument = None,
    squad: SquadOption = False,
    trait: RankedOption = None,
    as_of: AsOfOption = None,
    force: ForceOption = False,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a player's page for paper, or the squad's: what is next, what was found, how sure."""
    system = system_named(units)
    if squad == (player is not None):
        raise typer.BadParameter("name one player, or ask for --squad")
    with refusals():
        check_ending(out_file)
        may_write(out_file, force)
        with open_store(db) as store:
            belief = belief_asked_for(store, DEFAULT_CLUB, as_of)
            if player is None:
                paper = squad_paper_of(belief.fit, trait, system)
            else:
                paper = player_paper_of(belief, player, system)
            if belief.day is not None:
                paper = with_about(paper, belief_words(belief.fit))
            if not as_json:
                belief.warn()
            which = belief.as_json()
        made = as_file(paper, out_file.suffix)
        write_private(out_file, made.content)
    answer: Mapping[str, Any] = {
        "path": str(out_file),
        "pages": made.pages,
        "problems": list(paper.problems),
        **which,
    }
    if as_json:
        print_json(answer)
        return
    pages = "1 page" if made.pages == 1 else f"{made.pages} pages"
    out.print(f"{pages} written to {out_file}", markup=False)


def player_paper_of(belief: Belief, player: str, system: System) -> Paper:
    """Return a player's paper from what is stored now, or was seen by then."""
    fit, kept = belief.fit, belief.kept
    fit.player(player)  # an unknown name is refused before anything is worked out
    frame = belief.shots(player)
    both = frame[list(STRIKES)].dropna()
    strikes = [(float(toe), float(up)) for toe, up in both.to_numpy()]

    def limit(trait: str, logged: bool) -> float:
        return kept_threshold(kept, fit, player, trait, logged=logged).value

    gains = player_gains(fit, player, system=system)
    return player_paper(fit, gains, strikes, limit, printed=date.today(), system=system)


def squad_paper_of(fit: Fit, trait: str | None, system: System) -> Paper:
    """Return the squad's paper; without a trait on what was worked on last."""
    chosen = trait or last_changed(fit)[1] or fit.traits[0]
    table = squad_table(fit, chosen)
    found = squad_gains(fit, system=system)
    today = date.today()
    return squad_paper(fit, found, chosen, table, drill_table(fit), printed=today, system=system)


def check_ending(path: Path) -> None:
    """Refuse a name that says no form that a paper can have, before the work."""
    if path.suffix.lower() not in (".pdf", ".html"):
        raise BadRequest(f"--out: found {path}, wanted a name that ends in .pdf or .html")
