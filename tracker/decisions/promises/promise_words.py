"""How promises are said: the answer in a sentence, one promise, and why nothing was promised."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from models.traits import TRAITS
from tracker.decisions.distance.gain_words import gain_with_range
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.promises.coverage import Coverage
from tracker.decisions.promises.found import DrillPromises, PromiseBook, PromiseRow, Status
from tracker.interval import Interval, sure_between
from tracker.promise import Promise
from tracker.records import Change
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import chance_words

STATUS_WORDS: Mapping[Status, str] = MappingProxyType(
    {
        "kept": "kept",
        "less": "less than promised",
        "more": "more than promised",
        "early": "too early to say",
    }
)
"""How a promise is said to stand."""

NOTHING_PROMISED: Final = (
    "Nothing is promised yet. A promise is stored when a change is logged after a fit: fit, then "
    "log the drill or other change before it starts; later fits say what was found of it."
)
DOUBT: Final = (
    "Found moves lean on what the drill did to others too, and promises of one drill hold or fail "
    "together: with few drills the share is less sure than its range says."
)


def move_words(trait: str, move: Interval, system: System) -> str:
    """Return ``+4.0 mm (90 % sure between +1.0 and +7.0 mm)``."""
    how = trait_display(trait, system)
    return f"{value_text(move.median, how, signed=True)} ({range_text(move, how, signed=True)})"


def promise_sentence(promise: Promise, system: System) -> str:
    """Return what was promised of one change."""
    label = TRAITS[promise.trait].label
    said = f"promised: {label} {move_words(promise.trait, promise.move, system)}"
    taken = "" if promise.lever == promise.change.name else f", as {promise.lever}"
    return f"{said} and {gain_with_range(promise.gain, TOWARD, system)}{taken}"


def found_sentence(row: PromiseRow, system: System) -> str:
    """Return what was found of one promise, and whether it held."""
    if row.inside is None or row.found is None:
        return f"{STATUS_WORDS['early']}: {row.why}"
    found = move_words(row.promise.trait, row.found, system)
    return f"found: {found}; {STATUS_WORDS[row.status]} ({chance_words(row.inside)} that it held)"


def row_sentence(row: PromiseRow, system: System) -> str:
    """Return one promise and what was found of it, as one line about its player."""
    change = row.promise.change
    return (
        f"{change.name} from {change.start:%d %b %Y}, {promise_sentence(row.promise, system)}; "
        f"{found_sentence(row, system)}."
    )


def book_sentence(book: PromiseBook) -> str:
    """Return how promises turned out as a whole."""
    if not book.rows:
        return NOTHING_PROMISED
    early = len(book.rows) - book.coverage.of
    if not book.coverage.of:
        many = "The promise that was made is" if early == 1 else f"All {early} promises are"
        return f"{many} too early to judge: read more since the changes began, and fit again."
    said = f"{coverage_words(book.coverage)} kept; nine in ten should be."
    if book.promised_over_found is not None:
        said += f" {ratio_words(book.promised_over_found)}."
    else:
        said += " Whether what was found pays at all is not settled yet."
    if early:
        said += f" For {early} more it is too early to say."
    return said


def coverage_words(coverage: Coverage) -> str:
    """Return ``About 7.2 of 9 promises (90 % sure between 52 and 93 in 100)``."""
    low, high = (f"{100 * share:.0f}" for share in (coverage.low90, coverage.high90))
    many = "promise" if coverage.of == 1 else "promises"
    return (
        f"About {coverage.inside:.1f} of {coverage.of} {many} "
        f"({sure_between(low, f'{high} in 100')}) {'is' if coverage.of == 1 else 'are'}"
    )


def ratio_words(ratio: Interval) -> str:
    """Return how large the promised gains are beside the found."""
    return (
        f"What was promised is {ratio.median:.1f} times what was found "
        f"({sure_between(f'{ratio.low90:.1f}', f'{ratio.high90:.1f}')})"
    )


def drill_row(drill: DrillPromises) -> tuple[str, str, str, str]:
    """Return one drill's line: name, trait, how many held, promised over found."""
    coverage, ratio = drill.coverage, drill.promised_over_found
    if not coverage.of:
        return drill.name, TRAITS[drill.trait].label, STATUS_WORDS["early"], ""
    low, high = (f"{100 * share:.0f}" for share in (coverage.low90, coverage.high90))
    return (
        drill.name,
        TRAITS[drill.trait].label,
        f"{coverage.inside:.1f} of {coverage.of} ({low} to {high} in 100)",
        "not settled"
        if ratio is None
        else f"{ratio.median:.1f} times ({ratio.low90:.1f} to {ratio.high90:.1f})",
    )


def without_sentences(without: Sequence[tuple[Change, str]]) -> tuple[str, ...]:
    """Return of which new changes nothing is promised, and why; one sentence a reason."""
    by_reason: dict[str, list[Change]] = {}
    for change, why in without:
        by_reason.setdefault(why, []).append(change)
    return tuple(
        f"Nothing is promised of {_changes(changes)}: {why}." for why, changes in by_reason.items()
    )


def _changes(changes: Sequence[Change]) -> str:
    first = f"{changes[0].name} ({changes[0].player})"
    return first if len(changes) == 1 else f"{first} and {len(changes) - 1} more"
