"""What the last digit of a device is, seen from its readings, and the error that it adds."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import numpy as np

from models.arrays import Bools, Floats
from tracker.units import SUFFIXES

FEWEST = 10
"""Readings other than 0 below which a step may be chance: a finer device, of half the step, gives
ten such readings once in a thousand times."""
SHARE = 0.95
"""Share of readings that must lie on the steps; the rest are typed by hand or misread (estimate,
no source)."""
ENOUGH = 2000
"""Readings that tell a step; of more, as many are taken evenly."""

_DIGITS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {"rpm": (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0)}
)
_OTHER_DIGITS = (10.0, 5.0, 2.0, 1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01)
"""Steps looked for, in a unit that a log may use; finer ones add nothing that matters."""
_CONVERSION_ERROR = 1e-6
"""Share of a step by which unit conversion may move a reading off it."""


def reading_step(trait: str, values: Floats) -> float | None:
    """Return the step of a device's readings in the trait's unit.

    Steps in every unit that a log may use are tried, so that whole miles an hour are seen in
    metres a second. 0 means that the readings lie on no step; None that they are too few, or all
    alike, to tell.
    """
    told = values[np.isfinite(values)]
    if told.size > ENOUGH:
        told = told[np.linspace(0, told.size - 1, ENOUGH).astype(np.int64)]
    other = told[told != 0]
    if other.size < FEWEST or np.ptp(told) == 0:
        return None
    return next((step for step in _steps(trait) if _on(other, step).mean() >= SHARE), 0.0)


def coarsest_step(trait: str, value: float) -> float:
    """Return the coarsest step on which one reading lies, 0 when it lies on none."""
    return next((step for step in _steps(trait) if _on(np.array([value]), step).all()), 0.0)


def with_rounding(sd: float, step: float | None) -> float:
    """Return a reading SD with the error of rounding to a step added.

    Step squared over 12 is the variance of a number rounded away (Sheppard 1898, Proc. London
    Math. Soc. 29:353).
    """
    return float(np.sqrt(sd**2 + (step or 0.0) ** 2 / 12))


@cache
def _steps(trait: str) -> tuple[float, ...]:
    """Return the steps to look for in the trait's unit, coarsest first."""
    stored = trait.rpartition("_")[2]
    digits = _DIGITS.get(stored, _OTHER_DIGITS)
    units = [convert(1.0) - convert(0.0) for convert in SUFFIXES[stored].values()]
    return tuple(sorted({unit * digit for unit in units for digit in digits}, reverse=True))


def _on(values: Floats, step: float) -> Bools:
    """Return which readings are whole multiples of a step."""
    places = values / step
    return np.asarray(np.abs(places - np.round(places)) < _CONVERSION_ERROR, dtype=np.bool_)
