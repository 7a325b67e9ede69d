"""A plan, through the real parser and a stored fit made by hand."""

import csv
import io
import json

import pytest
from icalendar import Calendar
from typer.testing import CliRunner

from tests.fits import BROKEN, day, make_fit, noise
from tracker.cli import plan as module
from tracker.cli.main import app
from tracker.decisions.verdict.retest import Design, RetestPlan
from tracker.fits.kept_fits import keep_fit
from tracker.records import Change, Shot
from tracker.store.store import Store

UP = "strike_up_mm"
LADDER = Change("Bo", day(10), "drill", "ladder", UP, 2.0)
PLANNED = {"player", "lever", "trait", "gain_m", "p_best", "practice_sessions", "retest", "blocks"}
ODD = "=Ann [b], \u202eJr"


@pytest.fixture
def run(tmp_path, monkeypatch):
    url = f"sqlite:///{tmp_path / 'shots.db'}"
    monkeypatch.setenv("DRIVE_PROGRESS_DB", url)
    monkeypatch.setattr(module, "retests_at", shown_by_four)
    with Store.open(url) as opened:
        opened.add_shots([Shot("Bo", made().session_start[0, 0].item(), 1, {UP: -9.0})])

    def call(*words, fit=None, code=0, answer=None):
        with Store.open(url) as opened:
            keep_fit(opened, made() if fit is None else fit, opened.shots_frame(), sessions=8,
                     shots=120)  # fmt: skip
        result = CliRunner().invoke(
            app, ["plan", "--from", "2026-09-07", *map(str, words)], input=answer
        )
        assert result.exit_code == code, result.output
        return result

    return call


def shown_by_four(belief, a_week):
    """Four sessions of 15 shots show anybody's change with 85 in 100."""
    four = (Design(4, 15, 0.85, 140.0),)
    return lambda player, trait: RetestPlan(
        player, UP, 8.0, "", 1.2, 0.98, four, four[0], 15, "", "", ()
    )


def made(**more):
    levels = {ODD: {UP: -14.0}, "Bo": {UP: [-14.0, -14.0, -6.0, -6.0]}}
    moved = {"change_effect": {0: {UP: 8.0 + noise(400, seed=3)}},
             "drill_effect": {"ladder": {UP: 8.0 + noise(400, seed=4)}}}  # fmt: skip
    return make_fit(levels, changes=(LADDER,), **moved, **more)


def test_json_holds_each_players_dates_gain_and_cost(run):
    found = json.loads(run("--json").stdout)
    (ann,) = (one for one in found["planned"] if one["player"] == ODD)
    assert set(ann) >= PLANNED
    assert (ann["lever"], ann["practice_sessions"]) == ("ladder", 2)
    assert ann["retest"]["on"] == "2026-09-21"
    assert [b["kind"] for b in ann["blocks"]] == ["practice", "retest"]
    assert max(found["sessions_used"]) <= found["sessions_a_week"] == 10
    assert set(found["total_gain_m"]) == {"median", "low90", "high90", "unit"}
    assert len(found["planned"]) + len(found["left_out"]) == 2


def test_one_session_a_week_leaves_somebody_out_with_a_reason(run):
    found = json.loads(run("--json", "--weeks", 6, "--sessions-a-week", 1).stdout)
    assert len(found["planned"]) == 1
    assert found["left_out"][0]["why"]
    assert found["sessions_used"] == [1] * 6


def test_the_calendar_is_written_and_not_over_another_file_unasked(run, tmp_path):
    path = tmp_path / "plan.ics"
    run("--out", path)
    events = list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))
    assert f"{ODD}: practise ladder" in [str(e["SUMMARY"]) for e in events]
    before = path.read_bytes()
    assert "nothing was written" in run("--out", path, "--weeks", 3, answer="n\n", code=1).stderr
    assert path.read_bytes() == before
    run("--out", path, "--force", "--weeks", 3)
    assert path.read_bytes() != before


def test_words_say_who_practises_what_and_that_a_coach_decides(run):
    said = run("--wide").stdout
    assert said.splitlines()[0].startswith("2 of 2 have a plan for 12 weeks from 7 September 2026")
    assert "ladder for strike height" in said
    assert "21 Sep: 4 sessions of 15 shots" in said
    assert "A coach decides" in said
    assert "\u202e" not in said


def test_a_fit_in_doubt_plans_nobody(run):
    result = run(fit=made(reports={UP: BROKEN}))
    assert "7 divergent draws" in result.stderr
    assert result.stdout.startswith("No plan from this fit.")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--weeks", 0), "weeks: found 0"),
        (("--devices", 0), "devices: found 0"),
        (("--a-player", 7), "rest between"),
        (("--from", "7.9.2026"), "--from: found '7.9.2026'"),
    ],
)
def test_what_cannot_be_is_refused_with_the_place(run, words, reason):
    assert reason in run(*words, code=1).stderr


def test_the_table_is_in_the_chosen_units_and_no_formula(run, tmp_path):
    files = {units: tmp_path / f"{units}.csv" for units in ("yards", "metres")}
    rows = {}
    for units, path in files.items():
        said = run("--csv", path, "--units", units).stdout
        assert path.name in " ".join(said.split())
        rows[units] = list(csv.DictReader(io.StringIO(path.read_text())))
    (yards, *_), (metres, *_) = rows.values()
    assert yards["player"].startswith("'=Ann")
    assert (yards["unit"], metres["unit"]) == ("yd", "m")
    assert float(metres["gain"]) == pytest.approx(float(yards["gain"]) * 0.9144, abs=1e-3)
    assert {row["block"] for row in rows["yards"]} == {"practice", "retest"}
    run("--csv", files["yards"], code=1, answer="n\n")  # an existing file is not overwritten
