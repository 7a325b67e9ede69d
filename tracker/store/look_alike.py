"""When two names look the same to a person though they are not the same to the program."""

import shlex
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

_BLANK_LETTERS = "\u115f\u1160\u3164\uffa0\u2800"
"""Letters and signs that are drawn as nothing."""


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A name of a file and a stored one that looks like it."""

    name: str
    other: str

    @property
    def sentence(self) -> str:
        """Say which names look alike and what to do about it."""
        words = " ".join(shlex.quote(n) for n in (self.name, self.other))
        return (
            f"{visible(self.name)} and {visible(self.other)} look alike but are two players. If "
            f"they are one: drive-progress merge {words}; if not, drive-progress rename gives one "
            "of them a name that can be told apart."
        )


def look_alikes(names: Iterable[str], stored: Iterable[str]) -> tuple[LookAlike, ...]:
    """Return every pair of a name and another stored one that look alike, each pair once."""
    by_look: dict[str, list[str]] = {}
    for name in sorted(set(stored)):
        by_look.setdefault(seen_as(name), []).append(name)
    found: dict[frozenset[str], LookAlike] = {}
    for name in sorted(set(names)):
        for other in by_look.get(seen_as(name), []):
            if other != name:
                found.setdefault(frozenset((name, other)), LookAlike(name, other))
    return tuple(found.values())


def seen_as(name: str) -> str:
    """Return what a hurried reader sees: no case, accent, width, style or invisible character."""
    letters = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", name).casefold())
    kept = "".join(
        " " if char in _BLANK_LETTERS else char
        for char in letters
        if unicodedata.category(char) not in ("Cf", "Mn", "Me")
    )
    return " ".join(kept.split()) or name


def visible(name: str) -> str:
    """Return a name with its invisible characters written out."""
    return "".join(
        f"<U+{ord(char):04X}>"
        if char in _BLANK_LETTERS or unicodedata.category(char) == "Cf"
        else char
        for char in name
    )
