"""Fits the battery's logs in two processes and writes the table.

Run as ``python -m tests.recovery.battery_run``;
``--only WORD`` runs the shapes whose name holds the word; ``--seeds N`` logs a shape.
"""

import argparse
import multiprocessing
import os
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.recovery.battery import REFERENCES, SHAPES, Log, Shape, make_log

TABLE = Path(__file__).with_name("battery.md")
SEEDS = 3
WORKERS = 2
ENDS = (0.05, 0.95)
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class FitRow:
    """How one fit of the battery went.

    ``hits`` says for each player and trait that was read whether the 90 % interval of the level
    at the player's last session holds the true one.
    """

    shape: str
    seed: int
    problems: tuple[str, ...]
    attempts: int | None
    divergences: int
    max_rhat: float
    min_ess: float
    seconds: float
    hits: tuple[tuple[str, bool], ...]
    error: str = ""

    @property
    def clean(self) -> bool:
        """Return whether the fit passed its checks at the first attempt."""
        return not self.error and not self.problems and self.attempts in (1, None)

    @property
    def needs_somebody(self) -> bool:
        """Return whether the user would have to do something before quoting the fit."""
        return bool(self.error or self.problems)


def fit_row(shape: Shape, seed: int) -> FitRow:
    """Fit one log and compare it with its truth; a fit that raises is a row with its error."""
    from tracker.fits.fitting import FitRequest, fit_shots

    log = make_log(shape, seed)
    began = time.monotonic()
    try:
        fit, _ = fit_shots(log.shots, log.changes, FitRequest(seed, references=REFERENCES))
    except Exception as error:
        took = time.monotonic() - began
        said = f"{type(error).__name__}: {error}".splitlines()[0][:200]
        return FitRow(shape.name, seed, (), None, 0, np.nan, np.nan, took, (), said)
    seconds = time.monotonic() - began
    reports: Sequence[Any] = list((getattr(fit.info, "reports", None) or {}).values())
    joined = fit.info.report
    attempts = [getattr(r, "attempts", None) for r in (*reports, joined)]
    known = [a for a in attempts if a is not None]
    return FitRow(
        shape.name,
        seed,
        tuple(dict.fromkeys(p for r in (*reports, joined) for p in r.problems)),
        max(known) if known else None,
        joined.divergences,
        max((r.max_rhat for r in (*reports, joined)), default=np.nan),
        min((r.min_ess for r in (*reports, joined)), default=np.nan),
        seconds,
        tuple(hits(fit, log)),
    )


def hits(fit: Any, log: Log) -> Iterable[tuple[str, bool]]:
    """Yield for each player and trait read whether the interval holds the last session's level."""
    read = log.shots.groupby("player")
    for player, rows in read:
        if player not in {p.name for p in fit.players}:
            continue
        last = fit.sessions(str(player))[-1]
        for trait in fit.traits:
            if rows[trait].notna().any():
                low, high = np.quantile(fit.of(str(player), trait).now, ENDS)
                yield trait, bool(low <= log.level[str(player), last, trait] <= high)


def run(shapes: Sequence[Shape], seeds: int, workers: int = WORKERS) -> list[FitRow]:
    """Return a row a fit; a shape's logs follow one another in a process, which keeps its model."""
    jobs = [(shape, seed) for shape in shapes for seed in range(1, seeds + 1)]
    for name in ONE_THREAD:  # the processes started below read them
        os.environ[name] = "1"
    context = multiprocessing.get_context("spawn")
    with context.Pool(workers) as pool:
        rows = []
        for row in pool.imap(_fit_row, jobs, chunksize=seeds):
            print(line_of(row), flush=True)
            rows.append(row)
    return rows


def _fit_row(job: tuple[Shape, int]) -> FitRow:
    return fit_row(*job)


def line_of(row: FitRow) -> str:
    """Return a fit as a row of the table."""
    said = row.error or "; ".join(row.problems) or "-"
    inside = sum(hit for _, hit in row.hits)
    return (
        f"| {row.shape} | {row.seed} | {'yes' if row.clean else 'no'} | {row.attempts or '-'} | "
        f"{row.divergences} | {row.max_rhat:.3f} | {row.min_ess:.0f} | {row.seconds:.1f} | "
        f"{inside}/{len(row.hits)} | {said} |"
    )


def cover(rows: Iterable[FitRow], trait: str | None = None) -> tuple[int, int]:
    """Return how many intervals hold the truth, of how many."""
    found = [hit for row in rows for name, hit in row.hits if trait in (name, None)]
    return sum(found), len(found)


def table(rows: Sequence[FitRow]) -> str:
    """Return the battery as Markdown: in all, by trait, by shape, by fit."""
    clean = sum(row.clean for row in rows)
    inside, total = cover(rows)
    lines = [
        "# A battery of ordinary logs",
        "",
        "Written by `python -m tests.recovery.battery_run`. The logs come from "
        "`tests/recovery/battery.py`, which is not the model: uniform day effects, levels that "
        "stand, step or improve steadily, misreads, stuck devices, coarse digits. The truth is the "
        "level at a player's last session, without the day's effect.",
        "",
        f"- {len(rows)} fits of {len({r.shape for r in rows})} shapes; {clean} "
        f"({100 * clean / len(rows):.1f} %) passed their checks at the first attempt; "
        f"{sum(r.needs_somebody for r in rows)} would need somebody.",
        f"- {inside} of {total} 90 % intervals of levels hold the true one "
        f"({100 * inside / max(total, 1):.1f} %).",
        f"- {sum(r.seconds for r in rows):.0f} s of fits in {WORKERS} processes; the longest "
        f"{max(r.seconds for r in rows):.0f} s, the median "
        f"{np.median([r.seconds for r in rows]):.1f} s.",
        "",
        "| trait | 90 % intervals that hold the level |",
        "|---|---|",
    ]
    for trait in dict.fromkeys(name for row in rows for name, _ in row.hits):
        inside, total = cover(rows, trait)
        lines.append(f"| {trait} | {inside}/{total} ({100 * inside / total:.0f} %) |")
    lines += [
        "",
        "| shape | clean at first | hold the level | seconds a fit |",
        "|---|---|---|---|",
    ]
    for shape in dict.fromkeys(row.shape for row in rows):
        mine = [row for row in rows if row.shape == shape]
        inside, total = cover(mine)
        lines.append(
            f"| {shape} | {sum(r.clean for r in mine)}/{len(mine)} | {inside}/{total} "
            f"({100 * inside / max(total, 1):.0f} %) | "
            f"{np.mean([r.seconds for r in mine]):.1f} |"
        )
    lines += [
        "",
        "| shape | seed | clean | attempts | divergent | R-hat | ESS | s | held | said |",
        "|---|---|---|---|---|---|---|---|---|---|",
        *(line_of(row) for row in rows),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run what was asked and write the table of a whole battery."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", default="")
    asked.add_argument("--seeds", type=int, default=SEEDS)
    asked.add_argument("--workers", type=int, default=WORKERS)
    asked.add_argument("--out", type=Path)
    given = asked.parse_args()
    chosen = [shape for shape in SHAPES if given.only in shape.name]
    began = time.monotonic()
    rows = run(chosen, given.seeds, given.workers)
    print(f"{time.monotonic() - began:.0f} s")
    out = given.out or (None if given.only else TABLE)
    if out is None:
        print(table(rows))
    else:
        out.write_text(table(rows))


if __name__ == "__main__":
    main()
