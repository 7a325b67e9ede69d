"""Runs the evidence and writes its table and picture: ``make evidence``."""

import sys
import time
from pathlib import Path

import numpy as np

from tests.evidence.drawing import draw_evidence
from tests.evidence.figures_of_merit import NOTHING_MM, Bin, Columns, Merit, merit
from tests.evidence.full_fits import Pair, compared
from tests.evidence.judging import columns, judge_season
from tests.evidence.seasons import KINDS, squads

HERE = Path(__file__).resolve().parent
SEED, SQUADS, FULL_SQUADS = 4711, 250, 4
# Not a seed that the verdict was worked out with: those were 1, 5 and 2026.


def judged(number: int, seed: int = SEED) -> Columns:
    """Return the judged seasons of some squads, telling how far it is."""
    rows = []
    for n, squad in enumerate(squads(seed, number)):
        rows += judge_season(squad, n, seed)
        if sys.stderr.isatty() or (n + 1) % 50 == 0:
            print(f"\rsquad {n + 1} of {number}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return columns(rows)


def _right(found: Bin) -> str:
    return f"{100 * found.right.value:.0f} %"


def _yes(met: bool) -> str:
    return "met" if met else "**missed**"


def _apart(pairs: list[Pair], one: str, other: str) -> str:
    found = np.abs([getattr(p, one) - getattr(p, other) for p in pairs])
    return f"{found.mean():.3f} and {found.max():.3f}"


def table(found: Merit, pairs: list[Pair], seconds: tuple[float, float], squads_run: int) -> str:
    """Return the evidence as Markdown."""
    seasons = found.unchanged.total
    wrong, cover = found.wrong_sign, found.cover["all players"]
    lines = [
        "# Evidence",
        "",
        "Written by `make evidence`; do not edit. Brackets: 95 % limits (Clopper & Pearson 1934). "
        f"Seeds fixed; {seconds[0] / 60:.1f} min of processor time, {seconds[1]:.0f} s of it for "
        "the full fits.",
        "",
        f"{squads_run} squads of {len(KINDS)} players, 12 sessions of 10-25 shots: "
        f"{squads_run * len(KINDS)} seasons, {seasons} of them of unchanged players. The generator "
        "is not the model: Student-t(5) shots (SD 9 mm, players differ), days' effects "
        "autoregressive with .3 (SD 3 mm), missed weeks and long breaks, four players in ten "
        "switch reading method (bias 1 mm), drills that do nothing for some. Every player is "
        "judged after each session from the fourth on (before, no window pair holds two sessions "
        "each) with the posterior and the threshold of that day.",
        "",
        "| requirement | wanted | found | |",
        "|---|---|---|---|",
        f"| unchanged players ever called real over 12 looks | <= 5 % | "
        f"{found.unchanged.percent()} | {_yes(found.unchanged.value <= 0.05)} |",
        f"| wrong direction among real | <= 2.5 % | {wrong.percent()} | "
        f"{_yes(wrong.value <= 0.025)} |",
    ]
    for b in found.bins:
        lines.append(
            f"| direction right, claimed {b.claimed:.3f} (bin {b.name:g}) | within 3 points | "
            f"{b.right.percent()}, n = {b.right.total} | {_yes(abs(b.apart) <= 0.03)} |"
        )
    lines += [
        f"| 90 % intervals of the change, after session 12 | 88-92 % | {cover.percent()} | "
        f"{_yes(0.88 <= cover.value <= 0.92)} |",
        "",
        "| more of the same run | |",
        "|---|---|",
        f"| unchanged, no change logged: ever called real | {found.by_kind['plain'].percent()} |",
        "| unchanged, logged a drill that does nothing: ever called real | "
        f"{found.by_kind['sham'].percent()} |",
        "| unmoved by a drill that moves others: ever called real | "
        f"{found.by_kind['deaf'].percent()} |",
        f"| unchanged, with .99 for everybody: ever called real | {found.at_default.percent()} |",
        f"| moved players called real in the right direction | {found.power.percent()} |",
        f"| intervals, unchanged players | {found.cover['unchanged'].percent()} |",
        f"| intervals, moved players | {found.cover['moved'].percent()} |",
    ]
    for b in found.bins_beyond:
        lines.append(
            f"| direction right, claimed {b.claimed:.3f}, true change beyond {NOTHING_MM:g} mm | "
            f"{b.right.percent()}, n = {b.right.total} |"
        )
    for name, (low, mid, high) in found.thresholds.items():
        lines.append(
            f"| threshold, players {name} | {mid:.3f} (10-90 %: {low:.3f} to {high:.3f}) |"
        )
    lines += [
        "",
        "| habit, unchanged players called changed | once | over the looks |",
        "|---|---|---|",
    ]
    for name, once in found.habits_once.items():
        lines.append(f"| {name} | {once.percent()} | {found.habits_ever[name].percent()} |")
    lines += [
        f"| 90 % interval of the t-test holds the truth | {found.t_cover.percent()} | |",
        "",
        f"Full fits: {len(pairs)} seasons ({len(pairs) // len(KINDS)} squads after session 12) "
        "through the whole model. Differences of P(change > 0), mean and largest: levels of the "
        f"fit against the closed form with its scales {_apart(pairs, 'full', 'surrogate')}; that "
        "closed form against the quick fit that stands in for the fit in the tables above "
        f"{_apart(pairs, 'surrogate', 'quick')}; with days alike allowed for, the levels that a "
        f"verdict uses against the closed form {_apart(pairs, 'verdict', 'careful')}. A share of "
        "1,000 draws is itself known to .016 (SD) at worst.",
        "",
        *_reasons(found),
        "![False alarms by look, claims against truth, coverage](evidence.png)",
        "",
    ]
    return "\n".join(lines)


def _reasons(found: Merit) -> list[str]:
    """Return why the allowance for neighbouring sessions is there, and why figures miss."""
    alone = ", ".join(
        f"claimed {b.claimed:.3f}, right {100 * b.right.value:.1f} %" for b in found.bins_alone
    )
    missed = [b for b in found.bins if abs(b.apart) > 0.03]
    lines = [
        "The fitted model takes days as independent, the generator does not. The verdict therefore "
        "weighs the fit's draws anew with the likeness of neighbouring sessions that the squad's "
        "own sessions show (`tracker/decisions/likeness.py`), and the threshold is calibrated the "
        f"same way. Without that allowance, in the same run: {alone}.",
        "",
        "Looks at one player share most of their shots, so the limits in brackets of the rows on "
        "direction, which count every look, are too narrow.",
        "",
    ]
    if missed:
        within = ", ".join(f"{_right(b)} of {b.right.total}" for b in found.bins_within)
        lines += [
            "Claims "
            + " and ".join(f"of about {b.name:g}" for b in missed)
            + " are further from the truth than 3 points. The miss lies in looks at players of the "
            f"moved group whose true change was below {NOTHING_MM:g} mm at that look, mostly "
            "before their drill, when only a creep of .3 mm a root week moves them: right in "
            f"{within} in the four bins, not far from a coin. The rows above on larger changes "
            "leave them out; that split was made after the miss was seen. The model "
            "gives one drift to the whole squad, and sudden changes and "
            "days alike both raise it.",
            "",
        ]
    cover = found.cover
    lines += [
        f"Intervals: {100 * cover['unchanged'].value:.1f} % for unchanged players, whose level "
        "stands still while the model allows for drift, and "
        f"{100 * cover['moved'].value:.1f} % for moved ones, whose changes have longer tails than "
        "the model's and whose days are alike.",
        "",
    ]
    return lines


def main() -> None:
    """Run everything and write the files."""
    began = time.process_time()
    rows = judged(SQUADS)
    found = merit(rows)
    full_began = time.process_time()
    pairs = list(compared(SEED + 1, FULL_SQUADS))
    ended = time.process_time()
    seconds = (ended - began, ended - full_began)
    text = table(found, pairs, seconds, SQUADS)
    (HERE / "evidence.md").write_text(text, encoding="utf-8")
    draw_evidence(HERE / "evidence.png", rows, found)
    print(text)


if __name__ == "__main__":
    main()
