"""How an academy becomes files: the log and the changes in users' units, the truth in SI."""

import csv
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from synthetic_data.academy import Academy, make_academy
from synthetic_data.spec import M_PER_YD, MPS_PER_MPH
from synthetic_data.truth import truth_record

DEMO_SEED = 2026


class AcademyFiles(NamedTuple):
    """Paths of the three files of one academy."""

    shots: Path
    changes: Path
    truth: Path


class _Column(NamedTuple):
    """How one reading is written: header, SI per written unit, rounding step, decimals."""

    header: str
    si_per_unit: float
    step: float
    decimals: int


_WRITTEN = {
    "strike_toe_mm": _Column("strike_toe_mm", 1.0, 0.5, 1),
    "strike_up_mm": _Column("strike_up_mm", 1.0, 0.5, 1),
    "attack_deg": _Column("attack_deg", 1.0, 0.1, 1),
    "club_speed_mps": _Column("club_speed_mph", MPS_PER_MPH, 0.1, 1),
    "loft_deg": _Column("loft_deg", 1.0, 0.1, 1),
    "path_deg": _Column("path_deg", 1.0, 0.1, 1),
    "face_deg": _Column("face_deg", 1.0, 0.1, 1),
    "ball_speed_mps": _Column("ball_speed_mph", MPS_PER_MPH, 0.1, 1),
    "launch_deg": _Column("launch_deg", 1.0, 0.1, 1),
    "side_deg": _Column("side_deg", 1.0, 0.1, 1),
    "spin_rpm": _Column("spin_rpm", 1.0, 10.0, 0),
    "axis_deg": _Column("axis_deg", 1.0, 0.1, 1),
    "carry_m": _Column("carry_yd", M_PER_YD, 0.1, 1),
    "total_m": _Column("total_yd", M_PER_YD, 0.1, 1),
}
_CONTEXT = (
    "player",
    "session",
    "club",
    "shot",
    "handed",
    "strike_method",
    "delivery_method",
    "tee_height_mm",
    "ball",
    "air_temperature_c",
    "altitude_m",
    "missed_face",
)
CHANGE_COLUMNS = ("player", "start", "kind", "name", "trait", "effort_sessions", "note")


def demo_paths() -> AcademyFiles:
    """Return the paths of the committed demo files."""
    return _files_in(Path(__file__).parent / "demo")


def make_demo() -> Academy:
    """Return the academy behind the committed demo files."""
    return make_academy(DEMO_SEED)


def write_academy(academy: Academy, folder: Path) -> AcademyFiles:
    """Write ``shots.csv``, ``changes.csv`` and ``truth.json`` into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    files = _files_in(folder)
    _write_csv(files.shots, *_shot_log(academy))
    _write_csv(
        files.changes,
        CHANGE_COLUMNS,
        (
            (c.player, c.start.isoformat(), c.kind, c.name, c.trait, f"{c.effort_sessions:g}", "")
            for c in academy.changes
        ),
    )
    text = json.dumps(truth_record(academy), indent=1, allow_nan=False)
    files.truth.write_text(text + "\n", encoding="utf-8", newline="\n")
    return files


def _files_in(folder: Path) -> AcademyFiles:
    return AcademyFiles(folder / "shots.csv", folder / "changes.csv", folder / "truth.json")


def _shot_log(academy: Academy) -> tuple[Sequence[str], Iterable[Sequence[str]]]:
    shots = academy.shots
    traits = [t for t in _WRITTEN if t in shots.columns]
    header = (*_CONTEXT, *(_WRITTEN[t].header for t in traits), "note")
    context = {name: shots[name].astype(str).tolist() for name in _CONTEXT}
    for name in ("tee_height_mm", "air_temperature_c", "altitude_m"):
        context[name] = [f"{v:.0f}" for v in shots[name]]
    context["missed_face"] = ["yes" if v else "" for v in shots["missed_face"]]
    readings = [_written(shots[t], _WRITTEN[t]) for t in traits]
    return header, zip(*context.values(), *readings, shots["note"].tolist(), strict=True)


def _written(values: pd.Series, column: _Column) -> list[str]:
    # Adding zero turns a rounded -0.0 into 0.0.
    rounded = np.round(values.to_numpy() / column.si_per_unit / column.step) * column.step + 0.0
    return ["" if np.isnan(v) else f"{v:.{column.decimals}f}" for v in rounded]


def _write_csv(path: Path, header: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)
