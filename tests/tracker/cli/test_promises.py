"""The promises command, from a log and a fit to the change that was promised and found."""

import json
from dataclasses import replace
from datetime import datetime, time

import pytest
from typer.testing import CliRunner

from tests.fits import day, noise, with_info
from tests.tracker.decisions.promises.logbook import UP, N, after, before
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.records import Shot
from tracker.store.store import Store

HEAD = "player,start,kind,name,trait,effort_sessions,note\n"
LADDER = f"Ann,{day(22)},drill,ladder,{UP},2,\n"
LATE = f"Ann,{day(20)},drill,late drill,{UP},1,\n"


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path / 'x.db'}"


@pytest.fixture
def store(url):
    with Store.open(url) as opened:
        starts = [datetime.combine(day(d), time.min) for d in (0, 7, 14, 21, 28, 35)]
        opened.add_shots(
            Shot(name, start, 1, {UP: -9.0, "carry_m": 180.0 + 8.0 * (start > starts[3])})
            for name in ("Ann", "Bo")
            for start in starts
        )
        yield opened


@pytest.fixture
def run(url, tmp_path):
    def call(*words, code=0):
        found = CliRunner().invoke(app, [*words, "--db", url])
        assert found.exit_code == code, found.output
        return found

    return call


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "changes.csv"
    path.write_text(HEAD + LADDER + LATE)
    return str(path)


def keep(store, fit):
    seen = with_info(fit, replace(fit.info, data_digest=store.data_digest()))
    return keep_fit(store, seen, store.shots_frame(), sessions=8, shots=16)


def answer(result):
    assert result.stdout.count("\n") == 1
    return json.loads(result.stdout)


def test_without_a_fit_nothing_is_promised_and_it_says_so(store, run, log):
    said = run("load", log, "--changes").stdout
    assert "2 changes stored" in said
    assert "Nothing is promised of late drill (Ann) and 1 more: no fit is stored yet" in said
    assert "Nothing is promised yet" in run("promises").stdout
    found = answer(run("promises", "--json"))
    assert found["promises"] == []
    assert found["by_drill"] == []
    assert found["coverage"]["of"] == 0
    assert "log the drill or other change" in found["words"]


def test_a_change_logged_after_a_fit_is_promised_once_and_later_found(store, run, log):
    first = keep(store, before())
    loaded = answer(run("load", log, "--changes", "--json"))
    assert loaded["promised"] == 1
    (late,) = loaded["not_promised"]
    assert (late["name"], late["start"]) == ("late drill", str(day(20)))
    assert "has seen Ann after" in late["why"]
    assert answer(run("load", log, "--changes", "--json"))["promised"] == 0

    (waiting,) = answer(run("promises", "--json"))["promises"]
    assert (waiting["player"], waiting["name"], waiting["trait"]) == ("Ann", "ladder", UP)
    assert (waiting["start"], waiting["fit_id"]) == (str(day(22)), first)
    assert waiting["found"] is waiting["inside"] is waiting["found_gain_m"] is None
    assert waiting["promised"]["unit"] == "mm"
    assert waiting["promised_gain_m"]["unit"] == "m"

    keep(store, after(4.5 + 0.3 * noise(N, seed=6)))
    found = answer(run("promises", "Ann", "--json"))
    (row,) = found["promises"]
    assert row["fit_id"] == first
    assert row["promised"] == waiting["promised"]
    assert row["found"]["median"] == pytest.approx(4.5, abs=0.05)
    assert row["inside"] > 0.9
    assert row["status"] == "kept"
    assert row["found_gain_m"]["median"] > 0
    # 8 m farther, and no other club speed was read
    assert row["found_carry_m"]["median"] == pytest.approx(8.0, abs=1.5)
    assert found["coverage"] == {
        "inside": row["inside"], "of": 1,
        "low90": pytest.approx(0.23, abs=0.02), "high90": pytest.approx(1.0, abs=0.01),
    }  # fmt: skip
    (drill,) = found["by_drill"]
    assert (drill["name"], drill["trait"], drill["of"]) == ("ladder", UP, 1)


def test_the_table_says_promised_and_found_with_units(store, run, log):
    keep(store, before())
    run("load", log, "--changes")
    keep(store, after(4.5 + 0.3 * noise(N, seed=6)))
    shown = run("promises", "--wide").stdout
    assert "About 1.0 of 1 promise" in shown
    for part in ("promised", "found", "+4.5 mm", "kept, nearly certain", " yd"):
        assert part in shown
    narrow = run("promises").stdout
    assert "gain found" not in narrow
    assert " yd" not in run("promises", "--wide", "--units", "metres").stdout


def test_an_unknown_player_is_refused(store, run):
    assert "'Cy' is not stored" in run("promises", "Cy", code=1).stderr
