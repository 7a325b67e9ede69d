"""The physics commands: weather, turf, ball and head reach the answer, and bad ones are refused."""

import json

import pytest
from typer.testing import CliRunner

from tracker.cli.main import app
from tracker.cli.unit_options import looks_like

DRIVE = ["drive", "--club-speed-mps", "45", "--attack-deg", "0", "--loft-deg", "13"]
FLIGHT = ["flight", "--ball-speed-mps", "65", "--launch-deg", "12", "--spin-rpm", "2600"]
KEYS = {
    "ball_speed_mps", "launch_deg", "side_deg", "spin_rpm", "axis_deg", "carry_m", "run_m",
    "total_m", "side_m", "apex_m", "land_angle_deg", "hang_s",
}  # fmt: skip


def answer(*words):
    result = CliRunner().invoke(app, [*words, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.mark.parametrize("command", [DRIVE, FLIGHT], ids=["drive", "flight"])
def test_weather_turf_and_ball_change_the_answer_the_right_way(command):
    plain = answer(*command)
    assert set(plain) >= KEYS
    assert answer(*command, "--tailwind-mps", "5")["carry_m"] > plain["carry_m"] + 4.0
    assert answer(*command, "--tailwind-mps", "-5")["carry_m"] < plain["carry_m"] - 4.0
    assert answer(*command, "--crosswind-mps", "5")["side_m"] > 5.0
    assert answer(*command, "--turf", "firm")["run_m"] > plain["run_m"] + 5.0
    assert answer(*command, "--turf", "firm")["carry_m"] == plain["carry_m"]
    assert answer(*command, "--ball", "range")["carry_m"] < 0.96 * plain["carry_m"]


def test_a_head_is_chosen_by_name():
    assert answer(*DRIVE, "--head", "low-spin")["spin_rpm"] < answer(*DRIVE)["spin_rpm"] - 100.0


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--head", "huge"], "head: found 'huge', wanted one of standard, forgiving"),
        (["--turf", "ice"], "turf: found 'ice', wanted one of average, firm"),
        (["--ball", "rubber"], "ball: found 'rubber', wanted one of standard, range"),
        (["--tailwind-mps", "90"], "tailwind_mps: found 90"),
        (["--crosswind-mps", "nan"], "crosswind_mps: found nan"),
    ],
)
def test_what_there_is_not_is_refused_by_name(words, reason):
    result = CliRunner().invoke(app, [*DRIVE, *words, "--json"])
    assert result.exit_code == 1
    assert reason in result.stderr
    assert result.stdout == ""


def test_numbers_come_in_the_units_of_a_file():
    rest = ["--attack-deg", "0", "--loft-deg", "13"]
    si = answer(
        "drive", "--club-speed-mps", "44.704", *rest, "--strike-up-mm", "-12.7",
        "--temperature-c", "30", "--altitude-m", "914.4", "--tailwind-mps", "5",
    )  # fmt: skip
    # 100 mph = 44.704 m/s, half an inch = 12.7 mm, 86 F = 30 C, 1000 yd = 914.4 m, 18 km/h = 5 m/s
    other = answer(
        "drive", "--club-speed-mph", "100", *rest, "--strike-up-in", "-0.5",
        "--temperature-f", "86", "--altitude-yd", "1000", "--tailwind-kmh", "18",
    )  # fmt: skip
    assert other == pytest.approx(si, rel=1e-9)
    ball = ["--launch-deg", "12", "--spin-rpm", "2600"]
    assert answer("flight", "--ball-speed-kmh", "234", *ball) == pytest.approx(answer(*FLIGHT))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--club-speed-mps", "45", "--club-speed-mph", "100"], "say the same: give one"),
        ([], "give one of --club-speed-mps, --club-speed-mph, --club-speed-kmh"),
    ],
)
def test_one_unit_of_a_number_is_wanted(words, said):
    result = CliRunner().invoke(app, ["drive", *words, "--attack-deg", "0", "--loft-deg", "13"])
    assert result.exit_code == 2
    assert said in " ".join(result.stderr.replace("│", " ").split())
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("name", "spelled", "value", "meant"),
    [
        ("club_speed_mps", "club_speed_mps", 105.0, "club_speed_mph"),
        ("club_speed_mps", "club_speed_mph", 45.0, "club_speed_mps"),
        ("club_speed_mps", "club_speed_mps", 165.0, "club_speed_kmh"),
        ("club_speed_mps", "club_speed_mph", 95.0, None),
        ("club_speed_mps", "club_speed_mps", 900.0, None),
        ("ball_speed_mps", "ball_speed_mps", 150.0, "ball_speed_mph"),
        ("strike_up_mm", "strike_up_in", 8.0, "strike_up_mm"),
        ("strike_up_mm", "strike_up_mm", 0.5, None),
        ("temperature_c", "temperature_c", 75.0, "temperature_f"),
        ("altitude_m", "altitude_m", 5000.0, None),
    ],
)
def test_a_number_looks_like_the_unit_in_which_it_would_be_usual(name, spelled, value, meant):
    assert looks_like(name, spelled, value) == meant


def test_a_hint_goes_to_standard_error_even_where_the_number_is_refused():
    words = ["--attack-deg", "0", "--loft-deg", "13", "--json"]
    refused = CliRunner().invoke(app, ["drive", "--club-speed-mps", "105", *words])
    assert refused.exit_code == 1
    assert "--club-speed-mps 105 looks like mph: if so, write --club-speed-mph 105." in (
        refused.stderr
    )
    slow = CliRunner().invoke(app, ["drive", "--club-speed-mph", "45", *words])
    assert slow.exit_code == 0
    assert "looks like m/s" in slow.stderr
    assert 30 < json.loads(slow.stdout)["carry_m"] < 60  # about a yard a mph, used as given
    assert "looks like" not in CliRunner().invoke(app, DRIVE).stderr


def test_help_lists_every_unit_with_the_default():
    told = " ".join(CliRunner().invoke(app, ["drive", "--help"]).stdout.split())
    for flag in ("--club-speed-kmh", "--strike-toe-cm", "--temperature-f", "--crosswind-mph"):
        assert flag in told
    assert "Of the air. [default: (20)]" in told
    assert "The same in inches." in told
