"""What the section on history says: every kept fit, and why one believes what another did not."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from tracker.decisions.history_of_fits import FitsCompared, compared
from tracker.decisions.history_words import cause_sentences, move_row, moves_sentence
from tracker.pages.shared.context import FitKey, stored_fit
from tracker.pages.shared.once import once
from tracker.pages.shared.phrases import Rows, counted
from tracker.store.rows import FitSummary
from tracker.units import System

FIT_COLUMNS = ("Fit", "Made (UTC)", "Players", "Sessions", "Shots", "Data", "Version", "Checks")
LISTED = 20
"""Fits listed; `drive-progress history` lists all."""
DIGEST_SHOWN = 8
HOW_TO_READ_FITS = (
    "The same letters under Data: the same shots and logged changes. Coach, Player, Squad and "
    "Season show what an earlier fit believed when it is chosen in their side bar, under As "
    "believed on; in a terminal every command that answers from a fit takes "
    "`--as-of 2026-06-01`."
)
HOW_TO_READ_MOVES = (
    "A level is here when it moved by more than the change that is worth having. Then: at the "
    "earlier fit's last session. Now: at the later fit's last session. That day, seen now: the "
    "earlier day as the later fit sees it; where it differs from what was believed then, the view "
    "changed, not the player."
)


@dataclass(frozen=True, slots=True)
class HistoryView:
    """The list of kept fits, and which neighbours may be compared, the newest first."""

    sentence: str
    fits: Rows
    pairs: tuple[tuple[int, int], ...]
    """Numbers of the earlier and the later fit."""


@dataclass(frozen=True, slots=True)
class ComparedView:
    """What changed between two fits, and why."""

    sentence: str
    causes: tuple[str, ...]
    moves: Rows


def history_view(fits: Sequence[FitSummary]) -> HistoryView:
    """Return the list of a club's fits, given the latest first."""
    size = sum(f.size for f in fits) / 1e6
    said = f"{counted(len(fits), 'fit')} kept, {size:.0f} MB."
    if len(fits) > LISTED:
        said += f" The latest {LISTED} are listed."
    if len(fits) == 1:
        said += " After the next fit this section says what changed and why."
    return HistoryView(
        said,
        tuple(_row(f) for f in fits[:LISTED]),
        tuple((before.id, after.id) for after, before in pairwise(fits[: LISTED + 1])),
    )


def compared_view(found: FitsCompared, system: System) -> ComparedView:
    """Return what changed between two fits in the reader's units."""
    return ComparedView(
        moves_sentence(found),
        cause_sentences(found, system),
        tuple(move_row(m, system) for m in found.levels),
    )


def pair_words(pair: tuple[int, int]) -> str:
    """Return how two neighbouring fits are offered."""
    return f"from fit {pair[0]} to fit {pair[1]}"


@once(8)
def compared_fits(before: FitKey, after: FitKey) -> FitsCompared:
    """Return two stored fits compared, worked out once for all readers.

    Raises UnreadableFit for a fit that cannot be read.
    """
    return compared(stored_fit(before), stored_fit(after))


def _row(fit: FitSummary) -> tuple[str, ...]:
    return (
        str(fit.id),
        f"{fit.created_at:%d %b %Y, %H:%M}",
        str(fit.players),
        str(fit.sessions),
        str(fit.shots),
        fit.data_digest[:DIGEST_SHOWN],
        str(fit.versions.get("drive-progress", "")),
        "in doubt" if fit.report.get("problems") else "passed",
    )
