"""The committed demo files are what the generator makes and what the shot log allows."""

import csv
import json
import subprocess
import sys
from datetime import date

import numpy as np
import pandas as pd
import pytest

from synthetic_data import demo_paths, make_demo, write_academy

# the shot log's columns with every unit suffix it may carry
ALLOWED = {
    "player", "session", "club", "shot", "handed", "strike_method", "delivery_method", "ball",
    "missed_face", "note", "attack_deg", "loft_deg", "path_deg", "face_deg", "launch_deg",
    "side_deg", "axis_deg", "spin_rpm",
    *(f"{n}_{u}" for n in ("strike_toe", "strike_up", "tee_height") for u in ("mm", "cm", "in")),
    *(f"{n}_{u}" for n in ("club_speed", "ball_speed") for u in ("mps", "mph", "kmh")),
    *(f"{n}_{u}" for n in ("carry", "total") for u in ("m", "yd")),
    "air_temperature_c", "air_temperature_f", "altitude_m",
}  # fmt: skip

TO_SI = {
    "strike_toe_mm": ("strike_toe_mm", 1.0, 0.25),
    "strike_up_mm": ("strike_up_mm", 1.0, 0.25),
    "attack_deg": ("attack_deg", 1.0, 0.05),
    "club_speed_mph": ("club_speed_mps", 0.44704, 0.05 * 0.44704),
    "ball_speed_mph": ("ball_speed_mps", 0.44704, 0.05 * 0.44704),
    "spin_rpm": ("spin_rpm", 1.0, 5.0),
    "axis_deg": ("axis_deg", 1.0, 0.05),
    "carry_yd": ("carry_m", 0.9144, 0.05 * 0.9144),
    "total_yd": ("total_m", 0.9144, 0.05 * 0.9144),
}


@pytest.fixture(scope="module")
def academy():
    return make_demo()


@pytest.fixture(scope="module")
def log():
    return pd.read_csv(demo_paths().shots, keep_default_na=True)


def test_committed_files_are_regenerated_to_the_byte(academy, tmp_path):
    made = write_academy(academy, tmp_path)
    for fresh, committed in zip(made, demo_paths(), strict=True):
        assert fresh.read_bytes() == committed.read_bytes(), committed.name


def test_columns_are_in_the_shot_logs_contract_with_one_unit_each():
    with demo_paths().shots.open(encoding="utf-8", newline="") as file:
        header = next(csv.reader(file))
    assert set(header) <= ALLOWED
    assert {"player", "session", "strike_up_mm"} <= set(header)
    stems = [name.rsplit("_", 1)[0] for name in header]
    assert len(stems) == len(set(stems))


@pytest.mark.parametrize("column", list(TO_SI))
def test_written_units_convert_back_to_the_readings(log, academy, column):
    trait, si_per_unit, half_step = TO_SI[column]
    written = log[column].to_numpy() * si_per_unit
    reading = academy.shots[trait].to_numpy()
    np.testing.assert_array_equal(np.isnan(written), np.isnan(reading))
    assert np.nanmax(np.abs(written - reading)) <= half_step * (1 + 1e-9)
    assert np.nanmax(np.abs(written - reading)) > half_step / 2  # really rounded


def test_text_columns_hold_only_what_the_contract_names(log):
    assert set(log["handed"]) == {"left", "right"}
    assert set(log["missed_face"].dropna()) == {"yes"}
    assert set(log["strike_method"].dropna()) == {"spray", "photo"}
    assert set(log["delivery_method"]) == {"radar", "camera"}
    assert set(log["club"]) == {"driver"}
    assert not log.duplicated(["player", "session", "club", "shot"]).any()
    days = [date.fromisoformat(day) for day in log["session"]]
    assert date(2026, 3, 1) <= min(days)
    assert max(days) <= date(2026, 8, 31)


def test_changes_file_follows_its_contract(log):
    changes = pd.read_csv(demo_paths().changes)
    assert list(changes.columns) == [
        "player", "start", "kind", "name", "trait", "effort_sessions", "note",
    ]  # fmt: skip
    assert set(changes["kind"]) == {"drill"}
    assert set(changes["player"]) <= set(log["player"])
    assert set(changes["trait"]) == {"strike_up_mm", "path_deg", "attack_deg"}
    notes = log[log["note"].fillna("").str.startswith("started")]
    starts = set(zip(changes["player"], changes["start"], strict=True))
    assert starts == set(zip(notes["player"], notes["session"], strict=True))


def test_truth_names_every_player_session_and_change(log):
    truth = json.loads(demo_paths().truth.read_text(encoding="utf-8"))
    assert set(truth["players"]) == set(log["player"])
    for name, player in truth["players"].items():
        days = log[log["player"] == name].groupby("session").size()
        assert [s["session"] for s in player["sessions"]] == list(days.index)
        assert [s["shots"] for s in player["sessions"]] == list(days)
    changes = pd.read_csv(demo_paths().changes)
    assert len(truth["changes"]) == len(changes)
    # the values that a reader of the file relies on
    assert truth["kappa_deg_per_deg"] == 0.6
    assert truth["head"]["e0"] == 0.838
    assert truth["head"]["gear_gain"] == 1.1
    assert truth["head"]["cg_height_mm"] == 2.0
    assert (truth["flight"]["k_drag"], truth["flight"]["k_lift"]) == (1.03, 0.95)


def test_session_means_of_the_file_lie_near_the_truth(log):
    """Every session mean, less method bias, within the noise that the truth file states."""
    truth = json.loads(demo_paths().truth.read_text(encoding="utf-8"))
    z = []
    for name, player in truth["players"].items():
        mine = log[log["player"] == name]
        for session in player["sessions"]:
            method = truth["methods"]["strike"][session["strike_method"]]
            shots = mine.loc[mine["session"] == session["session"], "strike_toe_mm"].dropna()
            if len(shots) < 8:
                continue
            scale = np.hypot(player["shot_sd"]["strike_toe_mm"], method["sd"]["strike_toe_mm"])
            scale /= np.sqrt(len(shots))
            scale = np.hypot(scale, truth["session_sd"]["strike_toe_mm"])
            expected = session["tendency"]["strike_toe_mm"] + method["bias"].get(
                "strike_toe_mm", 0.0
            )
            z.append((shots.mean() - expected) / scale)
    assert len(z) > 100
    assert abs(np.mean(z)) < 4 / np.sqrt(len(z))
    assert 0.75 < np.std(z) < 1.3


def test_the_command_writes_where_it_is_told_and_refuses_what_it_does_not_know(tmp_path):
    command = [sys.executable, "-m", "synthetic_data"]
    done = subprocess.run(
        [*command, str(tmp_path / "new")], capture_output=True, text=True, check=True
    )
    written = sorted(p.name for p in (tmp_path / "new").iterdir())
    assert written == ["changes.csv", "shots.csv", "truth.json"]
    assert "shots.csv" in done.stdout
    refused = subprocess.run([*command, "--help-me"], capture_output=True, text=True, check=False)
    assert refused.returncode == 2
    assert refused.stderr.startswith("usage:")
