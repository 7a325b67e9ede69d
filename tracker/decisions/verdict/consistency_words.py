"""How a verdict on the scatter of single shots is said, in words without statistics."""

from collections.abc import Mapping
from types import MappingProxyType

from tracker.decisions.verdict.consistency import WORTHWHILE_RATIO, ConsistencyVerdict
from tracker.interval import Interval, sure_between
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import VerdictName

_WORDS: Mapping[tuple[VerdictName, str | None], str] = MappingProxyType(
    {
        ("real-worthwhile", "tighter"): "Yes, the shots are closer together",
        ("real-worthwhile", "looser"): "The shots are further apart",
        ("real-size-unclear", "tighter"): "Closer together, but how much is not settled",
        ("real-size-unclear", "looser"): "Further apart, but how much is not settled",
        ("leaning", "tighter"): "Leaning toward closer together",
        ("leaning", "looser"): "Leaning toward further apart",
        ("no-worthwhile-change", None): "As close together as before",
        ("cannot-tell", None): "Too early to say",
    }
)


def consistency_words(found: ConsistencyVerdict) -> str:
    """Return the verdict on the scatter in a few words."""
    return _WORDS[found.verdict, found.direction]


def consistency_sentence(found: ConsistencyVerdict, system: System) -> str:
    """Return how far shots scatter now and before, and the change with its 90 % interval."""
    how = trait_display(found.trait, system)
    now, then = (
        f"{value_text(sd.median, how)} ({range_text(sd, how)})"
        for sd in (found.sd_after, found.sd_before)
    )
    return (
        f"Two shots in three now lie within {now} of the day's middle; before, within {then}. "
        f"{_change(found.ratio)}"
    )


def what_matters() -> str:
    """Return the smallest change of scatter that matters, in words."""
    return f"A change of scatter matters from about {(1 - WORTHWHILE_RATIO) * 100:.0f} % on."


def _change(ratio: Interval) -> str:
    low, middle, high = (round((r - 1) * 100) for r in (ratio.low90, ratio.median, ratio.high90))
    main = (
        "The scatter is about the same"
        if middle == 0
        else f"That is {_less_or_more(middle)} scatter"
    )
    same_side = low * high > 0
    if same_side:
        near, far = sorted((abs(low), abs(high)))
        word = "less" if low < 0 else "more"
        return f"{main} ({sure_between(near, f'{far} % {word}')})."
    return f"{main} ({sure_between(_less_or_more(low), _less_or_more(high))})."


def _less_or_more(percent: int) -> str:
    if percent == 0:
        return "no change"
    return f"{abs(percent)} % {'less' if percent < 0 else 'more'}"
