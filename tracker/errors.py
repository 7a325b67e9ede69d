"""Every exception a caller of the tracker may catch."""

from collections.abc import Sequence
from dataclasses import dataclass

MOST_LISTED = 20
"""Problems named in one message."""


@dataclass(frozen=True, slots=True)
class RowProblem:
    """One cell of a file that cannot be used: where, what was found, what would do.

    ``line`` counts the header as line 1; 0 means the file as a whole.
    """

    line: int
    column: str
    found: str
    wanted: str

    def __str__(self) -> str:
        place = f"line {self.line}, {self.column}" if self.line else self.column
        return f"{place}: found {self.found!r}, wanted {self.wanted}"


class TrackerError(Exception):
    """A request that was refused; the message names the place, the value and the remedy."""


class FileRefused(TrackerError):
    """A file whose rows cannot all be used: every problem, and how many rows were read.

    The text lists the first problems only; ``problems`` holds all of them.
    """

    def __init__(self, summary: str, problems: Sequence[RowProblem] = (), rows: int = 0) -> None:
        self.summary = summary
        self.problems = tuple(problems)
        self.rows = rows
        lines = [summary, *(f"  {p}" for p in self.problems[:MOST_LISTED])]
        if len(self.problems) > MOST_LISTED:
            lines.append(f"  and {len(self.problems) - MOST_LISTED} more problems")
        super().__init__("\n".join(lines))


class ConflictingShots(FileRefused):
    """Shots already stored with other readings."""


class UnknownPlayer(TrackerError):
    """A player who is not in the store, or not in the fit."""


class NoFit(TrackerError):
    """An answer was asked for before any fit was stored."""


class UnreadableFit(NoFit):
    """A stored fit that is damaged, or of another version."""

    def __init__(self, fit_id: int, why: str) -> None:
        super().__init__(f"fit {fit_id} cannot be read: {why}; run drive-progress fit again")


class NotEnoughData(TrackerError):
    """The store holds too little for what was asked; the message says what is missing."""


class NoPromise(TrackerError):
    """A change for which nothing can be promised; the message says why."""


class StoreUnavailable(TrackerError):
    """The database cannot be opened or is newer than this program."""


class DamagedDatabase(StoreUnavailable):
    """A database whose file is damaged: nothing is written into it."""

    def __init__(self, address: str, what: str, remedy: str) -> None:
        super().__init__(f"database {address}: {what}, so nothing was written; {remedy}")


class BadRequest(TrackerError):
    """An argument that does not fit: the message names it and says what would."""
