"""Where the seconds of a fit of the invented academy go, in a process of its own.

Writes ``fit_stages.md``. The process before warms the caches on disk; the stages are timed by the
phases that the fit itself tells, so that they add up to the whole.
"""

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PLACE = Path(__file__).with_name("fit_stages.md")

CHILD = """
import json, sys, time
began, cpu = time.perf_counter(), time.process_time()
stages = []
def lap(name):
    global began, cpu
    now, used = time.perf_counter(), time.process_time()
    stages.append((name, now - began, used - cpu))
    began, cpu = now, used
from tracker.fits.fitting import FitRequest, fit_and_keep
from tracker.store.store import Store
lap("imports")
phase = "reading the store"
def say(name, done, total):
    global phase
    if name != phase:
        lap(phase)
        phase = name
with Store.open(sys.argv[1]) as store:
    kept = fit_and_keep(store, FitRequest(), say)
    lap(phase)
    from tracker.decisions.verdict import threshold
    threshold.calibrated_thresholds(kept.fit, "strike_up_mm", logged=True)
    lap("threshold of one trait")
print(json.dumps(stages))
"""


def stages(database: str) -> list[tuple[str, float, float]]:
    """Return name, wall and processor seconds of each stage of one fit in a new process."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, database],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return [tuple(s) for s in json.loads(done.stdout.splitlines()[-1])]


@pytest.mark.bench
def test_where_the_seconds_of_a_fit_go(tmp_path, capsys):
    from synthetic_data import demo_paths
    from tracker.store.loading import load_changes, load_shots
    from tracker.store.store import Store

    database = f"sqlite:///{tmp_path / 'demo.db'}"
    with Store.open(database) as store:
        load_shots(store, demo_paths().shots)
        load_changes(store, demo_paths().changes)
    stages(database)
    found = stages(database)
    wall, used = sum(s[1] for s in found), sum(s[2] for s in found)
    load = os.getloadavg()[0]
    lines = [
        "# Where the seconds of a fit go",
        "",
        f"Written by `make bench` (`tests/benchmarks/test_fit_stages.py`), {date.today()}: the "
        "invented academy in a new process whose caches on disk are warm, on "
        f"{os.cpu_count()} cores with a load average of {load:.1f}.",
        "",
        "| stage | wall, s | processor, s | share of the wall |",
        "|---|---|---|---|",
        *(f"| {n} | {w:.1f} | {c:.1f} | {100 * w / wall:.0f} % |" for n, w, c in found),
        f"| in all | {wall:.1f} | {used:.1f} | 100 % |",
        "",
    ]
    PLACE.write_text("\n".join(lines), encoding="utf-8")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    names = [s[0] for s in found]
    assert names[0] == "imports"
    assert names[-1] == "threshold of one trait"
    assert "drawing from the posterior" in names
    assert "adapting the physics to your balls" in names
