"""How it is said what the chances that earlier fits gave have come to."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from tracker.as_json import fields_json
from tracker.decisions.checks.chances import ChanceBook, ChanceRow, Kind
from tracker.interval import sure_between

KIND_WORDS: Mapping[Kind, str] = MappingProxyType(
    {
        "level": "where a player stands",
        "moved": "which way a trait moved",
        "unlogged": "whether something changed that nobody logged",
        "answer": "which way a logged change acts in its player",
        "average": "which way a logged change acts on average",
        "promise": "whether a promised change helps",
    }
)
"""What a chance was given for."""
INTERVAL_WORDS: Mapping[Kind, str] = MappingProxyType(
    {
        "level": "a player's level",
        "moved": "how far a trait moved",
        "answer": "what a logged change did to its player",
        "average": "what a logged change does on average",
    }
)
"""What a 90 % interval was of."""

CHANCE_COLUMNS = ("Chance given", "How often", "Of how many", "Said", "Came right")
KIND_COLUMNS = ("Of what", "How often", "Of how many", "Said", "Came right")
INTERVAL_COLUMNS = ("90 % interval of", "How often", "Of how many", "Said", "Holds")

BY_ITS_LIGHTS: Final = (
    "All this is by the newest fit's lights, not by the truth: it shares its model and the earlier "
    "shots with those it judges."
)
NOTHING_YET: Final = (
    "Nothing can be judged yet: that takes a fit, more shots of the same players, and another fit."
)


def chances_sentence(book: ChanceBook) -> str:
    """Return whether earlier fits were as sure as they should have been."""
    every = book.every
    if every is None:
        return NOTHING_YET
    many = len(book.fits)
    return (
        f"{'One earlier fit' if many == 1 else f'{many} earlier fits'} gave {every.said} chances "
        f"of which more has been read since. {in_hundred(every.claimed)} in 100 were said to be "
        f"right; by the newest fit's lights {in_hundred(every.right)} are "
        f"({sure_between(in_hundred(every.low90), in_hundred(every.high90))}): "
        f"{surety_words(every)}."
    )


def surety_words(row: ChanceRow) -> str:
    """Return whether what was claimed is what came right."""
    if row.too_sure:
        return "the chances were too sure"
    if row.too_timid:
        return "the chances could have been surer"
    return "as sure as they should be"


def intervals_sentence(book: ChanceBook) -> str:
    """Return how many intervals hold, and how much was learned since; empty without any."""
    if not book.intervals:
        return ""
    said = sum(row.said for _, row in book.intervals)
    right = sum(row.said * row.right for _, row in book.intervals) / said
    return (
        f"Of {said} intervals that should hold 90 in 100, {in_hundred(right)} in 100 do. The "
        f"newest fit's are typically {book.narrowed:.2f} times as wide: the nearer to 1, the less "
        "was learned since, and the less it proves that fits agree."
    )


def in_hundred(share: float) -> str:
    """Return a share as a number in 100."""
    return f"{100 * share:.0f}"


def chance_rows(book: ChanceBook) -> tuple[tuple[str, ...], ...]:
    """Return the chances by their size under ``CHANCE_COLUMNS``."""
    return tuple((bin_words(low, high), *_cells(row)) for low, high, row in book.bins)


def kind_rows(book: ChanceBook) -> tuple[tuple[str, ...], ...]:
    """Return the chances by what they were given for under ``KIND_COLUMNS``."""
    return tuple((KIND_WORDS[kind], *_cells(row)) for kind, row in book.kinds)


def interval_rows(book: ChanceBook) -> tuple[tuple[str, ...], ...]:
    """Return the intervals by what they were of under ``INTERVAL_COLUMNS``."""
    return tuple((INTERVAL_WORDS[kind], *_cells(row)) for kind, row in book.intervals)


def bin_words(low: float, high: float) -> str:
    """Return a bin of chances, such as ``80 to 90 in 100``."""
    return f"{in_hundred(low)} to {in_hundred(high)} in 100"


def _cells(row: ChanceRow) -> tuple[str, ...]:
    low, middle, high = map(in_hundred, (row.low90, row.right, row.high90))
    said = f"{in_hundred(row.claimed)} in 100"
    return str(row.said), str(row.about), said, f"{middle} in 100 ({low} to {high})"


def chances_json(book: ChanceBook) -> Mapping[str, Any]:
    """Return the book as JSON: all chances, by size, by what they were given for, intervals."""
    return {
        "newest": book.newest,
        "fits": list(book.fits),
        "by_the_lights_of": "the newest fit, not the truth",
        "words": chances_sentence(book),
        "every": None if book.every is None else _json(book.every),
        "by_size": [{"from": low, "to": high, **_json(row)} for low, high, row in book.bins],
        "by_kind": [{"of": kind, **_json(row)} for kind, row in book.kinds],
        "intervals": [{"of": kind, **_json(row)} for kind, row in book.intervals],
        "narrowed": book.narrowed if book.intervals else None,
    }


def _json(row: ChanceRow) -> Mapping[str, Any]:
    return fields_json(row, "said about claimed right low90 high90 too_sure too_timid")
