"""How the size and the direction of a judged change are said."""

from models.traits import TRAITS
from tracker.decisions.verdict.verdict import Verdict
from tracker.interval import Interval, sure_between
from tracker.units import System, range_text, trait_display, value_text


def directions(trait: str) -> tuple[str, str]:
    """Return the words for more and for less of a trait."""
    return TRAITS[trait].positive, TRAITS[trait].negative


def moved_sentence(verdict: Verdict, system: System) -> str:
    """Return how far the trait moved, which way, how sure that is, and whether it is better."""
    trait, change = verdict.trait, verdict.change
    how = trait_display(trait, system)
    positive, negative = directions(trait)
    way = positive if change.median >= 0 else negative
    low, high = change.low90, change.high90
    sure = sure_between(
        f"{value_text(-low, how)} {negative}", f"{value_text(high, how)} {positive}"
    )
    if low >= 0 or high <= 0:
        near, far = sorted((abs(low), abs(high)))
        sure = range_text(Interval(abs(change.median), near, far, change.unit), how)
    size = value_text(abs(change.median), how)
    if size == value_text(0.0, how):
        return f"{verdict.player}: {TRAITS[trait].label} hardly moved ({sure})."
    text = f"{verdict.player}: {TRAITS[trait].label} moved about {size} {way} ({sure})."
    if verdict.direction is not None:
        text = f"{text[:-1]}, which is {verdict.direction}."
    return text
