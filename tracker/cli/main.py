"""The command line: the same functions as the page, from a shell."""

import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from models.traits import TRAITS
from tracker.cli.answers import gains, print_coach_table, show, squad
from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    Refusal,
    UnitsOption,
    cell,
    database_url,
    err,
    name_stuck,
    open_store,
    out,
    plain_table,
    print_json,
    progress_bar,
    refusals,
    system_named,
    warn_of_problems,
)
from tracker.cli.explain import explain
from tracker.cli.physics import drive_command, flight_command
from tracker.cli.retest import retest
from tracker.cli.verdict import verdict
from tracker.decisions.checks.predictive import consequences
from tracker.decisions.distance.gain import squad_gains
from tracker.errors import BadRequest, FileRefused, RowProblem
from tracker.fits.kept_fits import kept_checks
from tracker.fits.method_check import DUPLICATES_SETTING, from_json, read_duplicates, reading_sds
from tracker.fits.method_check import as_json as duplicates_json
from tracker.posterior import part_label
from tracker.records import DEFAULT_CLUB
from tracker.store.engine import DB_VARIABLE, shown_url, user_database
from tracker.store.loading import LoadReport, load_changes, load_shots
from tracker.store.store import Store
from tracker.stuck_device import stuck_readings
from tracker.units import trait_display

if TYPE_CHECKING:
    from tracker.fits.fitting import KeptFit

APP_FILE = Path(__file__).resolve().parents[2] / "app.py"
DEFAULT_PORT = 8501

