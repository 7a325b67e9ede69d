"""The folders as floors of a house: each imports only what stands below it."""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("models", "tracker")

FLOORS = (
    "models.compiled_code",
    "models",
    "models.traits",
    "models.arrays",
    "models.sampling",
    "models.drive",
    "models.tendency",
    "models.calibration",
    "tracker.errors",
    "tracker.records",
    "tracker.plain",
    "tracker.interval",
    "tracker.as_json",
    "tracker.promise",
    "tracker.units",
    "tracker.words",
    "tracker.readings",
    "tracker.player_trait",
    "tracker.fit_info",
    "tracker.posterior",
    "tracker.files",
    "tracker.store",
    "tracker.store.migrations",
    "tracker.store.migrations.versions",
    "tracker.decisions.distance",
    "tracker.decisions.promises",
    "tracker.decisions.verdict",
    "tracker.decisions.season",
    "tracker.decisions.board",
    "tracker.decisions.checks",
    "tracker.decisions",
    "tracker.fits",
    "tracker.lesson",
    "tracker.holdings",
    "tracker.charts",
    "tracker.report",
    "tracker.pages.shared",
    "tracker.pages",
    "tracker.cli",
    "app",
)
"""Every folder, and every module at the root of a package, from the ground up."""

PURE = ("tracker.files", "tracker.decisions", "tracker.charts", "tracker.report")
"""Folders that read no database: what they need is handed to them."""

SHARED_WORDS = {"records", "errors", "interval", "units", "words", "posterior"}
"""What every room speaks in; few others stand beside them at the root."""

Arrows = dict[str, set[str]]


def modules(root: Path) -> dict[str, Path]:
    """Return every module by its dotted name."""
    found = {"app": root / "app.py"}
    for package in PACKAGES:
        for path in (root / package).rglob("*.py"):
            parts = path.relative_to(root).with_suffix("").parts
            found[".".join(part for part in parts if part != "__init__")] = path
    return found


def imported(path: Path, known: dict[str, Path]) -> set[str]:
    """Return which of our modules a file imports, inside functions and for types too."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            below = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= below & known.keys() or {str(node.module)}
    return found & known.keys()


def folder_of(name: str, path: Path) -> str:
    """Return the folder of a module; one at the root of a package counts as itself."""
    folder = path.parent.relative_to(ROOT).parts
    return ".".join(folder) if len(folder) > 1 else name


def arrows_between_modules() -> Arrows:
    known = modules(ROOT)
    return {name: imported(path, known) - {name} for name, path in known.items()}


def arrows_between_folders() -> Arrows:
    known = modules(ROOT)
    found: Arrows = {folder_of(name, path): set() for name, path in known.items()}
    for name, used in arrows_between_modules().items():
        here = folder_of(name, known[name])
        found[here] |= {folder_of(other, known[other]) for other in used} - {here}
    return found


def circle(arrows: Arrows) -> list[str]:
    """Return the members of a circle of arrows, in order; empty when there is none."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def upward(arrows: Arrows, floors: tuple[str, ...]) -> list[str]:
    """Return the arrows that do not point to a floor below."""
    height = {name: i for i, name in enumerate(floors)}
    return [f"{a} -> {b}" for a, used in arrows.items() for b in used if height[b] >= height[a]]


def test_every_folder_has_its_floor():
    empty = {"tracker"}  # a docstring alone
    assert arrows_between_folders().keys() - empty == set(FLOORS)


def test_few_words_stand_at_the_root():
    """A module that one room alone uses stands in that room."""
    root = {path.stem for path in (ROOT / "tracker").glob("*.py")} - {"__init__"}
    assert len(root - SHARED_WORDS) <= 5
    assert root >= SHARED_WORDS


def test_no_arrow_between_folders_points_upward():
    assert upward(arrows_between_folders(), FLOORS) == []


@pytest.mark.parametrize("arrows", [arrows_between_folders, arrows_between_modules])
def test_nothing_imports_itself_by_a_circle(arrows):
    assert circle(arrows()) == []


@pytest.mark.parametrize("pure", PURE)
def test_what_decides_and_draws_reads_no_database(pure):
    for folder, used in arrows_between_folders().items():
        if folder.startswith(pure):
            assert not {other for other in used if other.startswith("tracker.store")}, folder


def test_the_check_sees_a_circle_and_an_arrow_upward():
    arrows = {"a": {"b"}, "b": {"c"}, "c": {"a"}}
    assert set(circle(arrows)) == {"a", "b", "c"}
    assert upward(arrows, ("c", "b", "a")) == ["c -> a"]
    assert circle({"a": {"b"}, "b": set()}) == []
