"""The plain words that answers are said in: verdicts, faults, chances and cautions."""

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Literal

from models.traits import TRAITS
from tracker.units import System, display

VerdictName = Literal[
    "real-worthwhile", "real-size-unclear", "no-worthwhile-change", "leaning", "cannot-tell"
]

VERDICT_WORDS: Mapping[VerdictName, str] = MappingProxyType(
    {
        "real-worthwhile": "Yes, this is real",
        "real-size-unclear": "Real, but how big is not settled",
        "no-worthwhile-change": "No change that matters",
        "leaning": "Leaning, keep going",
        "cannot-tell": "Too early to say",
    }
)
"""How each verdict reads on screen."""

NEARLY_CERTAIN, NEARLY_IMPOSSIBLE = "nearly certain", "nearly impossible"
"""The words at both ends of chances."""

# Common practice in coaching and physiotherapy, no source.
_PLAN_CAUTIONS = (
    "Change one thing at a time, and keep some practice the way it was.",
    "Stop when something hurts; pain is a reason to ask a physiotherapist, not to push on.",
)

CAUTIONS: tuple[str, ...] = (
    *_PLAN_CAUTIONS,
    *(trait.caution for trait in TRAITS.values() if trait.caution),
)
"""Every safety sentence; ``cautions_for`` picks those that belong to a trait's plan."""


PRACTICE_CAUTIONS: tuple[str, ...] = (
    "Juniors: few full-effort swings a session, varied practice and days of rest.",
    "Powder sprayed on the face to see the strike: outdoors or in a ventilated place only, away "
    "from eyes and flames.",
    "Hit only where hitting is authorised, with nobody beside the ball or in front of it.",
    "This page ranks; a qualified coach decides on the swing, a physician on the body, and the "
    "equipment rules on club and ball.",
)
"""Safety sentences beside every plan that asks for practice (common practice, no source)."""


def listed(names: Sequence[str]) -> str:
    """Return names as a list in words, such as ``Alder, Birch and Cedar``."""
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def start_of_sentence(text: str) -> str:
    """Return the text with its first letter raised."""
    return text[:1].upper() + text[1:]


def day_words(day: date) -> str:
    """Return a day such as ``7 Jun 2026``."""
    return f"{day.day} {day:%b %Y}"


def cautions_for(trait: str) -> tuple[str, ...]:
    """Return the safety sentences to show beside a plan that works on a trait."""
    own = TRAITS[trait].caution
    return (own, *_PLAN_CAUTIONS) if own else _PLAN_CAUTIONS


def fault_words(
    trait: str, now: float, target: float, window: tuple[float, float] | None = None
) -> str:
    """Return what is wrong when a trait stands at ``now`` and should stand at ``target``.

    Inside the ``window`` where all levels are about as good as the target, nothing is.
    """
    if now == target:
        return "on target"
    if window is not None and window[0] <= now <= window[1]:
        return "about as good as it gets"
    words = TRAITS[trait].spoken
    if now > target:
        return words.above
    return words.below_zero if now < 0 and words.below_zero else words.below


def chance_words(chance: float) -> str:
    """Return a probability as a person says it, such as ``about 8 in 10``.

    It ends at ``about 19 in 20`` and ``nearly certain``: beyond that a model's chances are worth
    little.
    """
    if not 0 <= chance <= 1:
        raise ValueError(f"a chance lies from 0 to 1, found {chance}")
    if chance > 0.985:
        return NEARLY_CERTAIN
    if chance < 0.015:
        return NEARLY_IMPOSSIBLE
    if chance >= 0.945:
        return "about 19 in 20"
    if chance < 0.055:
        return "about 1 in 20"
    return f"about {min(9, max(1, round(chance * 10)))} in 10"


def cases_words(chance: float) -> str:
    """Return in how many cases something is so, such as ``in about 8 in 10 cases``."""
    said = chance_words(chance)
    ends = {NEARLY_CERTAIN: "in nearly all cases", NEARLY_IMPOSSIBLE: "in hardly any case"}
    return ends.get(said, f"in {said} cases")


def with_chance(chance: float) -> str:
    """Return how surely something happens, such as ``with a chance of about 8 in 10``."""
    said = chance_words(chance)
    ends = {NEARLY_CERTAIN: "almost surely", NEARLY_IMPOSSIBLE: "with hardly any chance"}
    return ends.get(said, f"with a chance of {said}")


def distance_words(metres: float, system: System) -> str:
    """Return a small distance as a person says it, such as ``about 0.4 yd``."""
    how = display("distance", system)
    shown = metres * how.factor
    return f"less than 0.1 {how.unit}" if abs(shown) < 0.1 else f"about {shown:.1f} {how.unit}"
