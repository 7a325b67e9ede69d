"""What every command shares: its options, how answers are printed, how a refusal ends."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from models.drive.errors import DriveInputError
from models.traits import MODELLED
from tracker.errors import BadRequest, TrackerError
from tracker.plain import terminal
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.units import SYSTEMS, System


class PlainConsole(Console):
    """A console that prints text as it stands: names in it are never markup, emoji or control."""

    def __init__(self, *, stderr: bool = False, width: int | None = None, wrap: bool = False):
        super().__init__(
            stderr=stderr, width=width, soft_wrap=not wrap,
            markup=False, emoji=False, highlight=False,
        )  # fmt: skip

    def render_str(self, text: str, **options: Any) -> Text:
        """Return text ready to print; every word and table cell passes here.

        ``options``: style, justify, overflow, emoji, markup, highlight, highlighter.
        """
        return super().render_str(terminal(text), **options)


out = PlainConsole()
err = PlainConsole(stderr=True)

DbOption = Annotated[
    str | None,
    typer.Option(
        "--db",
        metavar="URL",
        help="Database URL or SQLite file. Default: DRIVE_PROGRESS_DB, else a file in your "
        "user data folder.",
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON object on standard output.")
]
UnitsOption = Annotated[
    str, typer.Option("--units", help="yards (yd, mph) or metres (m, km/h) in tables.")
]
ClubOption = Annotated[
    str, typer.Option("--club", help="Club as in the shot log; each club has fits of its own.")
]
AllOption = Annotated[bool, typer.Option("--all", help="Every player of the fit.")]
TraitOption = Annotated[str, typer.Option("--trait", help=f"One of {', '.join(MODELLED)}.")]
ForceOption = Annotated[
    bool, typer.Option("--force", help="Write over what is there without asking.")
]
PlayerArgument = Annotated[str | None, typer.Argument(help="Player's name as in the shot log.")]


class Refusal(Exception):
    """A request that ends with exit code 1 and its reason on standard error."""


def system_named(name: str) -> System:
    """Return a unit system by name; an unknown one is a usage error."""
    for system in SYSTEMS:
        if system == name:
            return system
    raise typer.BadParameter(f"found {name!r}, wanted {' or '.join(SYSTEMS)}")


def print_json(answer: Mapping[str, Any]) -> None:
    """Print one JSON object; a value that is not finite is an error, never ``NaN`` in JSON."""
    sys.stdout.write(json.dumps(answer, allow_nan=False, default=str) + "\n")


def answer_players(
    fit: Fit, player: str | None, every: bool, answer: Callable[[str], Mapping[str, Any]]
) -> Mapping[str, Any]:
    """Return one player's answer, or with ``--all`` everybody's under ``players``."""
    names = player_names(fit, player, every)
    return {"players": [answer(name) for name in names]} if every else answer(names[0])


def player_names(fit: Fit, player: str | None, every: bool) -> tuple[str, ...]:
    """Return whom a command is about: one player, or with ``--all`` everybody."""
    if every == (player is not None):
        raise typer.BadParameter("name one player, or ask for --all")
    if player is None:
        return tuple(p.name for p in fit.players)
    return (fit.player(player).name,)


def warn_of_problems(problems: tuple[str, ...]) -> None:
    """Show what is wrong with a fit before any number."""
    for problem in problems:
        err.print(f"This fit has a problem: {problem}")


def note_elsewhere(fit: Fit, *parts: str) -> None:
    """Say what is wrong with parts of a fit that an answer does not rest on."""
    for problem in fit.problems_elsewhere(*parts):
        err.print(f"Elsewhere in this fit, not used here: {problem}")


def plain_table(*columns: str) -> Table:
    """Return an empty table in the style of every table here."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in columns:
        table.add_column(name)
    return table


def print_table(
    columns: Sequence[str], rows: Iterable[Sequence[str]], screen: Console = out
) -> None:
    """Print rows under the names of their columns."""
    table = plain_table(*columns)
    for row in rows:
        table.add_row(*row)
    screen.print(table)


NARROW = 110
"""Columns of a terminal below which a table leaves out what can be asked for with ``--wide``."""
ALL_COLUMNS = 180
"""Columns a whole table is given."""

WideOption = Annotated[
    bool, typer.Option("--wide", help="Show every column, however narrow the terminal.")
]


def print_rows(
    rows: Sequence[Mapping[str, str]], wide: bool, left_out: frozenset[str] = frozenset()
) -> None:
    """Print rows by column; in a narrow terminal without ``left_out``, rather than cut words."""
    whole = wide or out.width >= NARROW
    names = [n for n in rows[0] if whole or n not in left_out] if rows else []
    screen = PlainConsole(width=max(out.width, ALL_COLUMNS), wrap=True) if wide else out
    print_table(names, ([row[name] for name in names] for row in rows), screen)


@contextmanager
def refusals() -> Iterator[None]:
    """Turn a refused request into one reason on standard error and exit code 1."""
    try:
        yield
    except (TrackerError, DriveInputError, Refusal) as error:
        err.print(str(error))
        raise typer.Exit(1) from error


def agree(question: str, otherwise: str) -> None:
    """Ask on standard error; without a yes the command is refused with ``otherwise``."""
    try:
        agreed = typer.confirm(question, err=True)
    except typer.Abort:  # nobody there to answer
        err.print()
        agreed = False
    if not agreed:
        raise Refusal(otherwise)


def may_write(path: Path, force: bool) -> None:
    """Ask before a file is written over, unless told to; refuse without a yes."""
    if path.exists() and not force:
        question = f"{path} is there already. Write over it?"
        agree(question, f"{path} is there already, so nothing was written; --force writes over it")


def parse_window(text: str | None, option: str) -> Window | None:
    """Return the window ``A:B`` of two ISO dates; anything else is refused by the option's name."""
    if text is None:
        return None
    start, _, end = text.partition(":")
    try:
        return Window(date.fromisoformat(start), date.fromisoformat(end))
    except ValueError:
        msg = f"{option}: found {text!r}, wanted two dates such as 2026-03-01:2026-04-30"
        raise BadRequest(msg) from None


def parse_day(text: str | None, option: str, such_as: str = "2026-05-31") -> date | None:
    """Return an ISO date, None without one; anything else is refused by the option's name."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _no_day(text, option, such_as) from None


def parse_moment(text: str | None, option: str) -> datetime | None:
    """Return an ISO date (its midnight) or date-time, likewise."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise _no_day(text, option, "2026-05-31") from None


def _no_day(text: str, option: str, such_as: str) -> BadRequest:
    return BadRequest(f"{option}: found {text!r}, wanted a date such as {such_as}")
