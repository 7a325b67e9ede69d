"""Compiled code is kept by the sources it came from, so that an edit anywhere compiles it anew."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from models.compiled_code import KEPT, OURS, VARIABLE, sources_digest, use_digest_folder

ROOT = Path(__file__).resolve().parents[2]

PACKAGE = {
    "__init__.py": (
        "from pathlib import Path\n"
        "from models.compiled_code import use_digest_folder\n"
        "use_digest_folder(Path(__file__).parent, Path({home!r}))\n"
    ),
    "callee.py": "import numba\n\n@numba.njit\ndef value():\n    return 1\n",
    "caller.py": (
        "import numba\nfrom pack.callee import value\n\n"
        "@numba.njit(cache=True)\ndef twice():\n    return 2 * value()\n"
    ),
}


@pytest.fixture
def sources(tmp_path):
    folder = tmp_path / "sources"
    folder.mkdir()
    (folder / "a.py").write_text("A = 1\n")
    return folder


@pytest.fixture(autouse=True)
def unset(monkeypatch):
    monkeypatch.setenv(VARIABLE, "")
    monkeypatch.setenv(OURS, "")


def run(code: str, path: Path) -> str:
    environment = {**os.environ, "PYTHONPATH": f"{path}{os.pathsep}{ROOT}"}
    del environment[VARIABLE], environment[OURS]
    # as if models had not been imported on the way: the package names its own folder
    code = f"import models, os; os.environ.pop({VARIABLE!r}); {code}"
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_an_edit_of_a_file_that_is_called_into_is_seen(tmp_path):
    """What Numba's own key does not see: the caller's file stays as it is."""
    package = tmp_path / "pack"
    package.mkdir()
    for name, text in PACKAGE.items():
        (package / name).write_text(text.format(home=str(tmp_path / "home")))
    code = (
        "from pack.caller import twice; r = twice(); print(r, sum(twice.stats.cache_hits.values()))"
    )
    assert run(code, tmp_path) == "2 0"
    assert run(code, tmp_path) == "2 1"
    callee = package / "callee.py"
    callee.write_text(callee.read_text().replace("return 1", "return 5"))
    assert run(code, tmp_path) == "10 0"
    callee.write_text(callee.read_text().replace("return 5", "return 1"))
    assert run(code, tmp_path) == "2 1"


def test_the_digest_is_of_names_and_contents(sources):
    first = sources_digest(sources)
    (sources / "note.txt").write_text("not a source")
    assert sources_digest(sources) == first
    (sources / "a.py").write_text("A = 2\n")
    second = sources_digest(sources)
    (sources / "a.py").rename(sources / "b.py")
    third = sources_digest(sources)
    (sources / "inside").mkdir()
    (sources / "inside" / "c.py").write_text("")
    assert len({first, second, third, sources_digest(sources)}) == 4


def test_a_folder_that_is_asked_for_is_kept(sources, tmp_path, monkeypatch):
    monkeypatch.setenv(VARIABLE, "mine")
    assert use_digest_folder(sources, tmp_path / "home") is None
    assert os.environ[VARIABLE] == "mine"
    assert not (tmp_path / "home").exists()


def test_a_process_of_ours_with_newer_sources_gets_a_folder_of_its_own(sources, tmp_path):
    """A server that was not restarted after an upgrade hands its environment on."""
    first = use_digest_folder(sources, tmp_path / "home")
    assert use_digest_folder(sources, tmp_path / "home") == first
    (sources / "a.py").write_text("A = 2\n")
    second = use_digest_folder(sources, tmp_path / "home")
    assert second not in (None, first)
    assert os.environ[VARIABLE] == str(second)


def test_where_the_cache_cannot_be_written_a_passing_folder_serves(sources, tmp_path):
    (tmp_path / "home").write_text("a file is in the way")
    folder = use_digest_folder(sources, tmp_path / "home")
    assert folder is not None
    assert folder.is_dir()
    assert tmp_path / "home" not in folder.parents
    assert os.environ[VARIABLE] == str(folder)
    assert use_digest_folder(sources, tmp_path / "home") == folder  # as a process it starts does


def test_folders_long_unused_are_removed_and_other_things_are_not(sources, tmp_path):
    home = tmp_path / "home"
    old = [home / f"{i:024d}" for i in range(KEPT + 3)]
    for age, folder in enumerate(old):
        folder.mkdir(parents=True)
        os.utime(folder, (1e9 - age, 1e9 - age))
    (home / "other").mkdir()
    folder = use_digest_folder(sources, home)
    assert folder is not None
    left = {p.name for p in home.iterdir()}
    assert left == {folder.name, "other", *(f.name for f in old[:KEPT])}


def test_models_names_its_folder_and_loads_nothing_heavy():
    code = (
        "import sys, os, models\n"
        "from models.compiled_code import sources_digest\n"
        "from pathlib import Path\n"
        "print(os.environ['NUMBA_CACHE_DIR'].endswith(sources_digest(Path(models.__file__).parent)),"
        "'numba' in sys.modules, 'numpy' in sys.modules)"
    )
    environment = {k: v for k, v in os.environ.items() if k not in (VARIABLE, OURS)}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.stdout.strip() == "True False False", done.stderr
