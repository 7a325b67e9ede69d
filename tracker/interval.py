"""A posterior quantity as a person reads it: a median and a 90 % interval with a unit."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

INTERVAL_PROB = 0.9
"""Mass of every interval in this project; equal-tailed."""

Z90 = 1.6448536269514722
"""Half the width of a normal's such interval, in SDs."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A median and an equal-tailed 90 % interval."""

    median: float
    low90: float
    high90: float
    unit: str

    @classmethod
    def from_draws(cls, draws: NDArray[np.floating], unit: str) -> Self:
        """Summarise draws of shape ``(sample,)``; draws that are not finite are an error."""
        if draws.size == 0 or not np.isfinite(draws).all():
            msg = f"an interval needs finite draws; {unit or 'value'} draws are empty or not finite"
            raise ValueError(msg)
        tail = (1 - INTERVAL_PROB) / 2
        low, median, high = np.quantile(draws, [tail, 0.5, 1 - tail])
        return cls(float(median), float(low), float(high), unit)

    def scaled(self, factor: float, unit: str) -> "Interval":
        """Return the interval in another unit, ``factor`` new units to one old unit."""
        ends = sorted((self.low90 * factor, self.high90 * factor))
        return Interval(self.median * factor, ends[0], ends[1], unit)

    def shifted(self, by: float) -> "Interval":
        """Return the interval of values that are all so much higher."""
        return Interval(self.median + by, self.low90 + by, self.high90 + by, self.unit)

    def as_json(self) -> Mapping[str, float | str]:
        """Return the four keys every interval has in JSON."""
        return {
            "median": self.median,
            "low90": self.low90,
            "high90": self.high90,
            "unit": self.unit,
        }


def sure_between(low: object, high: object) -> str:
    """Return how the ends of an interval are said; they come as they are shown."""
    return f"90 % sure between {low} and {high}"
