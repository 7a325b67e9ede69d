"""The house rules that a reader cannot see at a glance: who may import whom."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tracker.posterior import ARRAYS

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("models", "synthetic_data", "tracker")
OURS = {*PACKAGES, "app"}

MAY_IMPORT = {"models": {"models"}, "synthetic_data": {"synthetic_data"}, "tracker": OURS - {"app"}}
"""Which of our own packages each package may import."""

SAMPLING = {"pymc", "nutpie"}
HEAVY = {*SAMPLING, "pytensor"}
"""What takes seconds to load; graph code of a likelihood may sit anywhere in models."""

MAY_SAMPLE = {
    "pymc": {"models/tendency/model.py"},
    "nutpie": {"models/sampling/sampler.py"},
}
"""Where models are stated in full, and where they are sampled."""
DATABASE = {"sqlalchemy", "alembic"}
MAY_READ_ADDRESSES = ("tracker/store/",)


def sources(package: str) -> Iterator[Path]:
    return (ROOT / package).rglob("*.py")


def imported_roots(path: Path) -> set[str]:
    """Return the top-level names a file imports, inside functions too."""
    roots = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            roots |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            roots.add((node.module or "").partition(".")[0])
    return roots


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_imports_only_what_lies_below_it(package):
    for path in sources(package):
        upward = imported_roots(path) & (OURS - MAY_IMPORT[package])
        assert not upward, f"{name_of(path)} imports {sorted(upward)}"


@pytest.mark.parametrize("package", PACKAGES)
def test_streamlit_stays_in_the_pages(package):
    for path in sources(package):
        if not name_of(path).startswith("tracker/pages/"):
            assert "streamlit" not in imported_roots(path), name_of(path)


@pytest.mark.parametrize("package", PACKAGES)
def test_sampling_libraries_stay_where_fits_are_made(package):
    for path in sources(package):
        allowed = {library for library, homes in MAY_SAMPLE.items() if name_of(path) in homes}
        found = imported_roots(path) & (SAMPLING - allowed)
        assert not found, f"{name_of(path)} imports {sorted(found)}"


@pytest.mark.parametrize("package", PACKAGES)
def test_only_the_store_speaks_to_the_database(package):
    for path in sources(package):
        ours = name_of(path)
        if not ours.startswith(MAY_READ_ADDRESSES):
            found = imported_roots(path) & DATABASE
            assert not found, f"{ours} imports {sorted(found)}"


def test_the_check_of_imports_sees_imports_inside_functions(tmp_path):
    file = tmp_path / "a.py"
    file.write_text("import os.path as p\ndef f():\n    from pymc.math import exp\n")
    assert imported_roots(file) == {"os", "pymc"}


KNOW_THE_AXES = {"tracker/posterior.py", "tracker/fits/codec.py", "tracker/fits/assembly.py"}
"""Who may look inside a fit; everybody else asks it by name."""
INSIDE = {*ARRAYS, "methods", "physics", "ball_check", "player_index", "trait_index"}
"""What of a fit is counted by position."""


def looks_inside_a_fit(source: str) -> list[str]:
    """Return the lines that read an array of a fit: of anything named ``fit``, or made by a
    function so named, or given as a parameter of type ``Fit``."""
    tree, found = ast.parse(source), []
    fits = {
        arg.arg
        for arg in ast.walk(tree)
        if isinstance(arg, ast.arg) and arg.annotation and ast.unparse(arg.annotation) == "Fit"
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in INSIDE:
            owner = node.value.func if isinstance(node.value, ast.Call) else node.value
            name = ast.unparse(owner).rpartition(".")[2]
            if name in fits or name.endswith("fit"):
                found.append(f"line {node.lineno}: {ast.unparse(node)}")
    return found


def test_only_the_door_knows_the_axes_of_a_fit():
    for path in sources("tracker"):
        if name_of(path) not in KNOW_THE_AXES:
            inside = looks_inside_a_fit(path.read_text(encoding="utf-8"))
            assert not inside, f"{name_of(path)} looks inside a fit: {inside}"


@pytest.mark.parametrize(
    "source",
    [
        "x = fit.level[:, 0, 1, 2]",
        "x = here.fit.counts[..., k]",
        "x = latest_fit(store).shot_sd[:, p, k]",
        "x = self._fit().session_sd[:, k]",
        "def f(drawn: Fit):\n    return drawn.mu[:, 0]",
        "x = [part[..., 0] for part in (fit.mu, fit.spread)]",
        "x = fit.trait_index(trait)",
    ],
)
def test_the_check_of_fits_sees_who_looks_inside(source):
    assert looks_inside_a_fit(source)


def test_the_check_of_fits_lets_names_pass():
    assert not looks_inside_a_fit("x = fit.of(p, t).level[:, -1] + cloud.level[0] + fit.samples")


def light_modules() -> list[str]:
    """Return what a page or a quick command loads: pages, decisions, charts and the store."""
    found = ["tracker.store.store", "tracker.store.loading"]
    for folder in ("pages", "decisions", "charts"):
        for path in sorted((ROOT / "tracker" / folder).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            found.append(".".join(p for p in parts if p != "__init__"))
    return found


def run_fresh(code: str, database: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "DRIVE_PROGRESS_DB": f"sqlite:///{database}"}
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_no_page_loads_the_sampler(tmp_path):
    code = (
        "import importlib, sys\n"
        f"for name in {light_modules()!r}:\n"
        "    importlib.import_module(name)\n"
        f"    heavy = set(sys.modules) & {HEAVY!r}\n"
        "    assert not heavy, f'{name} loads {sorted(heavy)}'\n"
        "print('light')"
    )
    done = run_fresh(code, tmp_path / "shots.db")
    assert done.stdout.endswith("light\n"), done.stderr


def test_the_app_does_not_load_the_sampler(tmp_path):
    code = (
        "import sys\n"
        "from streamlit.testing.v1 import AppTest\n"
        f"page = AppTest.from_file({str(ROOT / 'app.py')!r}, default_timeout=3000).run()\n"
        "assert not page.exception, page.exception\n"
        f"print(sorted(set(sys.modules) & {HEAVY!r}))"
    )
    done = run_fresh(code, tmp_path / "shots.db")
    assert done.stdout.splitlines()[-1:] == ["[]"], done.stderr


def test_no_property_has_a_deadline_by_the_clock():
    assert settings().deadline is None
    for path in (ROOT / "tests").rglob("test_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                assert "deadline" not in {word.arg for word in node.keywords}, name_of(path)


def test_no_two_classes_have_one_name():
    homes: dict[str, list[str]] = {}
    for path in (path for package in PACKAGES for path in sources(package)):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(name_of(path))
    assert not {name: found for name, found in homes.items() if len(found) > 1}
