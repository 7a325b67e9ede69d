"""How a player's gains are said: the answer, what to read next, and the notes, in shown units."""

from collections.abc import Mapping

from models.traits import FAULTS, TRAITS
from tracker.decisions.distance.fixes import PlayerFixes
from tracker.decisions.distance.order import CLEAR_CHANCE, Order
from tracker.interval import Interval
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import chance_words, distance_words, fault_words


def gain_sentence(
    player: str,
    faults: Mapping[str, tuple[float, float]],
    order: Order,
    *,
    worthwhile: bool,
    trusted: bool,
    system: System,
) -> str:
    """Return which fault comes first and how sure that is.

    ``faults`` holds where each trait is and where it should be. A first fault may be clear only
    because little is lost if another is better: then it is that which is said.
    """
    if not trusted:
        return f"{player}: this fit did not pass its checks, so no fault is named."
    if not faults:
        return f"{player}: no fault can be named; neither strike, attack, loft nor face was read."
    if not worthwhile:
        return f"{player}: no fault worth fixing first; none costs enough carry."
    words = {trait: fault_words(trait, *ends) for trait, ends in faults.items()}
    first = order.traits[0]
    if len(order.traits) == 1:
        return f"{player}: {words[first]} is the one fault to weigh; no other trait was read."
    if not order.clear:
        named = [words[t] for t in order.tied]
        listed = ", ".join(named[:-1]) + f" and {named[-1]}"
        return f"{player}: {listed} are too close to call; the slight edge is to {words[first]}."
    if order.p_best[first] >= CLEAR_CHANCE:
        return (
            f"{player}: {words[first]} comes first; {chance_words(order.p_best[first])} that "
            "nothing else pays more for the effort."
        )
    return (
        f"{player}: {words[first]} comes first; if it is not the best, little is lost: "
        f"{distance_words(order.regret_m[first], system)} on average."
    )


def measure_next_words(
    reading: str | None, *, trusted: bool, read: bool, worthwhile: bool, close: bool
) -> str:
    """Return what to read next; ``reading`` is the trait that would separate a close call."""
    if not trusted:
        return "Fit again before reading anything more."
    if not read:
        return "Read the strike or the attack angle of a few shots first."
    if not worthwhile:
        return "Nothing to read more of for this; look again after the next few sessions."
    if not close:
        return ""
    if reading is None:
        return (
            "To separate them, read ball speed, launch and spin beside the delivery: what the "
            "physics leaves open moves the order most."
        )
    return (
        f"To separate them, read {TRAITS[reading].label} in one more session: what is not yet "
        "known about it moves the order most."
    )


def gain_notes(fixes: PlayerFixes, system: System) -> tuple[str, ...]:
    """Return what a reader should know beside the numbers."""
    notes = []
    for trait in fixes.unread:
        level = Interval.from_draws(fixes.level_of(trait), TRAITS[trait].unit)
        source = "what is usual among players" if trait in fixes.nobodys else "the squad"
        notes.append(
            f"{TRAITS[trait].label.capitalize()} was not read: taken from {source} "
            f"({range_text(level, trait_display(trait, system))})"
            + ("; it is not offered as a fault." if trait in FAULTS else ".")
        )
    for trait, worth in fixes.by_trait.items():
        if worth.target.at_edge:
            edge = value_text(worth.target.best, trait_display(trait, system), signed=True)
            notes.append(
                f"The best {TRAITS[trait].label} lies at or beyond the range looked at ({edge})."
            )
    if not fixes.calibrated:
        notes.append(
            "No ball data of the squad used: the physics is the published one, so the carry itself "
            "is uncertain; gains, being differences, much less."
        )
    return tuple(notes)
