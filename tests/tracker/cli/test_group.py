"""Groups and coaches on the command line: from the log, shown, set and cleared."""

import json

import pytest
from typer.testing import CliRunner

from tracker.cli.main import app

LOG = """player,session,attack_deg,group,coach
Ann,2026-03-01,-2.0,juniors,Kim
Ann,2026-03-08,-2.5,,
Bo,2026-03-02,1.0,,
"""


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{tmp_path / 'shots.db'}")
    path = tmp_path / "log.csv"
    path.write_text(LOG)

    def call(*words, code=0):
        result = CliRunner().invoke(app, [str(w) for w in words])
        assert result.exit_code == code, result.output
        return result

    call("load", path)
    return call


def players(result):
    return {p.pop("player"): p for p in json.loads(result.stdout)["players"]}


def test_groups_of_the_log_are_shown(run):
    assert players(run("group", "--json")) == {
        "Ann": {"group": "juniors", "coach": "Kim"},
        "Bo": {"group": None, "coach": None},
    }
    assert run("group").stdout.split() == [
        "player",
        "group",
        "coach",
        "Ann",
        "juniors",
        "Kim",
        "Bo",
    ]


def test_a_group_and_a_coach_are_set_and_cleared(run):
    found = players(run("group", "Bo", "seniors", "--coach", "Lee", "--json"))
    assert found == {"Bo": {"group": "seniors", "coach": "Lee"}}
    assert players(run("group", "Ann", "--clear", "--json"))["Ann"]["group"] is None
    assert players(run("group", "--json"))["Bo"] == {"group": "seniors", "coach": "Lee"}


def test_what_cannot_be_meant_is_refused(run):
    assert "closest is 'Ann'" in run("group", "Anne", "A", code=1).stderr
    run("group", "--coach", "Kim", code=2)
    run("group", "Ann", "A", "--clear", code=2)
    assert players(run("group", "Ann", "--json"))["Ann"]["group"] == "juniors"
