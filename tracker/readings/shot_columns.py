"""What the columns of a shot log are called, which units they may come in, and their ranges."""

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from models.traits import TRAITS
from tracker.records import LABELS
from tracker.units import SUFFIXES, Conversion

TEXT_COLUMNS: tuple[str, ...] = (
    "player",
    "session",
    "club",
    "shot",
    "handed",
    "strike_method",
    "delivery_method",
    "missed_face",
    "ball",
    *LABELS,
    "note",
)
REQUIRED_COLUMNS: tuple[str, ...] = ("player", "session")

CONDITIONS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "tee_height_mm": (0.0, 150.0),
        "air_temperature_c": (-30.0, 60.0),
        "altitude_m": (-500.0, 6000.0),
    }
)
"""Plausible range of what is noted around the shot (common practice, no source)."""

_UNIT_TEXT: Mapping[str, str] = MappingProxyType(
    {"mps": "m/s", "kmh": "km/h", "c": "°C", "f": "°F", "ratio": "times"}
)


def unit_text(suffix: str) -> str:
    """Return how the unit of a suffix is written, such as ``m/s`` for ``mps``."""
    return _UNIT_TEXT.get(suffix, suffix)


@dataclass(frozen=True, slots=True)
class MeasuredColumn:
    """One spelling of a number column: what it is stored as and how it is converted."""

    name: str
    stored: str
    suffix: str
    low: float
    high: float
    convert: Conversion

    @property
    def wanted(self) -> str:
        """Return the numbers this column takes, in its own unit, ends rounded inward."""
        zero = self.convert(0.0)
        slope = self.convert(1.0) - zero
        low, high = ((end - zero) / slope for end in (self.low, self.high))
        low_text = f"{math.ceil(round(low * 10, 6)) / 10:g}"
        high_text = f"{math.floor(round(high * 10, 6)) / 10:.10g}"
        unit = unit_text(self.suffix)
        return f"a number from {low_text} to {high_text} {unit}, or an empty cell"


def _spellings(stored: str, low: float, high: float) -> dict[str, MeasuredColumn]:
    stem, _, unit = stored.rpartition("_")
    return {
        f"{stem}_{suffix}": MeasuredColumn(f"{stem}_{suffix}", stored, suffix, low, high, convert)
        for suffix, convert in SUFFIXES[unit].items()
    }


def _measured() -> dict[str, MeasuredColumn]:
    columns: dict[str, MeasuredColumn] = {}
    for trait in TRAITS.values():
        columns |= _spellings(trait.name, trait.low, trait.high)
    for stored, (low, high) in CONDITIONS.items():
        columns |= _spellings(stored, low, high)
    return columns


MEASURED: Mapping[str, MeasuredColumn] = MappingProxyType(_measured())
"""Every spelling of every number column."""

_SPELLINGS_BY_STEM: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        stored.rpartition("_")[0]: tuple(c.name for c in MEASURED.values() if c.stored == stored)
        for stored in dict.fromkeys(c.stored for c in MEASURED.values())
    }
)


def closest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name most like ``name``, or None when none is near."""
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    return near[0] if near else None


def wanted_instead(name: str) -> str:
    """Say which known column an unknown one may have meant."""
    stem = name.rpartition("_")[0]
    for meant in (name, stem):
        if meant in _SPELLINGS_BY_STEM:
            return f"the unit as its ending: {' or '.join(_SPELLINGS_BY_STEM[meant])}"
    near = closest(name, (*TEXT_COLUMNS, *MEASURED))
    if near is not None:
        return f"a known column (the closest is {near}), or the column left out"
    return "a known column such as player, session, strike_toe_mm, or the column left out"
