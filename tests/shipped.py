"""What of the evidence and of the published checks goes with the program, as small JSON files.

The Markdown tables stay the source: the summary is read from their text, and a test holds both
together.
"""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / "tracker" / "decisions" / "checks"
EVIDENCE, PUBLISHED, LEVERS = (HOME / f"{n}.json" for n in ("evidence", "published", "levers"))


PLAIN = (
    (r"step(\d+), nobody logged it", r"a step of \1 mm that nobody logged"),
    (r"claimed (\d\.\d+) \(bin [\d.]+\)", r"where a chance of \1 was claimed"),
    (
        r"power on logged changes over a detector that",
        "logged changes found, times those that one finds who",
    ),
)
"""What the table calls shortly, in words for a reader who has not seen its introduction."""


def plain(text: str) -> str:
    """Return a requirement's name in plain words."""
    for short, words in PLAIN:
        text = re.sub(short, words, text)
    return text


def meaning(what: str, found: str) -> str:
    """Return what a requirement that is missed means for the reader of an answer."""
    share = float(found.partition(" ")[0])
    claimed = re.search(r"claimed (\d\.\d+)", what)
    if claimed:
        said = 100 * float(claimed[1])
        often = "more" if share > said else "less"
        return (
            f"A chance of {said:.0f} in 100 comes true {often} often than it says "
            f"({share:.0f} in 100)."
        )
    if "90 % intervals" in what:
        who = plain(what).partition(": 90 % intervals")[0] if ": 90 %" in what else "a change"
        how = "too narrow" if share < 90 else "too wide"
        return (
            f"The interval of {who} holds the truth in {share:.0f} of 100 cases, not in 90: take "
            f"it as somewhat {how}."
        )
    return f"{plain(what)[:1].upper()}{plain(what)[1:]}: {found} was found."


def rows_under(text: str, header: str) -> list[list[str]]:
    """Return the cells of the rows of the first table whose header begins so."""
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(header))
    found = []
    for line in lines[start + 2 :]:
        if not line.startswith("|"):
            break
        found.append([cell.strip() for cell in line.strip().strip("|").split(" |")])
    return found


def evidence_summary(text: str) -> Mapping[str, Any]:
    """Return the requirements of the evidence, what was found, and over how many seasons."""
    pattern = r"(?P<squads>\d+) squads of (?P<players>\d+) players.*?: (?P<seasons>\d+) seasons"
    return _summary(text, pattern, "the evidence does not say over how many seasons it ran")


def lever_summary(text: str) -> Mapping[str, Any]:
    """Return the requirements of first levers, what was found, and over how many players."""
    pattern = r"(?P<academies>\d+) academies, (?P<players>\d+) players"
    return _summary(text, pattern, "the table of levers does not say over how many players it ran")


def _summary(text: str, pattern: str, uncounted: str) -> Mapping[str, Any]:
    """Return what a table was tried over, by the names of a pattern, and its requirements."""
    counted = re.search(pattern, text, re.DOTALL)
    if counted is None:
        raise ValueError(uncounted)
    numbers = {name: int(number) for name, number in counted.groupdict().items()}
    return {**numbers, "requirements": requirements_in(text)}


def requirements_in(text: str) -> list[Mapping[str, Any]]:
    """Return the requirements of a table; of one that is missed also what that means."""
    requirements = []
    last = ""
    for what, wanted, found, met in rows_under(text, "| requirement"):
        whole = what
        if what.startswith("the same"):
            whole = f"{last}: {what.removeprefix('the same').lstrip(',: ')}"
        else:
            last = what.partition(":")[0]
        kept = met == "met"
        row = {"what": plain(whole), "wanted": wanted, "found": found, "met": kept}
        requirements.append({**row, "means": "" if kept else meaning(whole, found)})
    return requirements


def published_summary(text: str) -> Mapping[str, Any]:
    """Return every published check as it stands in the table."""
    names = ("check", "quantity", "source", "published", "found", "tolerance")
    checks = []
    for *cells, met in rows_under(text, "| check"):
        row: dict[str, Any] = dict(zip(names, cells, strict=True))
        why = met.removeprefix("**no**").removeprefix(": ") if met != "yes" else ""
        checks.append({**row, "met": met == "yes", "why_missed": why})
    return {"checks": checks}


def ship(path: Path, summary: Mapping[str, Any]) -> None:
    """Write a summary where the program finds it."""
    path.write_text(json.dumps(summary, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def main() -> None:
    """Write all summaries from the tables as they are committed."""
    ship(EVIDENCE, evidence_summary((ROOT / "tests/evidence/evidence.md").read_text("utf-8")))
    ship(LEVERS, lever_summary((ROOT / "tests/recovery/levers.md").read_text("utf-8")))
    ship(PUBLISHED, published_summary((ROOT / "tests/published/published.md").read_text("utf-8")))


if __name__ == "__main__":
    main()
