"""The command that says whether a fit can be trusted, in words and in JSON."""

import json
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from tests.fits import BROKEN, CLEAN, make_fit, with_info
from tests.tracker.pages.academy import keep, shots, small_fit
from tracker.cli.main import app
from tracker.records import Shot
from tracker.store.store import Store

UP = "strike_up_mm"


@pytest.fixture
def store(tmp_path, monkeypatch):
    address = f"sqlite:///{tmp_path / 'shots.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", address)
    with Store.open(address) as opened:
        opened.add_shots(shots())
        yield opened


def run(*words, code=0):
    result = CliRunner().invoke(app, ["trust", *words])
    assert result.exit_code == code, result.output
    return result


def test_json_holds_every_part_evidence_physics_and_what_made_the_fit(store):
    fit = small_fit(with_balls=True)
    keep(store, with_info(fit, replace(fit.info, reports={UP: CLEAN, "physics": CLEAN})))
    found = json.loads(run("--json").stdout)
    assert (found["sound"], found["stale"], found["doubts"]) == (True, False, [])
    assert found["headline"] == "Every part of this fit was sampled well; some of it wants care."
    assert any(c["wants_care"] for c in found["checks"])
    parts = {p["part"]: p for p in found["parts"]}
    assert (parts[UP]["max_rhat"], parts[UP]["attempts"], parts[UP]["sampled"]) == (1.0, 1, True)
    assert parts["attack_deg"] == {"part": "attack_deg", "sampled": False}
    assert found["evidence"]["seasons"] > 1000
    assert found["lever_evidence"]["players"] >= 80
    assert (
        found["published"]["met"] + len(found["published"]["missed"])
        == (found["published"]["rows"])
    )
    assert found["physics"]["constants"]["drag_factor"]["median"] == pytest.approx(0.98, abs=0.001)
    assert found["physics"]["carry_miss_m"]["unit"] == "m"
    assert found["data_digest"] == store.data_digest()
    assert (found["seed"], found["fit_id"]) == (11, 1)


def test_a_doubt_is_said_before_anything_else(store):
    fit = small_fit()
    keep(store, with_info(fit, replace(fit.info, reports={UP: BROKEN, "attack_deg": CLEAN})))
    store.add_shots([Shot("Cedar", shots()[0].session, 9, {UP: 1.0})])
    said = run().stdout.splitlines()
    assert said[0] == "Strike height is in doubt; every other part passed its checks."
    assert "no verdict on it is given, nor anything in distance" in said[2]
    assert "Shots or changes were stored after this fit" in " ".join(said)
    assert json.loads(run("--json").stdout)["stale"] is True


def test_without_a_fit_it_says_what_to_do(store):
    assert "no fit is stored yet" in run(code=1).stderr


def test_chances_of_earlier_fits_are_said_and_put_out(store):
    earlier = small_fit()
    keep(store, earlier, digest="earlier")
    grown = {"Cedar": {UP: [-8.0, -8.2, -4.0, -3.8, -3.9]}, "Alder": {UP: 2.0}}
    later = make_fit(grown, days=(0, 7, 14, 21, 28), changes=earlier.changes)
    keep(store, later)
    found = json.loads(run("--json").stdout)["chances"]
    assert (found["newest"], found["fits"]) == (2, [1])
    assert found["every"]["said"] == sum(row["said"] for row in found["by_size"])
    assert {row["of"] for row in found["intervals"]} >= {"level", "moved"}
    assert found["words"] in " ".join(run().stdout.split())
