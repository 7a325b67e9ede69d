"""What the pages say of promises: how many held, each against what was found, and the picture."""

from dataclasses import dataclass

from models.traits import TRAITS
from tracker.charts.promise import PromisePoint, promise_text
from tracker.decisions.distance.gain_words import gain_brief
from tracker.decisions.promises.found import PromiseBook, PromiseRow
from tracker.decisions.promises.promise_words import (
    DOUBT,
    NOTHING_PROMISED,
    STATUS_WORDS,
    book_sentence,
    drill_row,
    row_sentence,
)
from tracker.pages.shared.phrases import Rows, amount_brief
from tracker.units import System, shown
from tracker.words import chance_words

PROMISE_COLUMNS = (
    "Player", "Change", "Starts", "Acts on", "Promised", "Found", "Gain promised", "Gain found",
    "Carry found", "Held",
)  # fmt: skip
BY_DRILL_COLUMNS = ("Drill or change", "Acts on", "Held", "Promised over found")


@dataclass(frozen=True, slots=True)
class PromisesView:
    """Everything the section on promises shows; ``points`` is empty while none can be judged."""

    sentence: str
    points: tuple[PromisePoint, ...]
    picture_text: str
    drills: Rows
    rows: Rows
    notes: tuple[str, ...]


def promises_view(book: PromiseBook, system: System) -> PromisesView:
    """Return what to show of a squad's promises."""
    points = tuple(point for row in book.judged if (point := _point(row, system)) is not None)
    return PromisesView(
        sentence=book_sentence(book),
        points=points,
        picture_text=promise_text(points) if points else "",
        drills=tuple(drill_row(drill) for drill in book.by_drill),
        rows=tuple(_line(row, system) for row in reversed(book.rows)),
        notes=(DOUBT,) if book.rows else (),
    )


def player_promises(book: PromiseBook, player: str, system: System) -> tuple[str, ...]:
    """Return a sentence for each promise made to a player, the latest first."""
    rows = [row for row in reversed(book.rows) if row.promise.change.player == player]
    return tuple(row_sentence(row, system) for row in rows) or (
        f"{player}: {NOTHING_PROMISED[0].lower()}{NOTHING_PROMISED[1:]}",
    )


def _point(row: PromiseRow, system: System) -> PromisePoint | None:
    if row.found_gain_m is None:
        return None
    change = row.promise.change
    return PromisePoint(
        label=f"{change.player}, {change.name}",
        promised=shown(row.promise.gain, "distance", system),
        found=shown(row.found_gain_m, "distance", system),
        status=STATUS_WORDS[row.status],
    )


def _line(row: PromiseRow, system: System) -> tuple[str, ...]:
    promise, change, trait = row.promise, row.promise.change, row.promise.trait
    return (
        change.player,
        change.name,
        f"{change.start:%d %b %Y}",
        TRAITS[trait].label,
        amount_brief(trait, promise.move, system, change=True),
        "" if row.found is None else amount_brief(trait, row.found, system, change=True),
        gain_brief(promise.gain, system),
        "" if row.found_gain_m is None else gain_brief(row.found_gain_m, system),
        "" if row.found_carry_m is None else gain_brief(row.found_carry_m, system),
        f"{STATUS_WORDS['early']}: {row.why}"
        if row.inside is None
        else f"{STATUS_WORDS[row.status]}, {chance_words(row.inside)}",
    )
