"""What is kept of a promise: what the tool said of a change on the day it was logged."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from tracker.interval import Interval
from tracker.records import Change


@dataclass(frozen=True, slots=True)
class Promise:
    """What was promised of one logged change, by a fit that had not seen it.

    ``stored_at`` (UTC) is given by the store.
    """

    change: Change
    """It aims at one trait."""
    lever: str
    """What it was taken for: itself, where it was known here, or a new drill for its trait."""
    move: Interval
    """How far the trait's level was to move, its unit."""
    target: float
    """Where the level was to stop, the trait's unit."""
    gains: Mapping[str, Interval]
    """What the move was to be worth by yardstick: m, and points for staying inside."""
    mean_gain_m: float
    """Mean of the gain toward the target, m."""
    effort_sessions: float
    fit_id: int
    stored_at: datetime | None = None

    @property
    def trait(self) -> str:
        """Return the trait that the change aims at."""
        if self.change.trait is None:
            raise ValueError(f"{self.change.name} aims at no one trait: nothing was promised of it")
        return self.change.trait

    @property
    def gain(self) -> Interval:
        """Return the gain by the yardstick that counts unless another is asked for, m."""
        return self.gains["toward"]
