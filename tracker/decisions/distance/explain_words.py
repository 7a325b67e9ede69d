"""How an explained carry difference is said: names of its parts, and the answer as a sentence."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from tracker.decisions.distance.ends import when_text
from tracker.decisions.distance.explain import ATTACK_ALONE, LOFT_ALONG, UNEXPLAINED, Explanation
from tracker.interval import Interval
from tracker.units import System, display, range_text, value_text

PART_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "club_speed": "club speed",
        "strike_up": "strike height",
        "strike_toe": "strike across the face",
        "attack": "attack with the loft it takes along",
        "loft": "other delivered loft",
        "path_face": "path and face",
        UNEXPLAINED: "not explained by the delivery",
        ATTACK_ALONE: "attack alone",
        LOFT_ALONG: "the loft it takes along",
    }
)
"""How each part of a difference is called."""


def listed_parts(found: Explanation) -> tuple[str, ...]:
    """Return the parts in the order in which they are shown: largest first, unexplained last.

    Those that are small, where there are several, come to one line of their own after them.
    """
    named = [n for n in found.parts if n != UNEXPLAINED and n not in found.small]
    return tuple(sorted(named, key=lambda name: -abs(found.parts[name].median)))


def small_words(found: Explanation) -> str:
    """Return how the small parts are called together; empty where none are folded."""
    return f"{len(found.small)} small parts" if found.small else ""


def split_sentence(found: Explanation, system: System) -> str:
    """Return the attack part in two; empty where it was not asked for."""
    if not found.attack_split:
        return ""
    how = replace(display("distance", system), decimals=1)
    said = [
        f"{PART_WORDS[name]} {value_text(part.median, how, signed=True)} "
        f"({range_text(part, how, signed=True)})"
        for name, part in found.attack_split.items()
    ]
    return f"Of the attack part: {', '.join(said)}."


def is_clear(part: Interval) -> bool:
    """Return whether a part surely has a sign: its 90 % interval leaves zero out."""
    return part.low90 > 0 or part.high90 < 0


def explanation_sentence(found: Explanation, system: System) -> str:
    """Return how far apart the two ends are and which parts surely have to do with it."""
    how = display("distance", system)
    whole = found.carry_difference_m
    start, end = _named(found)
    more = "farther" if whole.median >= 0 else "shorter"
    size = value_text(abs(whole.median), how)
    sure = range_text(whole, how, signed=True)
    opening = f"{end} carried {size} {more} than {start} ({sure})"
    clear = [name for name, part in found.parts.items() if is_clear(part)]
    if not clear:
        return f"{opening}; no single part of it is sure."
    clear.sort(key=lambda name: -abs(found.parts[name].median))
    said = [
        f"{PART_WORDS[name]} {value_text(found.parts[name].median, how, signed=True)}"
        for name in clear
    ]
    return f"{opening}; what is sure of it: {', '.join(said)}."


def _named(found: Explanation) -> tuple[str, str]:
    return (
        f"{found.player} {when_text(found.start)}",
        f"{found.to_player} {when_text(found.end)}",
    )
