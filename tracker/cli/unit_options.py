"""An option for every unit that a log may use, so that a command takes what a file takes."""

import functools
import inspect
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Annotated, Any, Final, get_args

import typer
from typer.models import OptionInfo

from tracker.cli.common import err
from tracker.readings.shot_columns import unit_text
from tracker.units import SUFFIXES

USUAL: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "club_speed_mps": (25.0, 65.0),
        "ball_speed_mps": (38.0, 92.0),
        "strike_toe_mm": (-40.0, 40.0),
        "strike_up_mm": (-25.0, 25.0),
        "temperature_c": (-10.0, 45.0),
        "tailwind_mps": (-18.0, 18.0),
        "crosswind_mps": (-18.0, 18.0),
    }
)
"""Where such numbers usually lie, in the stored unit: outside, another unit may have been meant
(estimate, no source)."""


def takes_units(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command with an option for every unit in which a log may give its numbers.

    A parameter ``club_speed_mps`` becomes ``--club-speed-mps``, ``--club-speed-mph`` and
    ``--club-speed-kmh``, of which one may be given; the command gets the stored unit. A number that
    looks like another unit is used as it is, with a hint on standard error.
    """
    asked = inspect.signature(command)
    spelled = {name: _spellings(name) for name in asked.parameters if len(_spellings(name)) > 1}
    options: list[inspect.Parameter] = []
    for name, parameter in asked.parameters.items():
        units = spelled.get(name)
        options += [parameter] if units is None else _options(parameter, units)

    @functools.wraps(command)
    def taking(**given: Any) -> None:
        for name, units in spelled.items():
            values = {n: given.pop(n) for n in units}
            given[name] = _stored(name, values, asked.parameters[name].default)
        command(**given)

    by_word = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in options]
    taking.__signature__ = asked.replace(parameters=by_word)  # type: ignore[attr-defined]
    taking.__annotations__ = {p.name: p.annotation for p in by_word} | {"return": None}
    return taking


def _spellings(name: str) -> tuple[str, ...]:
    """Return a number's name in every unit, the stored one first; itself where it has no unit."""
    stem, _, stored = name.rpartition("_")
    return tuple(f"{stem}_{suffix}" for suffix in SUFFIXES.get(stored, {})) or (name,)


def _options(parameter: inspect.Parameter, units: tuple[str, ...]) -> list[inspect.Parameter]:
    """Return an optional parameter for each unit; the first says what the number is."""
    told = next(one for one in get_args(parameter.annotation) if isinstance(one, OptionInfo))
    default = parameter.default
    shown = False if default is inspect.Parameter.empty else f"{default:g}"
    found = []
    for name in units:
        first = name == units[0]
        says = told.help if first else f"The same in {_unit(name)}."
        option = typer.Option(_flag(name), help=says, show_default=first and shown)
        found.append(
            inspect.Parameter(
                name, parameter.kind, default=None, annotation=Annotated[float | None, option]
            )
        )
    return found


def _stored(name: str, values: Mapping[str, float | None], default: Any) -> Any:
    """Return the one value that was given, in the stored unit, or the default."""
    given = {n: value for n, value in values.items() if value is not None}
    flags = [_flag(n) for n in values]
    if len(given) > 1:
        raise typer.BadParameter(f"{' and '.join(_flag(n) for n in given)} say the same: give one")
    if not given:
        if default is inspect.Parameter.empty:
            raise typer.BadParameter(f"give one of {', '.join(flags)}")
        return default
    ((spelled, value),) = given.items()
    hint = looks_like(name, spelled, value)
    if hint is not None:
        err.print(
            f"{_flag(spelled)} {value:g} looks like {_unit(hint)}: if so, write {_flag(hint)} "
            f"{value:g}."
        )
    return _convert(spelled, name, value)


def looks_like(name: str, spelled: str, value: float) -> str | None:
    """Return the spelling in whose unit a number would be usual; None where it is as it stands.

    Of several the one nearest the middle of what is usual.
    """
    if name not in USUAL:
        return None
    low, high = USUAL[name]
    usual = {
        other: stored
        for other in _spellings(name)
        if low <= (stored := _convert(other, name, value)) <= high
    }
    if spelled in usual:
        return None
    middle = (low + high) / 2
    return min(usual, key=lambda other: abs(usual[other] - middle), default=None)


def _convert(spelled: str, name: str, value: float) -> float:
    stored = name.rpartition("_")[2]
    return SUFFIXES[stored][spelled.rpartition("_")[2]](value)


def _flag(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _unit(name: str) -> str:
    suffix = name.rpartition("_")[2]
    return "inches" if suffix == "in" else unit_text(suffix)
