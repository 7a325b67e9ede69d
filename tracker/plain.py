"""How text that somebody typed is made plain: names, notes and paths are data, never markup.

A terminal obeys control characters, a page reads Markdown with extensions of its own; both obey
characters that turn the direction of writing. What is made here shows the very characters typed.
"""

import re
import unicodedata

JOINER = "\u2060"
"""An invisible character of no width that parts what the page would read as one sign."""
STAND_IN = "\ufffd"
"""Shown in place of a character that has no shape of its own."""

_KEPT = "\u200c\u200d"
"""Joiners inside words of some scripts, and inside one emoji made of several."""

_MARKUP = re.compile(r"[\\`*\[\]<$~|]|(?<![^\W_])_|_(?![^\W_])|&(?=#|\w)")
_OPENING = re.compile(r"^(?:[-+](?=\s|$)|[#>]|-{2,}|:(?=:)|\d{1,9}(?=[.)](?:\s|$)))")
_SIGNS = re.compile(
    r":(?=[A-Za-z])"  # directives, icons, emoji by name
    r"|:(?=[\w+-]+:)"  # emoji such as :100:
    r"|(?<=http):(?=//)|(?<=https):(?=//)|(?<=www)(?=\.)|@(?=[\w-])"  # addresses
    r"|(?<!\S)[<>~-](?=-?[>=-](?!\S))",  # arrows, dashes and signs of order
    re.IGNORECASE,
)


def terminal(text: str) -> str:
    """Return a text that a terminal shows and does not obey; lines stay lines."""
    return text if _is_plain(text) else "".join(_shown(char) for char in text)


def line(text: str) -> str:
    """Return a text as one line of characters that have a shape; blanks of every kind are blanks.

    It is what ``markdown`` shows once it is drawn.
    """
    return text if text.isprintable() else " ".join(terminal(text).split("\n")).replace("\t", " ")


def markdown(text: str) -> str:
    """Return a text that a page's Markdown shows as it was typed, on one line.

    What means nothing to Markdown stays as it is, so that ordinary sentences are left alone.
    """
    shown = _SIGNS.sub(lambda found: found.group() + JOINER, line(text).strip())
    escaped = _MARKUP.sub(lambda found: "\\" + found.group(), shown)
    return _OPENING.sub(_escaped_opening, escaped)


def _escaped_opening(found: re.Match[str]) -> str:
    """Escape what would open a list, a heading or a quotation: a number by what follows it."""
    mark = found.group()
    return f"{mark}{JOINER}" if mark.isdigit() else f"\\{mark}"


def _is_plain(text: str) -> bool:
    return text.isprintable() or all(char in "\n\t" or char.isprintable() for char in text)


def _shown(char: str) -> str:
    if char in "\n\t" or char in _KEPT:
        return char
    kind = unicodedata.category(char)
    if kind in {"Zs", "Zl", "Zp"} or char == "\r":
        return " "
    return STAND_IN if kind in {"Cc", "Cf", "Cs"} else char
