"""Commands about one player's data: what they say, ask and print."""

import json

import pytest
from typer.testing import CliRunner

from tests.tracker.holdings.test_players import fill, shot
from tracker.cli.main import app
from tracker.store.store import Store

PLAYER = "[/bold] Bob"


@pytest.fixture
def store(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{tmp_path / 'shots.db'}")
    with Store.open() as opened:
        fill(opened, PLAYER)
        yield opened


def run(*words, answer=None, code=0):
    result = CliRunner().invoke(app, [str(w) for w in words], input=answer)
    assert result.exit_code == code, (result.output, result.exception)
    return result


def test_export_counts_what_it_wrote_and_does_not_write_over_it(store, tmp_path):
    done = json.loads(run("export", PLAYER, "--out", tmp_path / "o.zip", "--json").stdout)
    assert done["rows"] == {"player": 1, "practice_session": 4, "shot": 8, "logged_change": 1}
    assert (done["fits"], done["photos"]) == ([1], 1)
    again = run("export", PLAYER, "--out", tmp_path / "o.zip", code=1)
    assert "nothing was written" in again.stderr
    said = run("export", PLAYER, "--out", tmp_path / "o.zip", "--force").stdout
    assert f"Everything held of {PLAYER} is in" in said


@pytest.mark.parametrize("answer", ["n\n", None])
def test_erase_says_what_goes_and_does_nothing_without_a_yes(store, answer):
    done = run("erase", PLAYER, answer=answer, code=1)
    for line in ("8 shots", "1 logged changes", "1 kept photographs", "fit again afterwards"):
        assert line in done.stderr
    assert "Backups, exports and cards made before still hold the name" in done.stderr
    assert done.stderr.index("8 shots") < done.stderr.index(f"Erase {PLAYER}?")
    assert "nothing was erased" in done.stderr
    assert len(store.players()) == 2


def test_erase_with_a_yes_erases(store):
    done = run("erase", PLAYER, answer="y\n")
    assert f"{PLAYER} is erased." in done.stdout
    assert [p.name for p in store.players()] == ["Carl"]
    assert "is not stored" in run("erase", PLAYER, "--yes", code=1).stderr


def test_erase_in_json_is_one_object(store):
    done = json.loads(run("erase", PLAYER, "--yes", "--json").stdout)
    assert done["rows"]["shot"] == 8
    assert (done["fits"], done["photos"], done["texts_left"]) == ([1], 1, [])


def test_rename_names_the_fits_that_stay(store):
    done = json.loads(run("rename", PLAYER, "Bob", "--json").stdout)
    assert (done["rows"], done["fits"], done["fits_dropped"]) == ({"player": 1}, [2], [])
    assert "Stored fits that stay usable: 2 (now 3)." in run("rename", "Bob", PLAYER).stdout
    assert json.loads(run("show", PLAYER, "--json").stdout)["player"] == PLAYER


def test_merge_says_what_moved_and_which_fits_went(store):
    store.add_shots([shot("[/bold] BOB", 5)])
    done = run("merge", "[/bold] BOB", PLAYER)
    assert "1 shots, 0 changes and 0 photographs moved" in done.stdout
    store.add_shots([shot("Rob", 5, up=1.0)])
    assert "--append" in run("merge", "Rob", PLAYER, code=1).stderr
    done = json.loads(run("merge", "Rob", PLAYER, "--append", "--json").stdout)
    assert (done["rows"], done["appended"]) == ({"shot": 1}, 1)
    assert "fits_dropped" in done


def test_load_points_out_names_that_look_alike(store, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("player,session,strike_up_mm\nCARL,2026-03-01,1\n")
    done = run("load", log, "--json")
    assert json.loads(done.stdout)["look_alike"] == [["CARL", "Carl"]]
    assert "CARL and Carl look alike but are two players" in done.stderr
    assert "drive-progress merge CARL Carl" in done.stderr
