"""What a command loads before it answers: nobody waits for what is not used."""

import inspect
import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from tests.fits import make_fit
from tracker.cli.main import HOMES
from tracker.fits.kept_fits import keep_fit
from tracker.store.store import Store

ROOT = Path(__file__).parents[3]
LOG = "player,session,strike_up_mm\nAnn,2026-03-01,-4.0\nAnn,2026-03-01,-6.5\n"
SWING = ("--club-speed-mps", "45", "--attack-deg", "0", "--loft-deg", "12")
BALL = ("--ball-speed-mps", "70", "--launch-deg", "12", "--spin-rpm", "2600")

WATCHED = {
    "alembic", "altair", "arviz", "numba", "numpy", "nutpie", "pandas", "pymc", "pytensor",
    "rich.progress", "scipy.optimize", "scipy.special", "scipy.stats", "sqlalchemy", "streamlit",
    "typst", "vl_convert", "xarray",
}  # fmt: skip
"""Packages that take a tenth of a second or more to load."""

STORED = {"alembic", "numpy", "pandas", "sqlalchemy"}
"""What reading the database takes; alembic for a file that is new."""

MAY_LOAD = [
    (("--help",), set()),
    (("drive", "--help"), {"numpy"}),
    (("flight", "--help"), {"numpy"}),
    (("drive", *SWING), {"numpy", "numba"}),
    (("flight", *BALL), {"numpy", "numba"}),
    (("load", "log.csv"), STORED),
    (("undo",), STORED),
    (("rename", "Ann", "Pia"), STORED | {"numba", "scipy.special"}),
    (("check",), STORED | {"numba", "scipy.special"}),
    (("gains", "Ann"), STORED | {"numba", "scipy.optimize", "scipy.special"}),
    (("page", "--help"), STORED),
]


def loaded_by(words, folder):
    """Run a command in a fresh interpreter; return which of the watched packages it loaded."""
    code = (
        "import sys\n"
        f"sys.argv = ['drive-progress', *{list(words)!r}]\n"
        "from tracker.cli.main import main\n"
        "try:\n    main()\n"
        "except SystemExit as end:\n    code = end.code\n"
        f"print('LOADED', code, *sorted({WATCHED!r} & set(sys.modules)))\n"
    )
    database = f"sqlite:///{folder / 'shots.db'}"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        env={**os.environ, "DRIVE_PROGRESS_DB": database, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    word, status, *found = done.stdout.splitlines()[-1].split()
    assert (word, status) == ("LOADED", "0"), done.stderr
    return set(found)


@pytest.fixture
def academy(tmp_path):
    """A folder with a log, and a database with that log and a fit in it."""
    (tmp_path / "log.csv").write_text(LOG)
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as store:
        from tracker.store.loading import load_shots

        load_shots(store, tmp_path / "log.csv")
        keep_fit(
            store,
            make_fit({"Ann": {"strike_up_mm": -5.0}}),
            store.shots_frame(),
            sessions=1,
            shots=2,
        )
    return tmp_path


@pytest.mark.parametrize(("words", "may"), MAY_LOAD, ids=[" ".join(w[:2]) for w, _ in MAY_LOAD])
def test_a_command_loads_no_more_than_it_needs(words, may, academy):
    extra = loaded_by(words, academy) - may
    assert not extra


def test_the_watch_sees_what_is_loaded(academy):
    assert {"numpy", "numba"} <= loaded_by(("drive", *SWING), academy)


@pytest.mark.parametrize("name", HOMES)
def test_the_list_of_commands_says_what_the_command_does(name):
    home, says = HOMES[name]
    module, _, function = home.partition(":")
    assert inspect.getdoc(getattr(import_module(f"tracker.cli.{module}"), function)) == says
