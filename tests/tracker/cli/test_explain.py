"""The explain command from a shell, on a fit made by hand."""

import json
from datetime import datetime, time

import pytest
from typer.testing import CliRunner

from tests.fits import day, make_fit, with_info
from tracker.cli.main import app
from tracker.fits.kept_fits import keep_fit
from tracker.records import Shot
from tracker.store.store import Store

PARTS = [
    "club_speed", "strike_up", "strike_toe", "attack", "loft", "path_face", "unexplained",
]  # fmt: skip
LEVELS = {
    "Ann": {"strike_up_mm": [-11.0, -11.0, 1.0, 1.0], "club_speed_mps": 45.0},
    "Bo": {"strike_up_mm": 1.0, "club_speed_mps": 41.0},
}
FIRST, LAST = day(0).isoformat(), day(21).isoformat()


def _shots():
    for player in LEVELS:
        for s in range(4):
            for n in (1, 2):
                level = LEVELS[player]["strike_up_mm"]
                up = level[s] if isinstance(level, list) else level
                readings = {"strike_up_mm": up - 1.0 + n, "club_speed_mps": 45.0}
                if player == "Ann":
                    readings["carry_m"] = 180.0 + 5 * s
                yield Shot(player, _start(s), n, readings)


def _start(session):
    return datetime.combine(day(7 * session), time.min)


@pytest.fixture
def run(tmp_path):
    url = f"sqlite:///{tmp_path / 'x.db'}"
    with Store.open(url) as store:
        store.add_shots(_shots())
        fit = make_fit(LEVELS, samples=100, level_sd=0.3)
        keep_fit(store, with_info(fit, fit.info), store.shots_frame(), sessions=8, shots=16)

    def call(*words, code=0):
        found = CliRunner().invoke(app, ["explain", *words, "--db", url])
        assert found.exit_code == code, found.output
        return found

    return call


def _json(result):
    found = json.loads(result.stdout)
    assert result.stdout.count("\n") == 1
    return found


def test_json_has_the_contract_keys_and_every_part_an_interval(run):
    found = _json(run("Ann", "--from", FIRST, "--to", LAST, "--json"))
    assert {"player", "from", "to", "carry_difference_m", "parts"} <= set(found)
    assert list(found["parts"]) == PARTS
    for interval in (found["carry_difference_m"], *found["parts"].values()):
        assert set(interval) == {"median", "low90", "high90", "unit"}
        assert interval["unit"] == "m"
        assert interval["low90"] <= interval["median"] <= interval["high90"]
    assert (found["player"], found["from"], found["to"]) == ("Ann", FIRST, LAST)
    assert found["measured"]
    assert found["carry_difference_m"]["median"] == pytest.approx(15.0, abs=1.0)  # 195 - 180
    assert found["parts"]["strike_up"]["low90"] > 0


def test_the_attack_part_divides_on_demand(run):
    assert _json(run("Ann", "--from", FIRST, "--to", LAST, "--json"))["attack_split"] is None
    found = _json(run("Ann", "--from", FIRST, "--to", LAST, "--split", "--json"))
    assert list(found["parts"]) == PARTS
    assert list(found["attack_split"]) == ["attack_alone", "loft_along"]
    shown = run("Ann", "--from", FIRST, "--to", LAST, "--split").stdout
    assert "Of the attack part: attack alone" in shown
    assert "small parts" in shown  # all but strike height stood still
    rows = [line.split("  ")[0] for line in shown.splitlines()]
    assert rows.index("strike height") < rows.index("not explained by the delivery")
    assert rows.index("not explained by the delivery") + 1 == rows.index("together")


def test_shots_windows_and_two_players_can_be_compared(run):
    shots = _json(run("Ann", "--from", f"{FIRST}#1", "--to", f"{LAST}#2", "--json"))
    assert (shots["from"], shots["to"]) == (f"{FIRST}#1", f"{LAST}#2")
    early, late = f"{FIRST}:{day(10)}", f"{day(11)}:{LAST}"
    windows = _json(run("Ann", "--from", early, "--to", late, "--json"))
    # days of 180 and 185 against 190 and 195
    assert windows["carry_difference_m"]["median"] == pytest.approx(10.0, abs=1.0)
    two = _json(run("Ann", "--from", late, "--to", late, "--to-player", "Bo", "--json"))
    assert two["to_player"] == "Bo"
    assert not two["measured"]  # nobody read Bo's carry
    assert two["parts"]["club_speed"]["high90"] < 0  # Bo is 4 m/s slower


def test_the_table_carries_units_and_says_which_end_is_which(run):
    text = run("Ann", "--from", FIRST, "--to", LAST).stdout
    assert f"Ann {LAST} carried" in text
    assert "yd farther than Ann" in text
    assert "90 % sure between" in text
    assert "strike height" in text
    assert " yd" not in run("Ann", "--from", FIRST, "--to", LAST, "--units", "metres").stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("Ann", "--from", "2026-02-30", "--to", LAST), "wanted a date such as"),
        (("Ann", "--from", "2025-01-01", "--to", LAST), "pick one of 2026-01-05 00:00"),
        (("Ann", "--from", f"{FIRST}#9", "--to", LAST), "no shot 9"),
        (("Ann", "--from", f"{LAST}:{FIRST}", "--to", LAST), "put the earlier date first"),
        (("Ann", "--from", "2025-01-01:2025-02-01", "--to", LAST), "sessions are on 2026-01-05"),
        (("Cy", "--from", FIRST, "--to", LAST), "it holds Ann, Bo"),
        (("Ann", "--from", FIRST, "--to", LAST, "--to-player", "Cy"), "it holds Ann, Bo"),
    ],
)
def test_a_wrong_request_ends_with_the_remedy(run, words, said):
    assert said in " ".join(run(*words, code=1).stderr.split())


def test_both_ends_are_needed(run):
    assert "--from" in run("Ann", "--to", LAST, code=2).stderr
