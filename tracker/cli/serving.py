"""The commands that serve the page: demo, page."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from tracker.cli.common import DbOption, UnitsOption, err, refusals, system_named, warn_of_problems
from tracker.cli.stored import database_url
from tracker.errors import BadRequest
from tracker.store.engine import DB_VARIABLE, shown_url, user_database
from tracker.store.store import Store

APP_FILE = Path(__file__).resolve().parents[2] / "app.py"
DEFAULT_PORT = 8501
LOOK_SECONDS = 0.2
"""How often it is looked whether the server still runs."""
GRACE_SECONDS = 10
"""How long the server is given to end by itself when it is stopped."""


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
        from tracker.cli.answers import print_coach_table
        from tracker.cli.fit import run_fit
        from tracker.decisions.distance.gain import squad_gains
        from tracker.store.loading import load_changes, load_shots

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


def page(
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = DEFAULT_PORT,
    db: DbOption = None,
) -> None:
    """Serve the page on this machine only."""
    with refusals():
        serve(database_url(db), port)


def serve(url: str, port: int) -> None:
    """Run the page on 127.0.0.1 until it is stopped; it says its address once it answers.

    Whatever ends this process by a signal ends the page's server too. Raises ``typer.Exit`` with
    code 1 where the server ends by itself, having said why.
    """
    if not APP_FILE.exists():
        raise BadRequest(f"the page {APP_FILE} is missing; install drive-progress again")
    command = (sys.executable, "-m", "tracker.pages.serve", "--server.port", str(port))
    environment = {**os.environ, DB_VARIABLE: url}
    with _ending_signals() as stopped:
        server = subprocess.Popen(  # noqa: S603  (our own interpreter and page)
            command, cwd=APP_FILE.parent, env=environment
        )
        try:
            while server.poll() is None and not stopped.is_set():
                stopped.wait(LOOK_SECONDS)
        finally:
            _end(server)
    if not stopped.is_set():
        raise typer.Exit(1)
    err.print("Stopped.")


@contextmanager
def _ending_signals() -> Iterator[threading.Event]:
    """Yield an event that is set by what usually ends a process, which goes on meanwhile."""
    stopped = threading.Event()
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    signals = [getattr(signal, name) for name in names if hasattr(signal, name)]
    before = {number: signal.signal(number, lambda *_: stopped.set()) for number in signals}
    try:
        yield stopped
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _end(server: subprocess.Popen[bytes]) -> None:
    """End the server: by asking, and after a while without asking."""
    if server.poll() is None:
        server.terminate()
    try:
        server.wait(GRACE_SECONDS)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
