"""What the section on chances shows: how sure earlier fits were, beside what came right."""

from dataclasses import dataclass

from tracker.charts.chances import ChancePoint, chance_text
from tracker.decisions.checks.chance_words import (
    chance_rows,
    chances_sentence,
    interval_rows,
    intervals_sentence,
    kind_rows,
)
from tracker.decisions.checks.chances import ChanceBook
from tracker.pages.shared.phrases import Rows


@dataclass(frozen=True, slots=True)
class ChancesView:
    """Everything the section shows; ``points`` is empty while nothing can be judged."""

    sentence: str
    intervals_sentence: str
    points: tuple[ChancePoint, ...]
    picture_text: str
    by_size: Rows
    by_kind: Rows
    intervals: Rows


def chances_view(book: ChanceBook) -> ChancesView:
    """Return what to show of the chances."""
    points = tuple(
        ChancePoint(
            100 * row.claimed, 100 * row.right, (100 * row.low90, 100 * row.high90), row.said
        )
        for _, _, row in book.bins
    )
    return ChancesView(
        sentence=chances_sentence(book),
        intervals_sentence=intervals_sentence(book),
        points=points,
        picture_text=chance_text(points) if points else "",
        by_size=chance_rows(book),
        by_kind=kind_rows(book),
        intervals=interval_rows(book),
    )
