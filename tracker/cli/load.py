"""The commands that change what is stored: load, undo."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json
from tracker.cli.common import (
    DbOption,
    JsonOption,
    Refusal,
    err,
    out,
    plain_table,
    print_json,
    refusals,
)
from tracker.cli.stored import name_stuck, open_store
from tracker.errors import FileRefused
from tracker.store.loading import LoadReport, load_changes, load_shots
from tracker.store.store import Store
from tracker.units import brief_text, trait_display


def load(
    file: Annotated[Path, typer.Argument(help="CSV file, one row a shot (or a change).")],
    changes: Annotated[
        bool, typer.Option("--changes", help="The file lists drills and other changes.")
    ] = False,
    duplicates: Annotated[
        bool,
        typer.Option("--duplicates", help="The file lists shots read twice by one method."),
    ] = False,
    skip_bad: Annotated[
        bool,
        typer.Option("--skip-bad", help="Store the good rows; write the bad to FILE.rejected.csv."),
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="Where stored shots differ, the file is right.")
    ] = False,
    append: Annotated[
        bool, typer.Option("--append", help="A second file of a day: number its shots after.")
    ] = False,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Store a shot log, whole or not at all; loading it twice stores nothing twice."""
    if replace and append:
        raise typer.BadParameter("choose --replace or --append, not both")
    if changes and duplicates:
        raise typer.BadParameter("choose --changes or --duplicates, not both")
    conflict: Literal["refuse", "replace", "append"] = (
        "replace" if replace else "append" if append else "refuse"
    )
    with refusals(), open_store(db) as store:
        try:
            if duplicates:
                _load_duplicates(store, file, as_json)
                return
            if changes:
                _load_changes(store, file, replace, as_json)
                return
            report = load_shots(store, file, skip_bad=skip_bad, on_conflict=conflict)
        except FileRefused as refused:
            if as_json:
                print_json(_load_json(LoadReport(refused.rows, 0, 0, 0, refused.problems)))
            raise
        name_stuck(report.stuck)
        for alike in report.look_alike:
            err.print(alike.sentence)
        if as_json:
            print_json(_load_json(report))
            return
        _print_stored(report, "shots")
        if report.rejected:
            err.print(f"{len(report.rejected)} problems; bad rows are in {report.rejected_path}:")
            for problem in report.rejected[:20]:
                err.print(f"  {problem}")


def _print_stored(report: LoadReport, what: str) -> None:
    out.print(
        f"{report.rows} rows read: {report.stored} {what} stored, "
        f"{report.already_stored} stored already, {report.replaced} replaced."
    )


def _load_changes(store: Store, file: Path, replace: bool, as_json: bool) -> None:
    """Store changes, keep what is promised of the new ones, and say both."""
    from tracker.decisions.promises.promise_words import without_sentences
    from tracker.fits.kept_promises import logged_with_promises

    report, promised = logged_with_promises(
        store, lambda: load_changes(store, file, replace=replace)
    )
    if as_json:
        without = [
            {"player": c.player, "name": c.name, "start": c.start.isoformat(), "why": why}
            for c, why in promised.without
        ]
        kept = {"promised": len(promised.kept), "not_promised": without}
        print_json({**_load_json(report), **kept})
        return
    _print_stored(report, "changes")
    if promised.kept:
        out.print(
            f"Of {len(promised.kept)} of them it is kept what is promised: see "
            "drive-progress promises."
        )
    for sentence in without_sentences(promised.without):
        out.print(sentence)


def _load_duplicates(store: Store, file: Path, as_json: bool) -> None:
    """Keep shots read twice and say how well each method reads."""
    from tracker.fits.method_check import (
        DUPLICATES_SETTING,
        from_json,
        read_duplicates,
        reading_sds,
    )
    from tracker.fits.method_check import as_json as duplicates_json

    pairs = read_duplicates(file)
    kept = from_json(store.setting(DUPLICATES_SETTING, []))
    new = [pair for pair in pairs if pair not in kept]
    store.set_setting(DUPLICATES_SETTING, duplicates_json([*kept, *new]))
    found = reading_sds([*kept, *new])
    if as_json:
        rows = {"rows": len(pairs), "stored": len(new), "already_stored": len(pairs) - len(new)}
        sds = [fields_json(r, "method trait sd pairs") for r in found]
        print_json({**rows, "rejected": [], "reading_sd": sds})
        return
    out.print(f"{len(pairs)} rows read: {len(new)} stored, {len(pairs) - len(new)} stored already.")
    table = plain_table("method", "trait", "SD of one reading (90 %)", "shots read twice", "")
    for r in found:
        read = brief_text(r.sd, trait_display(r.trait, "yards"))
        table.add_row(r.method, TRAITS[r.trait].label, read, str(r.pairs), r.advice)
    out.print(table)
    out.print("The next fit uses these in place of the defaults: run drive-progress fit.")


def _load_json(report: LoadReport) -> Mapping[str, Any]:
    return {
        **fields_json(report, "rows stored already_stored replaced"),
        "rejected": [fields_json(p, "line column found wanted") for p in report.rejected],
        "stuck": [s.as_json() for s in report.stuck],
        "look_alike": [[a.name, a.other] for a in report.look_alike],
    }


def undo(db: DbOption = None, as_json: JsonOption = False) -> None:
    """Take back the last load: its shots, and players and sessions it alone brought."""
    with refusals(), open_store(db) as store:
        last = store.undo_last_load()
        if last is None:
            raise Refusal("nothing has been loaded that could be taken back")
        if as_json:
            print_json({"source": last.source, "removed": last.stored})
            return
        out.print(f"Took back {last.source}: {last.stored} shots removed.")
