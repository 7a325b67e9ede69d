"""The contributor's guide tells the truth: rooms, modules, commands and dependencies exist."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def rooms() -> dict[str, set[str]]:
    """Return the modules that the table of rooms names, by folder."""
    found = {}
    for line in GUIDE.splitlines():
        cells = [c.strip() for c in line.strip("|").split("|")]
        place = re.fullmatch(r"`((?:models|tracker|synthetic_data)[a-z_/]*/)`", cells[0])
        if place and len(cells) == 3:
            found[place[1]] = set(re.findall(r"`([a-z_]+)`", cells[1]))
    return found


def folders() -> dict[str, set[str]]:
    """Return the modules that there are, by folder."""
    found: dict[str, set[str]] = {}
    for package in ("models", "tracker", "synthetic_data"):
        for path in (ROOT / package).rglob("*.py"):
            folder = path.parent.relative_to(ROOT).as_posix() + "/"
            if "migrations" not in folder and not path.name.startswith("__"):
                found.setdefault(folder, set()).add(path.stem)
    return found


def test_every_room_is_in_the_guide_and_every_room_of_the_guide_exists():
    assert set(rooms()) == set(folders())


@pytest.mark.parametrize("folder", sorted(folders()))
def test_a_room_holds_the_modules_that_the_guide_names(folder):
    assert rooms().get(folder) == folders()[folder]


def test_files_that_the_guide_names_exist():
    named = set(re.findall(r"`((?:models|tracker|tests|synthetic_data)/[\w/]+\.\w+)`", GUIDE))
    invented = {"tracker/pages/x.py", "tracker/pages/x_view.py"}
    assert named > invented
    assert {path for path in named - invented if not (ROOT / path).is_file()} == set()


def test_make_targets_of_the_guide_exist():
    made = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    named = set(re.findall(r"`make ([a-z-]+)", GUIDE))
    assert named
    assert named <= made


def test_every_dependency_has_its_reason():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = [*project["project"]["dependencies"], *project["dependency-groups"]["dev"]]
    names = {re.split(r"[\[><=]", d)[0] for d in wanted}
    table = GUIDE[GUIDE.index("## Why each dependency") :]
    missing = {n for n in names if n not in table and not n.endswith("-stubs")}
    assert not missing
