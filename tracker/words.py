"""The plain words that answers are said in: verdicts, faults, chances and cautions."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

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

_BELOW_AND_ABOVE: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "strike_toe_mm": ("strike toward the heel", "strike too far toward the toe"),
        "strike_up_mm": ("strike too low", "strike too high"),
        "attack_deg": ("not hitting up enough", "hitting up too much"),
        "club_speed_mps": ("club speed lower than it could be", "club speed higher than planned"),
        "loft_deg": ("too little delivered loft", "too much delivered loft"),
        "path_deg": ("swinging too far out-to-in", "swinging too far in-to-out"),
        "face_deg": ("face too closed", "face too open"),
    }
)

# Common practice in coaching and physiotherapy, no source.
_PLAN_CAUTIONS = (
    "Change one thing at a time, and keep some practice the way it was.",
    "Stop when something hurts; pain is a reason to ask a physiotherapist, not to push on.",
)
_TRAIT_CAUTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "attack_deg": (
            "Hitting up more bends and turns the lower back more: build up over weeks, and leave "
            "it alone with a sore back.",
        ),
        "club_speed_mps": (
            "Full-effort swings load back, elbow and wrist: warm up first and rest between sets.",
        ),
        "path_deg": ("A forced path change loads the lead hip and knee: keep early swings easy.",),
        "face_deg": ("A new grip can strain thumb and wrist: short spells at first.",),
    }
)

CAUTIONS: tuple[str, ...] = (
    *_PLAN_CAUTIONS,
    *(text for texts in _TRAIT_CAUTIONS.values() for text in texts),
)
"""Every safety sentence; ``cautions_for`` picks those that belong to a trait's plan."""


def cautions_for(trait: str) -> tuple[str, ...]:
    """Return the safety sentences to show beside a plan that works on a trait."""
    return (*_TRAIT_CAUTIONS.get(trait, ()), *_PLAN_CAUTIONS)


def fault_words(trait: str, now: float, target: float) -> str:
    """Return what is wrong when a trait stands at ``now`` and should stand at ``target``."""
    if now == target:
        return "on target"
    if trait == "attack_deg" and now < target and now < 0:
        return "hitting down too much"
    below, above = _BELOW_AND_ABOVE[trait]
    return below if now < target else above


def chance_words(chance: float) -> str:
    """Return a probability as a person says it, such as ``about 8 in 10``."""
    if not 0 <= chance <= 1:
        raise ValueError(f"a chance lies from 0 to 1, found {chance}")
    if chance > 0.985:
        return "more than 98 in 100"
    if chance < 0.015:
        return "fewer than 2 in 100"
    if chance >= 0.945:
        return "about 19 in 20"
    if chance < 0.055:
        return "about 1 in 20"
    return f"about {min(9, max(1, round(chance * 10)))} in 10"


def distance_words(metres: float, system: System) -> str:
    """Return a small distance as a person says it, such as ``about 0.4 yd``."""
    how = display("distance", system)
    shown = metres * how.factor
    return f"less than 0.1 {how.unit}" if abs(shown) < 0.1 else f"about {shown:.1f} {how.unit}"
