"""One row of the table of published checks."""

import math
from dataclasses import dataclass

TRADE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Anchor:
    """A published value beside the one found by the product's own code.

    ``published``, ``found`` and ``tolerance`` share the unit that ``quantity`` names.
    ``known_miss`` says why a row is not met; such a row must not be met unnoticed either.
    """

    check: str
    quantity: str
    source: str
    published: float
    found: float
    tolerance: float
    known_miss: str = ""

    @classmethod
    def between(
        cls,
        check: str,
        quantity: str,
        source: str,
        low: float,
        high: float,
        found: float,
        known_miss: str = "",
    ) -> "Anchor":
        """Return the row of a published range."""
        middle, half = (low + high) / 2, (high - low) / 2
        return cls(check, quantity, source, middle, found, half, known_miss)

    @property
    def met(self) -> bool:
        """Return whether the found value lies within the tolerance; NaN does not."""
        return abs(self.found - self.published) <= self.tolerance

    def cells(self) -> tuple[str, ...]:
        """Return the row's cells; numbers are as fine as the tolerance deserves."""
        places = max(0, 1 - math.floor(math.log10(self.tolerance)))
        met = "yes" if self.met else "**no**" + (f": {self.known_miss}" if self.known_miss else "")
        published, found = (f"{value:.{places}f}" for value in (self.published, self.found))
        return (
            self.check, self.quantity, self.source, published, found, f"{self.tolerance:.4g}", met
        )  # fmt: skip


HEADER = ("check", "quantity", "source", "published", "found", "tolerance", "met")
"""Names of an anchor's cells."""