app = typer.Typer(
    help="Keeps every driver shot, finds each player's true tendencies, and says what to "
    "do first for the most distance.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.command()(show)
app.command()(gains)
app.command()(verdict)
app.command()(squad)
app.command()(retest)
app.command()(explain)
app.command("drive")(drive_command)
app.command("flight")(flight_command)


@app.command()
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
                report = load_changes(store, file, replace=replace)
            else:
                report = load_shots(store, file, skip_bad=skip_bad, on_conflict=conflict)
        except FileRefused as refused:
            if as_json:
                print_json(_load_json(LoadReport(refused.rows, 0, 0, 0, refused.problems)))
            raise
        name_stuck(report.stuck)
        if as_json:
            print_json(_load_json(report))
            return
        what = "changes" if changes else "shots"
        out.print(
            f"{report.rows} rows read: {report.stored} {what} stored, "
            f"{report.already_stored} stored already, {report.replaced} replaced."
        )
        if report.rejected:
            err.print(f"{len(report.rejected)} problems; bad rows are in {report.rejected_path}:")
            for problem in report.rejected[:20]:
                err.print(f"  {problem}", markup=False)


def _load_duplicates(store: Store, file: Path, as_json: bool) -> None:
    """Keep shots read twice and say how well each method reads."""
    pairs = read_duplicates(file)
    kept = from_json(store.setting(DUPLICATES_SETTING, []))
    new = [pair for pair in pairs if pair not in kept]
    store.set_setting(DUPLICATES_SETTING, duplicates_json([*kept, *new]))
    found = reading_sds([*kept, *new])
    if as_json:
        rows = {"rows": len(pairs), "stored": len(new), "already_stored": len(pairs) - len(new)}
        sds = [
            {"method": r.method, "trait": r.trait, "sd": r.sd.as_json(), "pairs": r.pairs}
            for r in found
        ]
        print_json({**rows, "rejected": [], "reading_sd": sds})
        return
    out.print(f"{len(pairs)} rows read: {len(new)} stored, {len(pairs) - len(new)} stored already.")
    table = plain_table("method", "trait", "SD of one reading (90 %)", "shots read twice", "")
    for r in found:
        how = trait_display(r.trait, "yards")
        table.add_row(r.method, TRAITS[r.trait].label, cell(r.sd, how), str(r.pairs), r.advice)
    out.print(table)
    out.print("The next fit uses these in place of the defaults: run drive-progress fit.")


def _load_json(report: LoadReport) -> Mapping[str, Any]:
    def row(problem: RowProblem) -> Mapping[str, Any]:
        return {
            "line": problem.line,
            "column": problem.column,
            "found": problem.found,
            "wanted": problem.wanted,
        }

    return {
        "rows": report.rows,
        "stored": report.stored,
        "already_stored": report.already_stored,
        "replaced": report.replaced,
        "rejected": [row(p) for p in report.rejected],
        "stuck": [s.as_json() for s in report.stuck],
    }


@app.command()
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


@app.command()
def fit(
    seed: Annotated[int, typer.Option("--seed", help="Same data and seed, same draws.")] = 1,
    draws: Annotated[
        int | None,
        typer.Option("--draws", min=50, help="Draws a chain; as a rule the default is enough."),
    ] = None,
    chains: Annotated[int, typer.Option("--chains", min=2, help="Independent chains.")] = 4,
    reference: Annotated[
        list[str] | None,
        typer.Option(
            "--reference",
            metavar="METHOD",
            help="Reading method taken as unbiased; repeatable, remembered.",
        ),
    ] = None,
    club: ClubOption = DEFAULT_CLUB,
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Estimate every player's tendencies from all stored shots with a club."""
    with refusals(), open_store(db) as store:
        stuck = stuck_readings(store.shots_frame(club=club))
        name_stuck(stuck)
        kept = run_fit(
            store, seed=seed, draws=draws, chains=chains, references=reference, club=club
        )
        info, checks = kept.fit.info, kept_checks(store, kept.fit_id)
        report = info.report
        odd = consequences(c for c in checks if c.wants_care)
        if as_json:
            print_json(
                {
                    "fit_id": kept.fit_id,
                    "players": len(kept.fit.players),
                    "sessions": kept.sessions,
                    "shots": kept.shots,
                    "seconds": kept.fit.info.seconds,
                    "club": club,
                    "report": report.as_json(),
                    "reports": {part: r.as_json() for part, r in info.reports.items()},
                    "checks": [asdict(c) for c in checks],
                    "stuck": [s.as_json() for s in stuck],
                }
            )
            return
        warn_of_problems(kept.fit.problems)
        out.print(
            f"Fit {kept.fit_id}: {len(kept.fit.players)} players, {kept.sessions} sessions, "
            f"{kept.shots} shots in {kept.fit.info.seconds:.0f} s. "
            f"Divergent draws {report.divergences}, largest R-hat {report.max_rhat:.3f}, "
            f"fewest effective draws {report.min_ess:.0f}."
        )
        for part, one in info.reports.items():
            if one.attempts > 1:
                out.print(f"{part_label(part)} was {attempts_words(one.attempts)}.")
        for line in odd:
            out.print(f"Unlike the model's own sessions: {line}.")


def attempts_words(attempts: int) -> str:
    """Return how often a part of a fit was sampled, in words."""
    often = {2: "twice", 3: "three times"}.get(attempts, f"{attempts} times")
    return f"sampled {often}, with smaller steps"


def run_fit(
    store: Store,
    *,
    seed: int = 1,
    draws: int | None = None,
    chains: int = 4,
    references: list[str] | None = None,
    club: str = DEFAULT_CLUB,
) -> "KeptFit":
    """Fit what is stored with a progress bar on standard error."""
    with progress_bar() as say:
        say("loading the sampler", 0, 0)
        from models.sampling.sampler import Effort
        from tracker.fits.fitting import fit_and_keep

        effort = Effort(chains=chains) if draws is None else Effort(draws=draws, chains=chains)
        return fit_and_keep(
            store,
            seed=seed,
            effort=effort,
            references=references,
            club=club,
            progress=say,
        )


@app.command()
def demo(
    no_page: Annotated[bool, typer.Option("--no-page", help="Stop after the table.")] = False,
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = DEFAULT_PORT,
    units: UnitsOption = "yards",
    db: DbOption = None,
) -> None:
    """Load the invented academy into its own database, fit it, show the coach's table."""
    system = system_named(units)
    url = database_url(db) if db else user_database("demo.db")
    with refusals():
        from synthetic_data import demo_paths

        files = demo_paths()
        with Store.open(url) as store:
            err.print(f"Invented academy, kept apart in {shown_url(url)}")
            shots = load_shots(store, files.shots)
            load_changes(store, files.changes)
            err.print(f"{shots.stored} shots stored, {shots.already_stored} stored already.")
            kept = run_fit(store, references=["photo", "radar"])
            warn_of_problems(kept.fit.problems)
            print_coach_table(squad_gains(kept.fit, system=system), system)
    if not no_page:
        serve(url, port)


@app.command()
def page(
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = DEFAULT_PORT,
    db: DbOption = None,
) -> None:
    """Serve the page on this machine only."""
    with refusals():
        serve(database_url(db), port)


def serve(url: str, port: int) -> None:
    """Run the page on 127.0.0.1 until it is stopped."""
    if not APP_FILE.exists():
        raise BadRequest(f"the page {APP_FILE} is missing; install drive-progress again")
    err.print(f"The page: http://127.0.0.1:{port} (stop with Ctrl+C)")
    command = (sys.executable, "-m", "tracker.pages.serve")
    options = ("--server.address", "127.0.0.1", "--server.port", str(port))
    quiet = ("--server.headless", "true", "--browser.gatherUsageStats", "false")
    try:
        subprocess.run(  # noqa: S603  (our own interpreter and page)
            (*command, *options, *quiet),
            cwd=APP_FILE.parent,
            env={**os.environ, DB_VARIABLE: url},
            check=False,
        )
    except KeyboardInterrupt:
        err.print("Stopped.")


def main() -> None:
    """Run the command line."""
    app()
