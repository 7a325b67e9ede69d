"""The command line through its real parser, store and files; only the fit is made by hand."""

import json
import math
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from rich.console import Console
from typer.testing import CliRunner

from models.sampling.report import SamplerReport
from tests.fits import BROKEN, CLEAN, day, make_fit, noise
from tracker.cli.main import app
from tracker.errors import NotEnoughData
from tracker.fits.kept_fits import keep_fit
from tracker.records import Change, Shot
from tracker.store.store import Store

INTERVAL = {"median", "low90", "high90", "unit"}
UP = "strike_up_mm"
LOG = """player,session,strike_up_mm,attack_deg,club_speed_mph
Ann,2026-03-01,-4.0,-2.0,95.5
Ann,2026-03-01,-6.5,-3.1,96.0
Bo,2026-03-02,5.0,,88.2
"""


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", f"sqlite:///{tmp_path / 'shots.db'}")
    runner = CliRunner()

    def call(*words, code=0):
        result = runner.invoke(app, [str(w) for w in words])
        assert result.exit_code == code, result.output
        assert "Traceback" not in result.output
        return result

    return call


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(LOG)
    return path


def store_fit(tmp_path, **more):
    levels = {
        "Ann": {UP: [-9.0, -9.0, -1.0, -1.0], "attack_deg": -3.0},
        "Bo": {UP: 5.0, "attack_deg": 2.0},
    }
    changes = (Change("Ann", day(10), "drill", "ladder", UP),)
    moved = {"change_effect": {0: {UP: 8.0}}, "drill_effect": {"ladder": {UP: 8.0}}}
    fit = make_fit(levels, changes=changes, **(moved | more))
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as store:
        shot = Shot("Ann", fit.session_start[0, 0].item(), 1, {UP: -9.0})
        store.add_shots([shot])
        keep_fit(store, fit, store.shots_frame(), sessions=8, shots=120)
    return fit


@pytest.fixture
def fitted(tmp_path, run):
    store_fit(tmp_path)
    return run


def answer(result):
    return json.loads(result.stdout)


def test_load_says_what_it_stored_and_twice_stores_nothing(run, log):
    first = answer(run("load", log, "--json"))
    assert (first["rows"], first["stored"], first["already_stored"]) == (3, 3, 0)
    assert first["rejected"] == []
    second = answer(run("load", log, "--json"))
    assert (second["rows"], second["stored"], second["already_stored"]) == (3, 0, 3)


