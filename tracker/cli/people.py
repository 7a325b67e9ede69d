"""The commands about one player's data: export, erase, rename, merge."""

from pathlib import Path
from typing import Annotated

import typer

from tracker.cli.common import (
    DbOption,
    ForceOption,
    JsonOption,
    agree,
    err,
    may_write,
    out,
    print_json,
    refusals,
)
from tracker.cli.stored import open_store
from tracker.holdings.held import Held, held_of

NameArgument = Annotated[str, typer.Argument(help="Player's name as in the shot log.")]
OutOption = Annotated[Path, typer.Option("--out", metavar="FILE.zip", help="Archive to write.")]
YesOption = Annotated[bool, typer.Option("--yes", help="Do not ask.")]
AppendOption = Annotated[
    bool,
    typer.Option("--append", help="Number shots that differ after those that are there."),
]


def export(
    player: NameArgument,
    to: OutOption,
    force: ForceOption = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write everything held of a player to one archive: tables that load again, and pictures."""
    from tracker.holdings.export import export_player

    with refusals(), open_store(db) as store:
        held_of(store, player)  # an unknown name is refused before anything is asked
        may_write(to, force)
        held = export_player(store, player, to).held
        if as_json:
            print_json({"player": player, "path": str(to), **_held_json(held)})
            return
        counted = ", ".join(f"{number} rows of {table}" for table, number in held.rows.items())
        out.print(
            f"Everything held of {player} is in {to}: {counted or 'no rows'}, "
            f"{len(held.photos)} photographs, {len(held.fits)} fits."
        )


def erase(
    player: NameArgument,
    yes: YesOption = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Erase a player everywhere: shots, changes, photographs, and every fit that knows the name."""
    from tracker.holdings.erase import ELSEWHERE, erase_player, what_goes

    with refusals(), open_store(db) as store:
        held = held_of(store, player)
        err.print(f"This goes for ever, with the name {player}:")
        for line in what_goes(held):
            err.print(f"  {line}")
        for said in held.other_texts:
            err.print(
                f"This stays, since it may be another's word: {said.text!r} "
                f"({said.table}, {said.column})"
            )
        err.print(ELSEWHERE)
        if not yes:
            agree(f"Erase {player}?", "nothing was erased; --yes erases without asking")
        done = erase_player(store, held)
        if not done.clean:
            err.print(
                "Another program is reading the database, so what was erased may stand in its log "
                "until that program has ended: close the page."
            )
        if as_json:
            left = [f"{m.table}.{m.column}: {m.text}" for m in held.other_texts]
            covered = {"texts_covered": len(held.free_texts), "texts_left": left}
            print_json({"player": player, **_held_json(held), **covered, "files_clean": done.clean})
            return
        out.print(f"{player} is erased.")


def rename(
    old: Annotated[str, typer.Argument(help="Name as it is stored.")],
    new: Annotated[str, typer.Argument(help="Name to be stored.")],
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Give a player another name, in the stored fits too: they stay usable."""
    from tracker.holdings.rename import rename_player

    with refusals(), open_store(db) as store:
        done = rename_player(store, old, new)
        if as_json:
            print_json(
                {
                    "player": new,
                    "was": old,
                    "rows": dict(done.rows),
                    "photos": done.photos,
                    "fits": list(done.fits.values()),
                    "fits_dropped": list(done.dropped),
                }
            )
            return
        numbers = ", ".join(f"{a} (now {b})" for a, b in done.fits.items())
        out.print(f"{old} is {new} now; {done.photos} photographs moved along.")
        if numbers:
            out.print(f"Stored fits that stay usable: {numbers}.")
        _say_dropped(done.dropped)


def merge(
    giver: Annotated[str, typer.Argument(metavar="FROM", help="Player who is to go.")],
    taker: Annotated[str, typer.Argument(metavar="INTO", help="Player who takes it all.")],
    append: AppendOption = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make one player of two: everything of FROM goes to INTO."""
    from tracker.holdings.merge import merge_players

    with refusals(), open_store(db) as store:
        done = merge_players(store, giver, taker, append=append)
        if as_json:
            print_json(
                {
                    "player": taker,
                    "was": giver,
                    "rows": dict(done.rows),
                    "already_stored": done.already,
                    "appended": done.appended,
                    "photos": done.photos,
                    "fits": [],
                    "fits_dropped": list(done.dropped),
                }
            )
            return
        shots, changes = (done.rows.get(name, 0) for name in ("shot", "logged_change"))
        out.print(
            f"{giver} is {taker} now: {shots} shots, {changes} changes and {done.photos} "
            f"photographs moved; {done.already} were there already, {done.appended} were numbered "
            "anew."
        )
        _say_dropped(done.dropped)
        out.print("The stored fits do not know the two as one: run drive-progress fit.")


def _say_dropped(dropped: tuple[int, ...]) -> None:
    if dropped:
        numbers = ", ".join(map(str, dropped))
        err.print(f"Fits that were dropped (number {numbers}): run drive-progress fit.")


def _held_json(held: Held) -> dict[str, object]:
    fits = [*held.fits, *held.unreadable]
    return {"rows": dict(held.rows), "photos": len(held.photos), "fits": fits}
