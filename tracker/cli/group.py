"""The command that shows and sets a player's group and coach."""

from typing import Annotated

import typer

from tracker.cli.common import DbOption, JsonOption, print_json, print_table, refusals
from tracker.cli.stored import open_store
from tracker.records import Label


def group(
    player: Annotated[str | None, typer.Argument(help="Player's name as in the shot log.")] = None,
    name: Annotated[str | None, typer.Argument(help="The player's group from now on.")] = None,
    coach: Annotated[
        str | None, typer.Option("--coach", metavar="NAME", help="The player's coach from now on.")
    ] = None,
    clear: Annotated[
        bool, typer.Option("--clear", help="From now on the player has no group and no coach.")
    ] = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show or set which group and which coach each player belongs to.

    Without a player, everybody's are shown. The columns group and coach of a shot log say them
    too; the newest word counts.
    """
    if clear and (name or coach):
        raise typer.BadParameter("choose --clear, or a group or coach to set, not both")
    if player is None and (name or coach or clear):
        raise typer.BadParameter("name the player whose group or coach it is")
    said: dict[Label, str | None] = {"group": None, "coach": None} if clear else {}
    if name is not None:
        said["group"] = name
    if coach is not None:
        said["coach"] = coach
    with refusals(), open_store(db) as store:
        if player is not None and said:
            store.set_labels(player, said)
        found = store.labels(player)
        if as_json:
            rows = [{"player": n, "group": f.group, "coach": f.coach} for n, f in found.items()]
            print_json({"players": rows})
            return
        cells = ((n, labels.group or "", labels.coach or "") for n, labels in found.items())
        print_table(("player", "group", "coach"), cells)
