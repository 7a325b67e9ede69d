"""What works, through the real parser and a stored fit made by hand."""

import json

import pytest
from typer.testing import CliRunner

from tests.fits import BROKEN, day, make_fit, noise
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.records import Change, Shot
from tracker.store.store import Store

UP = "strike_up_mm"
INTERVAL = {"median", "low90", "high90", "unit"}
WORKED = {
    "name", "kind", "trait", "players", "effect", "spread", "p_positive", "p_worthwhile", "p_best",
    "helped_share", "non_responder_share", "expected_regret", "effort_sessions",
    "effect_per_session", "who", "words",
}  # fmt: skip


@pytest.fixture
def run(tmp_path, monkeypatch):
    url = f"sqlite:///{tmp_path / 'shots.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", url)
    with Store.open(url) as opened:
        opened.add_shots([Shot("Ann", made().session_start[0, 0].item(), 1, {UP: -9.0})])

    def call(*words, fit=None, code=0):
        with Store.open(url) as opened:
            keep_fit(opened, made() if fit is None else fit, opened.shots_frame(), sessions=8,
                     shots=120)  # fmt: skip
        result = CliRunner().invoke(app, list(words))
        assert result.exit_code == code, result.output
        return result

    return call


LADDER = Change("Ann", day(10), "drill", "[b]ladder", UP)


def made(changes=(LADDER,), **more):
    levels = {"Ann": {UP: [-9.0, -9.0, -1.0, -1.0]}, "Bo": {UP: -9.0}}
    moved = {"change_effect": {0: {UP: 8.0 + noise(400, seed=3)}},
             "drill_effect": {"[b]ladder": {UP: 8.0 + noise(400, seed=4)}}}  # fmt: skip
    return make_fit(levels, changes=changes, **(moved if changes else {}), **more)


def test_json_holds_the_effect_its_chances_and_who_did_it(run):
    found = json.loads(run("works", "--json").stdout)
    (trait,) = found["traits"]
    (row,) = trait["works"]
    assert set(row) >= WORKED
    assert set(row["effect"]) == INTERVAL
    assert row["effect"]["median"] == pytest.approx(8.0, abs=0.1)
    assert row["finding"] == "helps-enough"
    assert [one["player"] for one in row["who"]] == ["Ann"]
    assert 0 <= trait["new_drill"]["p_best"] <= 1
    assert found["words"] == "[b]ladder works for strike height."


def test_words_name_the_drill_as_it_was_typed(run):
    said = run("works").stdout
    assert said.startswith("[b]ladder works for strike height.")
    assert "  Ann: +8.0 mm (+6.3 to +9.6), helped, and by enough to matter" in said
    assert "changes that nobody logged are kept apart" in said


def test_without_changes_it_says_how_to_log_one(run):
    said = run("works", fit=made(changes=())).stdout
    assert said.startswith("No change is logged yet")
    assert "--changes" in said


def test_a_trait_in_doubt_shows_its_problems_and_no_table(run):
    result = run("works", fit=made(reports={UP: BROKEN}))
    assert "7 divergent draws" in result.stderr
    assert "+8.0" not in result.stdout
    assert result.stdout.startswith("No logged change can be judged from this fit.")


def test_a_trait_that_nothing_acts_on_is_answered_with_the_reason(run):
    assert "No logged change acts on club path." in run("works", "--trait", "path_deg").stdout
    found = json.loads(run("works", "--trait", "path_deg", "--json").stdout)
    (left_out,) = found["not_judged"]
    assert (left_out["trait"], left_out["reason"]) == ("path_deg", "none-logged")
    assert left_out["words"] == found["lead"] == "No logged change acts on club path."


def test_an_unknown_trait_is_refused(run):
    assert "carry_m" in run("works", "--trait", "carry_m", code=1).stderr
