"""Whatever a name holds, every command that prints it prints it as it was typed."""

import csv
import io
import unicodedata

import pytest
from typer.testing import CliRunner

from tests.fits import day, make_fit
from tests.hostile import CONTROL, HOSTILE
from tracker.cli import common
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.plain import line
from tracker.records import Change, Shot
from tracker.store.store import Store

UP = "strike_up_mm"
WINDOWS = ("--from", day(0).isoformat(), "--to", day(21).isoformat())


@pytest.fixture
def database(tmp_path, monkeypatch):
    path = tmp_path / "shots.db"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{path}")
    for console in (common.out, common.err):
        monkeypatch.setattr(console, "width", 5000)  # a table breaks no name into lines
    return f"sqlite:///{path}"


def run(*words, code=0):
    result = CliRunner().invoke(app, [str(w) for w in words], catch_exceptions=False)
    assert result.exit_code == code, result.output
    shapeless = {c for c in result.output if unicodedata.category(c) in {"Cc", "Cf"}}
    assert shapeless <= set("\n\u200c\u200d")
    return result.output


SPECIAL = ("[/bold] Bob", "Ben [coach]", "back\\slash \\*", "right\u202eto left")
"""Names for the commands that take seconds a player: markup, escapes, characters obeyed."""


def store_fit(database, *names):
    levels = {
        name: {UP: [-9.0, -9.0, -1.0, -1.0 - place / 10], "attack_deg": -3.0}
        for place, name in enumerate(names)
    }
    fit = make_fit(
        levels,
        changes=[Change(name, day(10), "drill", name, UP) for name in names],
        change_effect={place: {UP: 8.0} for place, _ in enumerate(names)},
        drill_effect={name: {UP: 8.0} for name in names},
    )
    with Store.open(database) as store:
        start = fit.session_start[0, 0].item()
        store.add_shots([Shot(name, start, 1, {UP: -9.0}) for name in names])
        keep_fit(store, fit, store.shots_frame(), sessions=8, shots=120)


def test_tables_of_the_squad_show_every_name_as_typed(database):
    store_fit(database, *HOSTILE)
    levels, squad = run("show", "--all"), run("squad")
    for name in HOSTILE:
        assert f"{line(name)}, 2026-01-26. In brackets" in levels
        assert f"{line(name)} (drill)" in squad
        assert any(row.startswith(f"{line(name)} ") for row in squad.splitlines())


@pytest.fixture(scope="module")
def special(tmp_path_factory):
    database = f"sqlite:///{tmp_path_factory.mktemp('special') / 'shots.db'}"
    store_fit(database, *SPECIAL)
    return database


@pytest.mark.parametrize("name", SPECIAL, ids=ascii)
def test_answers_on_one_player_show_the_name_as_typed(database, monkeypatch, special, name):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", special)
    said, other = line(name), next(n for n in SPECIAL if n != name)
    assert said in run("gains", name)
    assert said in run("verdict", name)
    assert said in run("retest", name)
    assert said in run("explain", name, *WINDOWS)
    compared = run("explain", other, *WINDOWS, "--to-player", name)
    assert said in compared
    assert line(other) in compared


def test_answers_on_everybody_show_the_names_as_typed(database, monkeypatch, special):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", special)
    first, judged = run("gains", "--all", "--wide"), run("verdict", "--all")
    for name in SPECIAL:
        assert any(row.startswith(f"{line(name)} ") for row in first.splitlines())
        assert f"{line(name)}: " in judged


@pytest.mark.parametrize("name", SPECIAL, ids=ascii)
def test_a_log_of_hostile_names_is_loaded_refused_and_taken_back(database, tmp_path, name):
    def log(reading):
        text = io.StringIO()
        rows = csv.writer(text)
        rows.writerow(["player", "session", UP, "strike_method"])
        rows.writerow([name, "2026-03-01", reading, name])
        return text.getvalue()

    folder = tmp_path / "[/bold] folder"
    folder.mkdir(parents=True)
    good, bad, twice = folder / "[red]log.csv", folder / "bad.csv", folder / "twice.csv"
    good.write_text(log("-4.0"), encoding="utf-8")
    bad.write_text(log(name), encoding="utf-8")
    with twice.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [["method", "trait", "first", "second"], [name, UP, 3, 7], [name, UP, 1, 1]]
        )
    assert "1 shots stored" in run("load", good)
    assert "1 of 1 row cannot be used" in run("load", bad, code=1)
    assert f"{folder}/bad.csv.rejected.csv" in run("load", "--skip-bad", bad)
    assert line(name).lower() in run("load", "--duplicates", twice).lower()
    assert "Took back [red]log.csv" in run("undo")


@pytest.mark.parametrize("name", [*SPECIAL, *CONTROL[:4]], ids=ascii)
def test_a_name_nobody_has_is_refused_in_plain_words(database, name):
    store_fit(database, "Ann")
    dash = ("--",) if name.startswith("-") else ()
    assert "Ann" in run("show", *dash, name, code=1)
    assert "wanted" in run("show", "Ann", "--units", name, code=2)
    assert "wanted" in run("show", "Ann", "--at", name, code=1)
    assert "wanted" in run("gains", "Ann", "--effort", name, code=1)


@pytest.mark.parametrize("place", ["[/bold] card.html", "a [coach] card.txt"])
def test_a_file_is_named_whole(database, tmp_path, place):
    (tmp_path / place).parent.mkdir(exist_ok=True)
    store_fit(database, "<b>[/bold] Bob</b>")
    said = run("retest", "<b>[/bold] Bob</b>", "--card", tmp_path / place)
    assert f"The practice card is in {tmp_path / place}." in said
    text = (tmp_path / place).read_text(encoding="utf-8")
    bold = "<b>[/bold] Bob</b>" in text
    assert bold == place.endswith(".txt")  # in the page the name is text, not a tag
