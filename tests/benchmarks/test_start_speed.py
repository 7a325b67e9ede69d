"""How long a command takes to start, in starts of an interpreter that does nothing."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench

ROOT = Path(__file__).parents[2]
COMMAND = "from tracker.cli.main import main; main()"
COMMANDS = (
    ("--help",),
    ("drive", "--help"),
    ("drive", "--club-speed-mps", "45", "--attack-deg", "0", "--loft-deg", "12"),
    ("flight", "--ball-speed-mps", "70", "--launch-deg", "12", "--spin-rpm", "2600"),
    ("load", "--help"),
    ("gains", "--help"),
    ("fit", "--help"),
)


def fastest(words, environment, repeats=5):
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        subprocess.run(
            [sys.executable, "-c", *words],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            check=True,
        )
        times.append(time.perf_counter() - begun)
    return min(times)


def test_a_command_starts_in_time(tmp_path, capsys):
    environment = {**os.environ, "DRIVE_PROGRESS_DB": f"sqlite:///{tmp_path / 'shots.db'}"}
    empty = fastest(["pass"], environment)
    found = {words: fastest([COMMAND, *words], environment) / empty for words in COMMANDS}
    with capsys.disabled():
        for words, ratio in found.items():
            print(
                f"\ndrive-progress {' '.join(words[:2])}: {ratio:.0f} x an empty interpreter",
                end="",
            )
    assert found["--help",] < min(ratio for words, ratio in found.items() if words[0] != "--help")
