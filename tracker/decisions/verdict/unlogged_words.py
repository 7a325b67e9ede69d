"""How a change that nobody logged is said in words."""

from datetime import date

from tracker.decisions.verdict.verdict import OFFERED, SURE, Verdict
from tracker.interval import Interval
from tracker.units import System, range_text, trait_display, value_text
from tracker.words import chance_words


def unlogged_sentence(found: Verdict, system: System) -> str:
    """Return when and by how much something changed; empty where no change is likelier than not.

    A change that is not surely there is put as a chance, and its size as what it would be.
    """
    change = found.unlogged
    if change is None or change.chance < OFFERED or found.problems:
        return ""
    how = trait_display(found.trait, system)
    size = Interval.from_draws(change.size, found.change.unit)
    sure = change.chance >= SURE
    return (
        f"Something {'changed' if sure else 'may have changed'} between "
        f"{_day(change.between[0])} and {_day(change.between[1])} that nobody logged "
        f"({chance_words(change.chance)}){':' if sure else '; if so,'} by "
        f"{value_text(size.median, how, signed=True)}, {range_text(size, how, signed=True)}."
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