def test_a_bad_file_is_refused_whole_with_every_problem_on_both_streams(run, tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text(LOG.replace("-2.0", "high").replace("88.2", "882"))
    result = run("load", path, "--json", code=1)
    assert answer(result)["rows"] == 3
    rejected = answer(result)["rejected"]
    assert [(r["line"], r["column"], r["found"]) for r in rejected] == [
        (2, "attack_deg", "high"),
        (4, "club_speed_mph", "882"),
    ]
    assert "2 of 3 rows cannot be used, so nothing was stored" in result.stderr
    assert answer(run("load", path, "--skip-bad", "--json"))["stored"] == 1
    assert "why" in (tmp_path / "bad.csv.rejected.csv").read_text().splitlines()[0]


def test_a_plain_file_name_is_an_sqlite_database(run, log, tmp_path, monkeypatch):
    monkeypatch.setenv("DRIVE_PROGRESS_DB", str(tmp_path / "by_name.db"))
    assert "Shots are kept in sqlite:///" in run("load", log).stderr
    assert (tmp_path / "by_name.db").exists()
    other = tmp_path / "other.db"
    assert answer(run("load", log, "--db", other, "--json"))["stored"] == 3


def test_a_database_that_is_none_is_refused_with_the_remedy(run, log):
    assert "no such kind of database" in run("load", log, "--db", "oracel://x", code=1).stderr


def test_shots_read_twice_give_a_methods_reading_sd(run, tmp_path):
    path = tmp_path / "twice.csv"
    path.write_text("method,trait,first,second\nspray,strike_up_mm,3,7\nspray,strike_up_mm,1,1\n")
    found = answer(run("load", path, "--duplicates", "--json"))
    assert (found["rows"], found["stored"]) == (2, 2)
    (row,) = found["reading_sd"]
    assert (row["method"], row["trait"], row["pairs"]) == ("spray", "strike_up_mm", 2)
    assert 1.5 < row["sd"]["low90"] < row["sd"]["median"] < row["sd"]["high90"]
    again = answer(run("load", path, "--duplicates", "--json"))
    assert (again["stored"], again["already_stored"]) == (0, 2)
    assert "run drive-progress fit" in run("load", path, "--duplicates").stdout


def test_undo_takes_back_the_last_load(run, log):
    run("load", log)
    assert "3 shots removed" in run("undo").stdout
    assert answer(run("load", log, "--json"))["stored"] == 3


def test_answers_before_any_data_say_what_to_do(run, log):
    assert "drive-progress load FILE" in run("gains", "--all", code=1).stderr
    run("load", log)
    assert "run drive-progress fit" in run("show", "Ann", code=1).stderr


def test_show_has_the_contract_keys(fitted):
    found = answer(fitted("show", "Ann", "--json"))
    assert {"player", "as_of", "traits"} <= set(found)
    assert found["as_of"] == day(21).isoformat()
    level = found["traits"][UP]
    assert {"level", "shot_sd", "session_sd", "shots", "sessions"} <= set(level)
    assert set(level["level"]) == INTERVAL
    assert level["level"]["median"] == pytest.approx(-1.0, abs=0.1)
    assert level["level"]["unit"] == "mm"
    everybody = answer(fitted("show", "--all", "--json"))["players"]
    assert [p["player"] for p in everybody] == ["Ann", "Bo"]


def test_a_trait_never_read_is_marked_as_such(tmp_path, run):
    none = [0, 0, 0, 0]
    store_fit(tmp_path, shots={("Ann", "loft_deg"): none, ("Bo", "loft_deg"): none,
                               ("Ann", "attack_deg"): none})  # fmt: skip
    traits = answer(run("show", "Ann", "--json"))["traits"]
    assert traits[UP]["read"] is True
    assert traits["attack_deg"]["read"] is False
    assert (traits["attack_deg"]["shots"], traits["attack_deg"]["sessions"]) == (0, 0)
    said = " ".join(run("show", "Ann").stdout.split())
    assert said.count("not read:") == 2
    found = answer(run("gains", "Ann", "--json"))
    assert {"attack_deg", "loft_deg"} == set(found["not_read"])
    assert not {"attack_deg", "loft_deg"} & {f["trait"] for f in found["fixes"]}


def test_a_doubt_about_one_trait_is_a_quiet_note_beside_another(tmp_path, run):
    store_fit(tmp_path, reports={UP: CLEAN, "path_deg": BROKEN})
    verdict = run("verdict", "Ann", "--trait", UP)
    assert "Yes, this is real" in verdict.stdout
    assert "This fit has a problem: Club path" not in verdict.stderr
    assert "Elsewhere in this fit, not used here: Club path: 7 divergent draws" in verdict.stderr
    assert answer(run("verdict", "Ann", "--trait", UP, "--json"))["problems"] == []
    gains = run("gains", "Ann")
    assert "This fit has a problem: Club path: 7 divergent draws" in gains.stderr
    assert answer(run("gains", "Ann", "--json"))["first"] is None
    assert len(answer(run("squad", "--trait", "path_deg", "--json"))["problems"]) == 3
    assert answer(run("squad", "--trait", UP, "--json"))["problems"] == []


UNLOGGED = {("Bo", UP): (2, 4.0 + 0.1 * noise(400, seed=3))}


def test_the_dates_of_an_unlogged_change_can_be_asked_for(tmp_path, run):
    store_fit(tmp_path, jumps=UNLOGGED)
    found = answer(run("verdict", "Bo", "--trait", UP, "--unlogged", "--json"))
    assert [found["before"][end] for end in ("start", "end")] == ["2026-01-05", "2026-01-12"]
    assert [found["after"][end] for end in ("start", "end")] == ["2026-01-19", "2026-01-26"]
    assert found["unlogged"]["between"] == ["2026-01-12", "2026-01-19"]
    assert "that nobody logged" in run("verdict", "Bo", "--trait", UP, "--unlogged").stdout
    refused = run("verdict", "Ann", "--trait", UP, "--unlogged", code=1).stderr
    assert "no unlogged change of strike height is likelier than not" in refused
    both = ("--before", "2026-01-01:2026-01-12", "--after", "2026-01-13:2026-02-01")
    run("verdict", "Bo", "--trait", UP, "--unlogged", *both, code=2)
    ann, bo = answer(run("verdict", "--all", "--trait", UP, "--unlogged", "--json"))["players"]
    assert ann["player"] == "Ann"
    assert "likelier than not" in ann["refused"]
    assert bo["verdict"] == found["verdict"]


def test_fit_reports_each_part_and_says_what_was_sampled_again(tmp_path, run, monkeypatch):
    reports = {UP: CLEAN, "attack_deg": replace(CLEAN, attempts=2),
               "path_deg": SamplerReport(0, 1.0, math.inf)}  # fmt: skip
    fit = store_fit(tmp_path, reports=reports)
    kept = SimpleNamespace(fit_id=1, fit=fit, sessions=8, shots=120)
    monkeypatch.setattr("tracker.cli.fit.run_fit", lambda *_, **__: kept)
    found = answer(run("fit", "--json"))
    assert set(found["reports"]) == set(reports)
    assert found["reports"]["attack_deg"]["attempts"] == 2
    assert found["reports"]["path_deg"]["min_ess"] is None
    assert "days_alike" not in found
    said = run("fit").stdout
    assert "Attack angle was sampled twice, with smaller steps." in said
    assert said.count("was sampled") == 1


def test_the_model_has_no_forms_to_choose(run):
    assert "No such option" in run("fit", "--days-alike", code=2).stderr
    assert "No such command" in run("compare", code=2).stderr


def test_show_at_a_date_gives_the_level_then(fitted):
    found = answer(fitted("show", "Ann", "--at", day(7), "--json"))
    assert found["traits"][UP]["level"]["median"] == pytest.approx(-9.0, abs=0.3)
    assert "wanted a date such as" in fitted("show", "Ann", "--at", "May", code=1).stderr


def test_a_narrow_terminal_leaves_columns_out_and_wide_shows_all(fitted, monkeypatch):
    monkeypatch.setattr("tracker.cli.common.out", Console(width=80))
    narrow = fitted("gains", "Ann").stdout
    assert "P(best)" in narrow
    assert "moves it by" not in narrow
    assert "…" not in narrow
    wide = fitted("gains", "Ann", "--wide").stdout
    assert "moves it by" in wide
    assert "effort" in wide


def test_gains_has_the_contract_keys(fitted):
    found = answer(fitted("gains", "Ann", "--json"))
    assert {
        "player", "carry_m", "fixes", "first", "clear", "levers", "yardstick", "measure",
    } <= set(found)  # fmt: skip
    for lever in found["levers"]:
        assert {
            "name", "kind", "trait", "move", "effort_sessions", "gain_m", "gain_per_session_m",
            "p_best", "expected_regret_m", "stays_inside_change", "particular_gain_m",
        } <= set(lever)  # fmt: skip
        assert set(lever["gain_m"]) == set(lever["stays_inside_change"]) == INTERVAL
    assert found["yardstick"] == {"name": "toward", "corridor_m": 30.0}
    assert [lever["kind"] for lever in found["levers"][-3:]] == ["yardstick"] * 3
    for fix in found["fixes"]:
        assert {
            "trait", "now", "target", "share", "gain_m", "mean_gain_m", "full_fix_gain_m",
            "p_best", "expected_regret_m", "effort_sessions",
        } <= set(fix)  # fmt: skip
        assert set(fix["gain_m"]) == INTERVAL
    assert sum(fix["p_best"] for fix in found["fixes"]) == pytest.approx(1.0)
    assert 100 < found["carry_m"]["median"] < 300


def test_effort_changes_the_order_and_nonsense_is_refused(fitted):
    first = answer(fitted("gains", "Ann", "--json"))["levers"][0]
    dear = answer(fitted("gains", "Ann", "--effort", f"{first['name']}=50", "--json"))
    (same,) = (one for one in dear["levers"] if one["name"] == first["name"])
    assert same["effort_sessions"] == 50
    assert same["gain_m"] == first["gain_m"]
    rates = [one["gain_per_session_m"] for one in dear["levers"] if one["p_best"] is not None]
    assert rates == sorted(rates, reverse=True)
    by_trait = answer(fitted("gains", "Ann", "--effort", f"{first['trait']}=7", "--json"))
    aimed = [one for one in by_trait["levers"] if one["trait"] == first["trait"]]
    assert {one["effort_sessions"] for one in aimed if one["p_best"] is not None} == {7}
    assert "--effort" in fitted("gains", "Ann", "--effort", "much", code=1).stderr


def test_the_yardstick_and_the_corridor_are_picked_and_nonsense_is_refused(fitted):
    words = ("--yardstick", "inside", "--corridor", "33yd", "--json")
    found = answer(fitted("gains", "Ann", *words))
    assert found["yardstick"] == {"name": "inside", "corridor_m": pytest.approx(33 * 0.9144)}
    assert {lever["gain_m"]["unit"] for lever in found["levers"]} == {"points"}
    wrong = fitted("gains", "Ann", "--yardstick", "far", code=1).stderr
    assert "found 'far', wanted one of toward" in wrong
    assert "--corridor" in fitted("gains", "Ann", "--corridor", "wide", code=1).stderr


def test_verdict_has_the_contract_keys(fitted):
    found = answer(fitted("verdict", "Ann", "--trait", UP, "--json"))
    assert {
        "player", "trait", "before", "after", "change", "p_better", "p_worthwhile",
        "p_no_worthwhile", "worthwhile", "verdict", "direction",
    } <= set(found)  # fmt: skip
    assert set(found["before"]) == {"start", "end", "sessions", "shots"}
    assert found["change"]["median"] == pytest.approx(8.0, abs=0.3)
    assert found["verdict"] == "real-worthwhile"
    assert found["direction"] == "better"
    assert set(found["worth"]) == {"gain_m", "yardstick", "words"}
    # a fit without balls: yards beside a verdict are not made up
    assert found["worth"]["gain_m"] is None
    assert found["worth"]["yardstick"] == "toward"
    assert found["worth"]["words"] in " ".join(
        fitted("verdict", "Ann", "--trait", UP).stdout.split()
    )


def test_verdict_takes_windows_by_hand(fitted):
    words = ("--before", f"{day(0)}:{day(7)}", "--after", f"{day(14)}:{day(21)}", "--json")
    assert answer(fitted("verdict", "Ann", "--trait", UP, *words))["after"]["sessions"] == 2
    bad = fitted("verdict", "Ann", "--trait", UP, "--before", "spring", code=1)
    assert "--before: found 'spring', wanted two dates" in bad.stderr


def test_verdict_refuses_windows_that_share_a_day(fitted):
    words = ("--before", f"{day(0)}:{day(14)}", "--after", f"{day(14)}:{day(21)}")
    said = " ".join(fitted("verdict", "Ann", "--trait", UP, *words, code=1).stderr.split())
    assert f"the window after starts on {day(14)}" in said
    assert "pick windows that share no day" in said


def test_squad_has_the_contract_keys(fitted):
    found = answer(fitted("squad", "--trait", UP, "--json"))
    row = found["players"][0]
    assert {"player", "level", "trend_per_month", "expected_rank", "rank90", "p_top3"} <= set(row)
    drill = found["drills"][0]
    assert {"name", "trait", "effect", "p_positive", "players"} <= set(drill)
    assert {"start_now", "changed", "needs_a_look", "unclaimed_m"} <= set(found)
    start = found["start_now"][0]
    assert {"median", "low90", "high90", "unit"} == set(start["change"])
    assert start["worth_at_like_speed"]["unit"] == "m"
    assert {"flags", "expected_wrong", "bar", "looked_at"} <= set(found["changed"])
    assert {"total", "mean_total", "players", "levers"} <= set(found["unclaimed_m"])
    brief = answer(fitted("squad", "--trait", UP, "--brief", "--json"))
    assert brief["players"] == found["players"]
    assert "unclaimed_m" not in brief


def test_squad_filters_leave_some_and_nobody_left_is_refused(fitted):
    fitted("group", "Ann", "seniors", "--coach", "Kerr")
    found = answer(fitted("squad", "--group", "seniors", "--coach", "Kerr", "--json"))
    assert [row["player"] for row in found["players"]] == ["Ann"]
    assert {row["player"] for row in found["start_now"]} == {"Ann"}
    nobody = fitted("squad", "--group", "juniors", code=1)
    assert "nobody is left by these filters" in nobody.stderr
    wrong = fitted("squad", "--handed", "both", code=1)
    assert "--handed: found 'both', wanted right or left" in wrong.stderr
    wrong = fitted("squad", "--since", "May", code=1)
    assert "--since: found 'May', wanted a date such as 2026-03-01" in wrong.stderr


def test_tables_carry_units_and_intervals(fitted):
    text = fitted("gains", "Ann").stdout
    assert " yd (" in text
    assert "90 % sure between" in text
    assert " m (" in fitted("gains", "Ann", "--units", "metres").stdout
    assert "mph" in fitted("show", "Ann").stdout
    assert "km/h" in fitted("show", "Ann", "--units", "metres").stdout


def test_fit_problems_come_before_any_number_and_stop_the_verdict(tmp_path, run):
    store_fit(tmp_path, report=BROKEN)
    result = run("gains", "Ann")
    assert "This fit has a problem: 7 divergent draws" in result.stderr
    assert "P(best)" not in result.stdout
    found = answer(run("gains", "Ann", "--json"))
    assert (found["first"], found["levers"], found["fixes"]) == (None, [], [])
    assert answer(run("verdict", "Ann", "--trait", UP, "--json"))["verdict"] == "cannot-tell"


def test_an_unknown_player_trait_or_option_ends_with_a_reason(fitted):
    assert "player 'Cy' is not in the fit" in fitted("gains", "Cy", code=1).stderr
    assert "trait 'loft'" in fitted("verdict", "Ann", "--trait", "loft", code=1).stderr
    fitted("gains", code=2)
    fitted("gains", "Ann", "--all", code=2)
    fitted("gains", "Ann", "--units", "feet", code=2)


def test_drive_gives_every_ball_number(run):
    words = ("--club-speed-mps", 45, "--attack-deg", -1, "--loft-deg", 14)
    found = answer(run("drive", *words, "--json"))
    assert set(found) >= {
        "ball_speed_mps", "launch_deg", "side_deg", "spin_rpm", "axis_deg", "carry_m", "run_m",
        "total_m", "side_m", "apex_m", "land_angle_deg", "hang_s",
    }  # fmt: skip
    assert found["total_m"] == pytest.approx(found["carry_m"] + found["run_m"], abs=0.5)
    low = answer(run("drive", *words, "--strike-up-mm", -10, "--json"))
    assert low["spin_rpm"] > found["spin_rpm"] + 300  # a low strike spins more
    assert low["carry_m"] < found["carry_m"]
    refused = run("drive", "--club-speed-mps", -4, "--attack-deg", 0, "--loft-deg", 14, code=1)
    assert "club_speed_mps" in refused.stderr


def test_flight_gives_the_ball_part(run):
    words = ("--ball-speed-mps", 70, "--launch-deg", 12, "--spin-rpm", 2600)
    found = answer(run("flight", *words, "--json"))
    high = answer(run("flight", *words, "--altitude-m", 1609, "--json"))
    assert 1.03 < high["carry_m"] / found["carry_m"] < 1.08  # common practice, no source
    assert found["ball_speed_mps"] == 70


def test_every_command_is_in_the_readme_and_has_help(run):
    readme = (Path(__file__).parents[3] / "README.md").read_text()
    for command in app.registered_commands:
        name = command.name or command.callback.__name__
        assert f"`{name}" in readme, name
        assert run(name, "--help").stdout.strip()


STUCK = "player,session,attack_deg\n" + "".join(
    f"Ann,2026-03-0{day},{value}\n"
    for day, values in ((1, (-1.2, 0.3, -2.6, 1.1)), (2, (-0.4, 1.9, -3.1, 0.8)), (3, (2.3,) * 8))
    for value in values
)


def test_load_and_fit_name_a_stuck_device(run, tmp_path, monkeypatch):
    path = tmp_path / "stuck.csv"
    path.write_text(STUCK)
    result = run("load", path, "--json")
    row = {
        "player": "Ann",
        "session": "2026-03-03",
        "trait": "attack_deg",
        "value": 2.3,
        "shots": 8,
    }
    assert answer(result)["stuck"] == [row]
    said = "Ann, 2026-03-03: all 8 readings of attack angle are 2.3 deg"
    assert said in result.stderr
    assert said in run("load", path).stderr

    def kept(store, **_):
        fit = make_fit({"Ann": {"attack_deg": -1.0}})
        number = keep_fit(store, fit, store.shots_frame(), sessions=2, shots=8)
        return SimpleNamespace(fit_id=number, fit=fit, sessions=2, shots=8)

    monkeypatch.setattr("tracker.cli.fit.run_fit", kept)
    fitted = run("fit", "--json")
    assert answer(fitted)["stuck"] == [row]
    assert said in fitted.stderr


def test_an_ordinary_log_gets_no_remark(run, log):
    result = run("load", log, "--json")
    assert answer(result)["stuck"] == []
    assert "device" not in result.stderr


def test_a_load_names_only_what_is_stuck_in_its_own_sessions(run, tmp_path):
    path = tmp_path / "stuck.csv"
    path.write_text(STUCK)
    run("load", path)
    later = tmp_path / "later.csv"
    later.write_text("player,session,attack_deg\nAnn,2026-03-04,0.5\n")
    assert answer(run("load", later, "--json"))["stuck"] == []


def test_a_verdict_on_scatter_leaves_a_stuck_device_out(fitted, tmp_path, monkeypatch):
    path = tmp_path / "stuck.csv"
    path.write_text(STUCK)
    fitted("load", path)
    seen = []

    def judged(shots, *_):
        seen.append(shots)
        raise NotEnoughData("not asked here")

    monkeypatch.setattr("tracker.cli.verdict.judge_consistency", judged)
    fitted("verdict", "Ann", "--trait", "attack_deg", "--json")
    readings = seen[0].set_index("session")["attack_deg"]
    assert readings["2026-03-03"].isna().all()
    assert readings["2026-03-02"].notna().all()


def test_checks_of_a_kept_fit_leave_a_stuck_device_out(run, tmp_path, monkeypatch):
    path = tmp_path / "stuck.csv"
    path.write_text(STUCK)
    run("load", path)
    seen = []
    monkeypatch.setattr(
        "tracker.fits.kept_fits.shot_checks", lambda log, traits: seen.append(log) or ()
    )
    store_fit(tmp_path)
    readings = seen[0].set_index("session")["attack_deg"]
    assert readings["2026-03-03"].isna().all()
    assert readings["2026-03-02"].notna().all()
