"""The commands that keep everything safe: backup, restore, check."""

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tracker.cli.common import (
    DbOption,
    ForceOption,
    JsonOption,
    err,
    may_write,
    out,
    print_json,
    refusals,
)
from tracker.cli.stored import database_url, open_store
from tracker.errors import StoreUnavailable
from tracker.store.engine import is_new_file, shown_url
from tracker.store.integrity import RESTORE, Problem

if TYPE_CHECKING:
    from tracker.holdings.backup import Copied

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="File of the backup.")]


def backup(
    file: FileArgument,
    force: ForceOption = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write every row, photograph and fit into one file, sealed by digests."""
    from tracker.holdings.backup import back_up

    with refusals(), open_store(db) as store:
        may_write(file, force)
        done = back_up(store, file)
        _say(done, as_json, f"Everything stored is in {file}")


def restore(
    file: FileArgument,
    force: Annotated[
        bool, typer.Option("--force", help="Replace all that the database holds.")
    ] = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Put a backup into a database, SQLite or PostgreSQL; an empty one unless --force."""
    from tracker.holdings import backup as backups

    with refusals(), open_store(db) as store:
        done = backups.restore(store, file, force=force)
        _say(done, as_json, f"{store.address} holds what {file} held")
        err.print("A page that is open must be started again.")


def _say(done: "Copied", as_json: bool, words: str) -> None:
    if as_json:
        stored = {"rows": dict(done.rows), "photos": done.photos, "fits": done.rows["fit"]}
        print_json({"path": str(done.path), **stored})
        return
    rows = done.rows
    out.print(
        f"{words}: {rows['player']} players, {rows['shot']} shots, {rows['logged_change']} "
        f"changes, {rows['fit']} fits and {done.photos} photographs."
    )


def check(db: DbOption = None, as_json: JsonOption = False) -> None:
    """Say whether everything stored can be trusted, and what to do where not."""
    problems = _problems(db)
    if as_json:
        print_json({"ok": not problems, "problems": [asdict(p) for p in problems]})
    elif not problems:
        out.print("Everything stored is as it should be.")
    if problems:
        for problem in problems:
            err.print(f"{problem.what}: {problem.remedy}.")
        raise typer.Exit(1)


def _problems(db: str | None) -> Sequence[Problem]:
    from tracker.holdings.check import problems_of

    url = database_url(db)
    if is_new_file(url):
        what = f"database {shown_url(url)} is not there"
        return [Problem(what, "check the address, or load a log first")]
    try:
        with open_store(db) as store:
            return problems_of(store)
    except StoreUnavailable as error:  # so damaged that it cannot be opened
        return [Problem(str(error), RESTORE)]
