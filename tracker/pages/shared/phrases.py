"""How a stored value is put into a phrase with its unit in the units the reader picked."""

from dataclasses import replace

from models.traits import TRAITS
from tracker.interval import Interval
from tracker.units import (
    Display,
    System,
    brief_text,
    display,
    range_text,
    trait_display,
    value_text,
)
from tracker.words import listed

Rows = tuple[tuple[str, ...], ...]
"""Cells of a table as they are shown."""

_COARSE_BELOW = 3.0
"""Distances smaller than this in the shown unit get one decimal, so that they do not read as 0."""


def distance_display(system: System, *values_m: float) -> Display:
    """Return how distances are shown, finer when every one of them is small."""
    how = display("distance", system)
    if values_m and max(abs(v) * how.factor for v in values_m) < _COARSE_BELOW:
        return replace(how, decimals=1)
    return how


def distance(value_m: float, system: System, *, signed: bool = False) -> str:
    """Return a distance such as ``7 yd``."""
    return value_text(value_m, distance_display(system, value_m), signed=signed)


def distance_range(interval: Interval, system: System) -> str:
    """Return ``90 % sure between 2 and 13 yd`` for an interval held in metres."""
    return range_text(interval, distance_display(system, interval.low90, interval.high90))


def amount(trait: str, value: float, system: System, *, signed: bool = False) -> str:
    """Return a trait's value such as ``-1.2°`` or ``+4.0 mm``."""
    return value_text(value, trait_display(trait, system), signed=signed)


def amount_range(trait: str, interval: Interval, system: System, *, signed: bool = False) -> str:
    """Return a trait's interval in words."""
    return range_text(interval, trait_display(trait, system), signed=signed)


def amount_with_range(
    trait: str, interval: Interval, system: System, *, change: bool = False
) -> str:
    """Return median and interval, such as ``+4.1 mm (90 % sure between +1.2 and +7.0 mm)``."""
    signed = change or TRAITS[trait].signed
    median = amount(trait, interval.median, system, signed=signed)
    return f"{median} ({amount_range(trait, interval, system, signed=signed)})"


def distance_with_range(interval: Interval, system: System) -> str:
    """Return median and interval of a distance held in metres."""
    how = distance_display(system, interval.low90, interval.high90)
    return f"{value_text(interval.median, how)} ({range_text(interval, how)})"


def distance_brief(interval: Interval, system: System, *, signed: bool = False) -> str:
    """Return median and 90 % ends for a table cell, such as ``7 yd (2 to 13)``."""
    how = distance_display(system, interval.low90, interval.high90)
    return brief_text(interval, how, signed=signed)


def amount_brief(trait: str, interval: Interval, system: System, *, change: bool = False) -> str:
    """Return a trait's median and 90 % ends for a table cell: ``+4.1 mm (+1.2 to +7.0)``."""
    signed = change or TRAITS[trait].signed
    return brief_text(interval, trait_display(trait, system), signed=signed)


def _bare(text: str, how: Display) -> str:
    return text.removesuffix(how.unit).rstrip()


def window_text(trait: str, window: tuple[float, float], system: System) -> str:
    """Return a target window such as ``+3.0 to +9.0 mm``."""
    how = trait_display(trait, system)
    signed = TRAITS[trait].signed
    low, high = (value_text(v, how, signed=signed) for v in window)
    return f"{_bare(low, how)} to {high}"


def named(names: tuple[str, ...] | list[str], limit: int = 4) -> str:
    """Return names as a list in words, the rest counted."""
    if len(names) > limit:
        return f"{', '.join(names[:limit])} and {len(names) - limit} more"
    return listed(names)


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun, such as ``1 shot`` or ``12 shots``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def trait_label(trait: str) -> str:
    """Return a trait's plain name."""
    return TRAITS[trait].label
