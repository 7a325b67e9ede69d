"""How units are read from column suffixes and shown in the units a person picks."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from models.traits import TRAITS, Quantity
from tracker.interval import Interval, sure_between

INCH_M: Final = 0.0254
"""By definition; the yard is 36 inches, the mile 1760 yards."""
FOOT_M: Final = 12 * INCH_M
YARD_M: Final = 3 * FOOT_M
MPH_MPS: Final = 1760 * YARD_M / 3600
KMH_MPS: Final = 1000 / 3600

System = Literal["yards", "metres"]
SYSTEMS: tuple[System, ...] = ("yards", "metres")

Conversion = Callable[[float], float]

SUFFIXES: Mapping[str, Mapping[str, Conversion]] = MappingProxyType(
    {
        "mm": MappingProxyType(
            {
                "mm": lambda v: v,
                "cm": lambda v: v * 10,
                "in": lambda v: v * INCH_M * 1000,
            }
        ),
        "mps": MappingProxyType(
            {
                "mps": lambda v: v,
                "mph": lambda v: v * MPH_MPS,
                "kmh": lambda v: v * KMH_MPS,
            }
        ),
        "deg": MappingProxyType({"deg": lambda v: v}),
        "rpm": MappingProxyType({"rpm": lambda v: v}),
        "m": MappingProxyType({"m": lambda v: v, "yd": lambda v: v * YARD_M}),
        "ratio": MappingProxyType({"ratio": lambda v: v}),
        "c": MappingProxyType({"c": lambda v: v, "f": lambda v: (v - 32) / 1.8}),
    }
)
"""Suffixes a log may use, by stored suffix, with the conversion to the stored unit."""


@dataclass(frozen=True, slots=True)
class Display:
    """How a quantity is shown: ``factor`` shown units to one stored unit."""

    unit: str
    factor: float
    decimals: int


_DISPLAY: Mapping[System, Mapping[Quantity, Display]] = MappingProxyType(
    {
        "yards": {
            "strike": Display("mm", 1.0, 1),
            "angle": Display("°", 1.0, 1),
            "speed": Display("mph", 1 / MPH_MPS, 1),
            "spin": Display("rpm", 1.0, 0),
            "distance": Display("yd", 1 / YARD_M, 0),
            "ratio": Display("times", 1.0, 2),
        },
        "metres": {
            "strike": Display("mm", 1.0, 1),
            "angle": Display("°", 1.0, 1),
            "speed": Display("km/h", 1 / KMH_MPS, 1),
            "spin": Display("rpm", 1.0, 0),
            "distance": Display("m", 1.0, 0),
            "ratio": Display("times", 1.0, 2),
        },
    }
)


def display(quantity: Quantity, system: System) -> Display:
    """Return how a quantity is shown in a unit system."""
    return _DISPLAY[system][quantity]


def trait_display(trait: str, system: System) -> Display:
    """Return how a trait is shown in a unit system."""
    return display(TRAITS[trait].quantity, system)


def shown(interval: Interval, quantity: Quantity, system: System) -> Interval:
    """Return an interval held in the stored unit as it is shown."""
    how = display(quantity, system)
    return interval.scaled(how.factor, how.unit)


def value_text(
    value: float, how: Display, *, signed: bool = False, decimals: int | None = None
) -> str:
    """Return one stored value as shown text with its unit, such as ``+12 yd``."""
    places = how.decimals if decimals is None else decimals
    number = value * how.factor
    text = plain_zero(f"{number:+.{places}f}" if signed else f"{number:.{places}f}")
    separator = "" if how.unit == "°" else " "
    return f"{text}{separator}{how.unit}"


def range_text(interval: Interval, how: Display, *, signed: bool = False) -> str:
    """Return ``90 % sure between 4 and 11 yd`` for an interval held in the stored unit."""
    low, high = _shown_ends(interval, how, signed)
    separator = "" if how.unit == "°" else " "
    return sure_between(low, f"{high}{separator}{how.unit}")


def brief_text(interval: Interval, how: Display, *, signed: bool = False) -> str:
    """Return a median with its 90 % ends for a table cell, such as ``7 yd (2 to 13)``."""
    low, high = _shown_ends(interval, how, signed)
    return f"{value_text(interval.median, how, signed=signed)} ({low} to {high})"


def _shown_ends(interval: Interval, how: Display, signed: bool) -> tuple[str, str]:
    sign = "+" if signed else ""
    ends = sorted((interval.low90 * how.factor, interval.high90 * how.factor))
    low, high = (plain_zero(f"{end:{sign}.{how.decimals}f}") for end in ends)
    return low, high


def plain_zero(text: str) -> str:
    """Return a rounded number as text, a zero without its sign."""
    return text.lstrip("+-") if float(text) == 0 else text
