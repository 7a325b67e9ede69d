"""The command line: the same functions as the page, from a shell.

What a command needs is loaded when it is asked for: the list of commands waits for nothing.
"""

import gc
from collections.abc import Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any

import typer
from typer.core import TyperGroup

GARBAGE_AFTER = 100_000
"""Objects made before garbage is looked for."""

HOMES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "show": (
            "answers:show",
            "Show a player's true tendencies: level, shot scatter and day-to-day scatter.",
        ),
        "gains": (
            "answers:gains",
            "Say what to do first, what each lever is worth, and how sure that is.",
        ),
        "verdict": (
            "verdict:verdict",
            "Say whether a player's trait really changed, and what would settle it.",
        ),
        "squad": (
            "squad:squad",
            "Compare the squad: places on one trait that know what they do not know, and the "
            "season.",
        ),
        "works": (
            "works:works",
            "Say which drill or other change works for which trait, for whom, and how surely.",
        ),
        "retest": (
            "retest:retest",
            "Say how many sessions and shots would show a change, and the cheapest that is enough.",
        ),
        "report": (
            "report:report",
            "Write a player's page for paper, or the squad's: what is next, what was found, how "
            "sure.",
        ),
        "plan": (
            "plan:plan",
            "Plan the season: who practises what when, the retest, and what the squad gains by it.",
        ),
        "explain": (
            "explain:explain",
            "Explain a difference in carry by club speed, strike, attack, loft, path and face.",
        ),
        "promises": (
            "promises:promises",
            "Show what was promised of logged changes, what was found, and how many held.",
        ),
        "drive": (
            "physics:drive_command",
            "Work out one drive from the club's delivery and the strike, by published physics.",
        ),
        "flight": (
            "physics:flight_command",
            "Fly one ball from its launch to rest, by published physics.",
        ),
        "load": (
            "load:load",
            "Store a shot log, whole or not at all; loading it twice stores nothing twice.",
        ),
        "undo": (
            "load:undo",
            "Take back the last load: its shots, and players and sessions it alone brought.",
        ),
        "group": (
            "group:group",
            "Show or set which group and which coach each player belongs to.\n\nWithout a player, "
            "everybody's are shown. The columns group and coach of a shot log say them\ntoo; the "
            "newest word counts.",
        ),
        "fit": ("fit:fit", "Estimate every player's tendencies from all stored shots with a club."),
        "export": (
            "people:export",
            "Write everything held of a player to one archive: tables that load again, and "
            "pictures.",
        ),
        "erase": (
            "people:erase",
            "Erase a player everywhere: shots, changes, photographs, and every fit that knows the "
            "name.",
        ),
        "rename": (
            "people:rename",
            "Give a player another name, in the stored fits too: they stay usable.",
        ),
        "merge": ("people:merge", "Make one player of two: everything of FROM goes to INTO."),
        "backup": (
            "safety:backup",
            "Write every row, photograph and fit into one file, sealed by digests.",
        ),
        "restore": (
            "safety:restore",
            "Put a backup into a database, SQLite or PostgreSQL; an empty one unless --force.",
        ),
        "check": (
            "safety:check",
            "Say whether everything stored can be trusted, and what to do where not.",
        ),
        "history": (
            "history:history",
            "List every kept fit, and what changed from one to the next and why.",
        ),
        "trust": (
            "trust:trust",
            "Say whether the latest fit can be trusted, part by part, and on what that rests.",
        ),
        "demo": (
            "serving:demo",
            "Load the invented academy into its own database, fit it, show the coach's table.",
        ),
        "page": ("serving:page", "Serve the page on this machine only."),
    }
)
"""Where each command lives, module and function, and what the list of commands says of it."""


class Commands(TyperGroup):
    """The list of commands; the module of one is loaded when it is called."""

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """Return the command that is asked for, with its options, and the words after it."""
        name, listed, rest = super().resolve_command(ctx, args)
        return name, listed if name is None else command(name), rest


app = typer.Typer(
    cls=Commands,
    help="Keeps every driver shot, finds each player's true tendencies, and says what to "
    "do first for the most distance.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


def _listed() -> None:
    """Stand in the list of commands; never called."""


for _name, (_home, _says) in HOMES.items():
    app.command(_name, help=_says)(_listed)


def command(name: str) -> Any:
    """Return a command as the command-line library runs it; its module is loaded now."""
    home, says = HOMES[name]
    module, _, function = home.partition(":")
    alone = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
    alone.command(name, help=says)(getattr(import_module(f"tracker.cli.{module}"), function))
    return typer.main.get_command(alone)


def main() -> None:
    """Run the command line."""
    # what a command loads and reads stays until it ends: looking for garbage in it every few
    # hundred objects takes a tenth of its time and finds nothing
    gc.set_threshold(GARBAGE_AFTER)
    app()
