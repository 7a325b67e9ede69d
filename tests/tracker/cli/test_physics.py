"""The physics commands: weather, turf, ball and head reach the answer, and bad ones are refused."""

import json

import pytest
from typer.testing import CliRunner

from tracker.cli.main import app

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
