"""Writes every published check into one table: ``python -m tests.published.table``."""

from collections.abc import Sequence
from pathlib import Path

from tests.published import drive_anchors, statistics_anchors
from tests.published.anchor import HEADER, Anchor
from tests.shipped import PUBLISHED, published_summary, ship

PLACE = Path(__file__).with_name("published.md")

INTRODUCTION = """# Published values, found again by the product's own code

Written by `python -m tests.published.table`; the tests assert the same rows. A row is met when
the found value lies within the tolerance of the published one; a published range is shown by its
middle and half its width. "From memory" marks values that were not looked up again.
"""


def all_rows() -> tuple[Anchor, ...]:
    """Return every row; samples for some minutes."""
    from tests.published import sampled_anchors  # loads the sampler

    checks = (
        *statistics_anchors.CHECKS,
        *sampled_anchors.CHECKS,
        *drive_anchors.CHECKS,
        *drive_anchors.KNOWN_MISSES,
    )
    return tuple(row for check in checks for row in check())


def table(rows: Sequence[Anchor]) -> str:
    """Return the rows as Markdown, with how many are met."""
    missed = [row for row in rows if not row.met]
    counted = f"{len(rows) - len(missed)} of {len(rows)} rows are met; {len(missed)} are not:\n"
    named = "".join(
        f"- {row.check}, {row.quantity}: {row.cells()[4]} found, {row.cells()[3]} +- "
        f"{row.cells()[5]} wanted ({row.known_miss or 'unexplained'})\n"
        for row in missed
    )
    lines = [HEADER, ("---",) * len(HEADER), *(row.cells() for row in rows)]
    body = "".join(f"| {' | '.join(cells)} |\n" for cells in lines)
    return f"{INTRODUCTION}\n{counted if missed else 'All rows are met.'}\n{named}\n{body}"


if __name__ == "__main__":
    text = table(all_rows())
    PLACE.write_text(text, encoding="utf-8")
    ship(PUBLISHED, published_summary(text))
    print(PLACE)
