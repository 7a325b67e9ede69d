"""What a fit costs by size: linear in sessions, flat in shots. Writes ``costs.md`` beside it."""

import json
import math
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
    (40, 25, 20, 7, "sample"),
    (100, 40, 20, 3, "sample"),
    (400, 40, 20, 3, "fit"),
    (1000, 50, 30, 3, "sample"),
)
HEAD = """# What a fit costs

Written by `make bench` (`tests/benchmarks/test_costs.py`), {day}, on 2 cores shared with other
work; the load average during each row stands in its last column. A gradient is the processor
time of one evaluation of the log density with its gradient, exactly as the sampler calls it; the
ratio is to the first row. "Cells" are players x sessions x traits. Sampling is
4 chains x (600 + 1000) draws, compiling apart; its processor seconds hardly feel other work, its
wall seconds do. Rows start from session summaries; the row marked * starts from a table of single
shots, whose summarising took {summaries:.1f} s for {shots:,} shots, and includes the report and the
drawn levels.

"""
COLUMNS = (
    "players x sessions x shots, traits",
    "gradient, us",
    "ratio",
    "ratio of cells",
    "sampling, processor s",
    "ratio",
    "wall s",
    "fewest effective draws",
    "largest R-hat",
    "divergent",
    "compile, wall s",
    "peak memory, MiB",
    "load",
)


def cost(players: int, sessions: int, shots: int, traits: int, how: str) -> dict[str, float]:
    said = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.one_fit", str(players), str(sessions),
         str(shots), str(traits), how],
        check=True, capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    return json.loads(said.stdout.splitlines()[-1])


def test_cost_grows_with_sessions_and_not_with_shots(capsys):
    found = {size[:4]: cost(*size) for size in SIZES}
    big = next(size for size in SIZES if size[4] == "fit")
    lines = [
        HEAD.format(
            day=date.today(),
            summaries=found[big[:4]]["summaries_s"],
            shots=math.prod(big[:3]),
        ),
        f"| {' | '.join(COLUMNS)} |\n",
        f"|{'---|' * len(COLUMNS)}\n",
    ]
    base = found[BASE]
    cells = math.prod((BASE[0], BASE[1], BASE[3]))
    for *size, how in SIZES:
        row = found[tuple(size)]
        players, sessions, shots, traits = size
        mark = " *" if how == "fit" else ""
        lines.append(
            f"| {players} x {sessions} x {shots}, {traits}{mark} | {row['gradient_us']:.0f} | "
            f"{row['gradient_us'] / base['gradient_us']:.2f} | "
            f"{players * sessions * traits / cells:.2f} | {row['sample_cpu_s']:.1f} | "
            f"{row['sample_cpu_s'] / base['sample_cpu_s']:.2f} | {row['sample_s']:.1f} | "
            f"{row['min_ess']:.0f} | {row['max_rhat']:.3f} | {row['divergences']:.0f} | "
            f"{row['compile_s']:.1f} | {row['peak_mib']:.0f} | {row['load']:.1f} |\n"
        )
    text = "".join(lines)
    (Path(__file__).parent / "costs.md").write_text(text)
    with capsys.disabled():
        print("\n" + text)
    gradient = {size: row["gradient_us"] for size, row in found.items()}
    flat = gradient[(40, 25, 80, 3)] / gradient[BASE]
    assert 0.7 < flat < 1.3
    per_cell = {s: us / (s[0] * s[1] * s[3]) for s, us in gradient.items()}
    assert max(per_cell.values()) < 2 * per_cell[BASE]
