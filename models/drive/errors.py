"""The exceptions that the mathematics raises at its edge, for callers to catch by name."""

from typing import Any

import numpy as np


class DriveInputError(ValueError):
    """An input of the drive physics that cannot be used: which one, its value, what is wanted."""

    def __init__(self, name: str, found: object, wanted: str) -> None:
        self.name = name
        self.found = found
        self.wanted = wanted
        super().__init__(f"{name}: found {found}, wanted {wanted}")


def require_range(name: str, value: Any, low: float, high: float, unit: str) -> None:
    """Raise ``DriveInputError`` unless every entry is a number from ``low`` to ``high``."""
    wanted = f"a number from {low:g} to {high:g}{' ' + unit if unit else ''}"
    try:
        numbers = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise DriveInputError(name, repr(value), wanted) from None
    usable = (numbers >= low) & (numbers <= high)  # written so that NaN fails
    if not usable.all():
        first = numbers[~usable].flat[0]
        raise DriveInputError(name, f"{first:g}", wanted)
