"""How a reading that somebody types is read: a number in the units shown, or what is wanted."""

import math
import re

from models.traits import TRAITS
from tracker.errors import BadRequest
from tracker.pages.shared.phrases import trait_label
from tracker.units import System, plain_zero, trait_display
from tracker.words import start_of_sentence

_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?|[+-]?[.,]\d+")
_THOUSANDS = re.compile(r"[.,]\d{3}$")

_ROUNDING = 1e-9
"""What an end of the plausible range may be off by after its way through other units."""


def typed_reading(trait: str, text: str, system: System) -> float | None:
    """Return a typed reading in the stored unit; None where nothing was typed.

    A decimal comma is a decimal point; a mark that may stand for thousands is refused where whole
    numbers are shown. Raises BadRequest, which says what is wanted, for anything else that is no
    plausible reading.
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if not plain:
        return None
    how, row = trait_display(trait, system), TRAITS[trait]
    unclear = not _NUMBER.fullmatch(plain) or (not how.decimals and _THOUSANDS.search(plain))
    value = math.nan if unclear else float(plain.replace(",", ".")) / how.factor
    nearest = min(max(value, row.low), row.high)
    if not math.isclose(value, nearest, rel_tol=_ROUNDING):
        raise BadRequest(wanted(trait, system))
    return nearest


def in_other_units(trait: str, text: str, former: System, system: System) -> str:
    """Return what was typed in the former units as it reads in others.

    What is no reading yet stays as it was typed: the field says what it wants.
    """
    try:
        value = typed_reading(trait, text, former)
    except BadRequest:
        return text
    if value is None or trait_display(trait, former) == trait_display(trait, system):
        return text
    how = trait_display(trait, system)
    return plain_zero(f"{value * how.factor:.{how.decimals}f}")


def wanted(trait: str, system: System) -> str:
    """Return what a field takes, such as ``Attack angle: wanted a number from -15.0 to 15.0 °``."""
    how, row = trait_display(trait, system), TRAITS[trait]
    scale = 10**how.decimals
    # the ends are rounded inward, so that what the sentence names is taken
    low = math.ceil(row.low * how.factor * scale - 1e-6) / scale
    high = math.floor(row.high * how.factor * scale + 1e-6) / scale
    label = start_of_sentence(trait_label(trait))
    ends = " to ".join(f"{end:.{how.decimals}f}" for end in (low, high))
    return f"{label}: wanted a number from {ends} {how.unit}"
