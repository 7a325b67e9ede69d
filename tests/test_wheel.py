"""What is installed from the wheel answers by itself, far from the checkout it was built from."""

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pandas as pd
import pytest

ROOT = Path(__file__).resolve().parent.parent
NEEDED = (
    ".streamlit/config.toml",
    "app.py",
    "models/drive/drive_prior.json",
    "synthetic_data/demo/",
    "tracker/decisions/checks/evidence.json",
    "tracker/decisions/checks/levers.json",
    "tracker/decisions/checks/published.json",
    "tracker/pages/shared/picker/",
    "tracker/store/migrations/env.py",
    "tracker/store/migrations/versions/",
)
"""What is asked for while running: files, and folders of which every file is meant."""


def uv() -> str:
    own = ROOT / ".tools" / "bin" / "uv"
    found = shutil.which("uv") or (str(own) if own.exists() else None)
    if found is None:
        pytest.skip("the tool uv is neither on the path nor in .tools: run make setup")
    return found


def run(*words: str | Path, cwd: Path) -> str:
    """Run a command as somebody would who has never seen the checkout."""
    ours = ("PYTHON", "VIRTUAL_ENV", "UV_PROJECT", "DRIVE_PROGRESS", "COVERAGE", "PYTEST")
    outside = {name: v for name, v in os.environ.items() if not name.startswith(ours)}
    done = subprocess.run(
        words, cwd=cwd, env={**outside, "COLUMNS": "160"}, capture_output=True, text=True
    )
    assert done.returncode == 0, f"{words}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("built")
    python = ("--python", sys.executable)  # the one at hand, not the newest to be had
    run(uv(), "build", "--quiet", *python, "--out-dir", folder, ROOT, cwd=folder)
    (found,) = folder.glob("*.whl")
    return found


@pytest.mark.slow
def test_the_wheel_holds_every_file_that_is_asked_for_while_running(wheel):
    held = set(zipfile.ZipFile(wheel).namelist())
    for name in NEEDED:
        there = (ROOT / name).rglob("*") if name.endswith("/") else [ROOT / name]
        files = (path for path in there if path.is_file() and path.suffix != ".pyc")
        wanted = {path.relative_to(ROOT).as_posix() for path in files}
        assert wanted, f"{name} is not in the checkout any more"
        assert wanted <= held, sorted(wanted - held)
    assert not {name for name in held if name.startswith("tests/")}


@pytest.mark.slow
def test_the_demonstration_runs_from_the_wheel_in_an_environment_of_its_own(wheel, tmp_path):
    tool, place, pins = uv(), tmp_path / "environment", tmp_path / "pins.txt"
    run(tool, "venv", "--quiet", "--python", sys.executable, place, cwd=tmp_path)
    # the versions of the lock file: the cache has them, and a new release breaks no test here
    only = ("--no-dev", "--no-emit-project", "--no-hashes")
    run(tool, "export", "--quiet", "--frozen", *only, "--project", ROOT, "-o", pins, cwd=tmp_path)
    python = place / "bin" / "python"
    run(tool, "pip", "install", "--quiet", "--python", python, "-c", pins, wheel, cwd=tmp_path)
    home = run(python, "-c", "import tracker; print(tracker.__file__)", cwd=tmp_path)
    assert Path(home.strip()).is_relative_to(place)

    database = tmp_path / "demo.db"
    command = place / "bin" / "drive-progress"
    said = run(command, "demo", "--no-page", "--db", f"sqlite:///{database}", cwd=tmp_path)
    assert database.exists()
    for heading in ("player", "first lever", "gain (90 %)", "P(best)"):
        assert heading in said
    log = pd.read_csv(ROOT / "synthetic_data" / "demo" / "shots.csv")
    rows = {words[0] for line in said.splitlines() if (words := line.split())}
    assert set(log["player"]) <= rows
