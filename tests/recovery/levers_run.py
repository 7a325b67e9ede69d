"""Judges first levers over all invented academies and writes their table: ``make levers``."""

import os
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from tests.recovery.lever_worlds import ACADEMIES, NO_HISTORY, RULES, SIZES, Scored, scored_academy
from tests.shipped import LEVERS, lever_summary, ship

TABLE = Path(__file__).with_name("levers.md")
OF_FORMER = 0.6
"""Regret of the tool over that of the former rule, at most, where the log tells of drills."""
BINS = ((0.0, 0.1), (0.1, 0.3), (0.3, 0.6), (0.6, 1.01))
DRAWN_AGAIN = 1000
WORLD_WORDS = {
    "as the demo": "where drills do what they do in the demo",
    "half": "where drills do half of that",
    "double": "where they do twice that",
    NO_HISTORY: "where none was ever logged",
}


def judged() -> list[Scored]:
    """Return every player of every academy, several academies at once."""
    with ProcessPoolExecutor(os.cpu_count(), get_context("spawn")) as pool:
        return [
            one
            for found in pool.map(scored_academy, *zip(*ACADEMIES, strict=True))
            for one in found
        ]


def regrets(scored: Sequence[Scored], rule: str) -> np.ndarray:
    """Return what each player's lever by a rule pays less than the best, m a session."""
    return np.array([s.best_rate - s.rates[rule] for s in scored])


def ratio(tool: np.ndarray, other: np.ndarray) -> tuple[float, str]:
    """Return a ratio of two sums over players, and with its 90 % range, players drawn again."""
    rng = np.random.default_rng(1)
    picks = rng.integers(0, tool.size, (DRAWN_AGAIN, tool.size))
    below = other[picks].sum(axis=1)
    again = tool[picks].sum(axis=1)[below > 0] / below[below > 0]
    return _ranged(float(tool.sum() / other.sum()), *np.quantile(again, [0.05, 0.95]))


def _ranged(
    found: float, low: float, high: float, decimals: int = 2, unit: str = ""
) -> tuple[float, str]:
    return found, f"{found:.{decimals}f}{unit} ({low:.{decimals}f} to {high:.{decimals}f})"


def _mean(values: np.ndarray, decimals: int = 2, unit: str = "") -> tuple[float, str]:
    found, half = float(values.mean()), 1.645 * float(values.std()) / np.sqrt(values.size)
    return _ranged(found, found - half, found + half, decimals, unit)


def table(scored: Sequence[Scored], seconds: float) -> str:
    """Return what first levers do, as Markdown."""
    rows = [
        *(_against_former(scored, world) for world in SIZES if SIZES[world] > 0),
        _against_former(scored, NO_HISTORY),
        *(_against(scored, rule) for rule in RULES[2:]),
        _promised(scored),
        _held(scored),
        *(_best(scored, low, high) for low, high in BINS),
    ]
    nothing = [s.first_claim for s in scored if SIZES.get(s.world) == 0 and s.first_claim]
    idle = sum(SIZES.get(s.world) == 0 for s in scored)
    lines = [
        "# First levers",
        "",
        "Written by `make levers`; do not edit. "
        f"{len(ACADEMIES)} academies, {len(scored)} players; what is invented stands in "
        "`tests/recovery/lever_worlds.py`. In brackets 90 % ranges, players drawn again. Seeds "
        f"fixed; {seconds / 60:.0f} min.",
        "",
        "| requirement | wanted | found | |",
        "|---|---|---|---|",
        *(f"| {what} | {wanted} | {found} | {'met' if met else '**missed**'} |"
          for what, wanted, found, met in rows),
        "",
        f"Where no drill does anything, {len(nothing)} of {idle} players are told to act and "
        f"{np.mean([claimed for claimed, _ in nothing]):.1f} m are promised on average: of a new "
        "drill a log cannot say that it will not work.",
        "",
    ]  # fmt: skip
    return "\n".join(lines)


def _against_former(scored: Sequence[Scored], world: str) -> tuple[str, str, str, bool]:
    mine = [s for s in scored if s.world == world]
    found, said = ratio(regrets(mine, "tool"), regrets(mine, "former rule"))
    most = 1.0 if world == NO_HISTORY else OF_FORMER
    what = f"lost by the first lever, of what the rule before it loses, {WORLD_WORDS[world]}"
    return what, f"<= {most:.1f}", said, found <= most


def _against(scored: Sequence[Scored], rule: str) -> tuple[str, str, str, bool]:
    words = {
        "commonest": "always the commonest drill",
        "textbook": "the trait farthest from a textbook delivery",
        "last four shots": "the same by the last four shots",
    }[rule]
    found, said = ratio(regrets(scored, "tool"), regrets(scored, rule))
    what = f"lost by the first lever, of what a coach loses who takes {words}"
    return what, "below 1", said, found < 1


def _promised(scored: Sequence[Scored]) -> tuple[str, str, str, bool]:
    claims = np.array([s.first_claim for s in scored if s.first_claim])
    found, said = ratio(claims[:, 0], claims[:, 1])
    what = f"claimed over true gain of the {len(claims)} first levers"
    return what, "0.9-1.1", said, 0.9 <= found <= 1.1


def _held(scored: Sequence[Scored]) -> tuple[str, str, str, bool]:
    share = np.array([np.mean([c[4] for c in s.claims]) for s in scored])
    found, said = _mean(100 * share, 1, " %")
    what = "true outcomes inside the 90 % intervals of all levers"
    return what, "85-95 %", said, 85 <= found <= 95


def _best(scored: Sequence[Scored], low: float, high: float) -> tuple[str, str, str, bool]:
    mine = np.array([c for s in scored for c in s.claims if low <= c[5] < high])
    claimed = mine[:, 5].mean()
    true, said = _mean(mine[:, 6])
    what = f"how often a lever is best, where a chance of {claimed:.2f} is given"
    met = abs(claimed - true) <= 0.1
    return what, "within 0.10", f"{said}, n = {len(mine)}", bool(met)


def main() -> None:
    """Judge the academies; write the table and what is shipped of it."""
    started = time.monotonic()
    scored = judged()
    text = table(scored, time.monotonic() - started)
    TABLE.write_text(text, encoding="utf-8")
    ship(LEVERS, lever_summary(text))
    print(text)


if __name__ == "__main__":
    main()
