"""What a fit costs: linear in sessions, flat in shots, and by stage. Writes ``costs.md``."""

import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench

ROOT = Path(__file__).resolve().parents[2]
BASE = (40, 25, 20, 3)
SIZES = (
    (*BASE, "sample"),
    (40, 25, 80, 3, "sample"),
    (40, 50, 20, 3, "sample"),
    (40, 25, 20, 7, "gradient"),
    (100, 40, 20, 3, "gradient"),
    (1000, 50, 30, 3, "gradient"),
)
HEAD = """# What a fit costs

Written by `make bench` (`tests/benchmarks/test_costs.py`), {day}, on 2 cores shared with other
work; the load average during each row stands in its last column. A gradient is the processor
time of one evaluation of the log density with its gradient, of all traits together, as the sampler
calls it; the ratio is to the first row. "Cells" are players x sessions x traits. Sampling is a
fit's own effort, trait by trait; its processor seconds hardly feel other work, its wall seconds do.
Rows start from session summaries without logged changes; - marks what was not drawn.

"""
COLUMNS = (
    "players x sessions x shots, traits",
    "gradient, us",
    "ratio",
    "ratio of cells",
    "sampling, processor s",
    "wall s",
    "fewest effective draws",
    "largest R-hat",
    "divergent",
    "peak memory, MiB",
    "load",
)
STAGES = """
## Where the seconds of a fit go

An invented academy of {players} players with ball data, seven traits and logged changes, all in
one new process; wall seconds, load average {load:.1f}.

| stage | wall s |
|---|---|
"""


def cost(players: int, sessions: int, shots: int, traits: int, how: str) -> dict[str, float]:
    said = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.one_fit", str(players), str(sessions),
         str(shots), str(traits), how],
        check=True, capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    return json.loads(said.stdout.splitlines()[-1])


def row_of(size: tuple[int, int, int, int], row: dict[str, float], base: dict[str, float]) -> str:
    players, sessions, shots, traits = size
    cells = players * sessions * traits / (BASE[0] * BASE[1] * BASE[3])
    drawn = (
        (f"{row['sample_cpu_s']:.1f}", f"{row['sample_s']:.1f}", f"{row['min_ess']:.0f}",
         f"{row['max_rhat']:.3f}", f"{row['divergences']:.0f}")
        if "sample_s" in row else ("-",) * 5
    )  # fmt: skip
    columns = (
        f"{players} x {sessions} x {shots}, {traits}", f"{row['gradient_us']:.0f}",
        f"{row['gradient_us'] / base['gradient_us']:.2f}", f"{cells:.2f}", *drawn,
        f"{row['peak_mib']:.0f}", f"{row['load']:.1f}",
    )  # fmt: skip
    return f"| {' | '.join(columns)} |\n"


def test_cost_grows_with_sessions_and_not_with_shots(capsys):
    found = {size[:4]: cost(*size) for size in SIZES}
    stages = cost(0, 0, 0, 0, "stages")
    base = found[BASE]
    lines = [
        HEAD.format(day=date.today()),
        f"| {' | '.join(COLUMNS)} |\n",
        f"|{'---|' * len(COLUMNS)}\n",
        *(row_of(size, row, base) for size, row in found.items()),
        STAGES.format(players=stages.pop("players"), load=stages.pop("load")),
    ]
    memory = stages.pop("peak_mib")
    lines += [f"| {name} | {seconds:.1f} |\n" for name, seconds in stages.items()]
    lines.append(f"\nPeak memory {memory:.0f} MiB.\n")
    text = "".join(lines)
    (Path(__file__).parent / "costs.md").write_text(text)
    with capsys.disabled():
        print("\n" + text)
    gradient = {size: row["gradient_us"] for size, row in found.items()}
    # more shots say more of the scatter, so that fewer nodes do; never the other way
    assert gradient[(40, 25, 80, 3)] / gradient[BASE] < 1.3
    per_cell = {s: us / (s[0] * s[1] * s[3]) for s, us in gradient.items()}
    assert max(per_cell.values()) < 2 * per_cell[BASE]
