"""What the table of every trait's way since the start says, on the page and as a file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.traits import TRAITS
from tracker.decisions.board.board_words import one_sided
from tracker.decisions.board.every_trait import Moves
from tracker.decisions.distance.gain_words import gain_brief
from tracker.files.table_file import Value, heads, numbers, table_csv
from tracker.interval import Interval
from tracker.pages.shared.phrases import Rows, amount_brief, counted, trait_label
from tracker.units import System
from tracker.words import start_of_sentence

NOT_READ = "not read twice"
WORTH = "Worth at like speed"


@dataclass(frozen=True, slots=True)
class EveryTraitView:
    """The table as it is shown: one column a trait that somebody read on two days."""

    lead: str
    columns: tuple[str, ...]
    rows: Rows


def every_trait_view(
    on_page: Sequence[Moves], worth: Mapping[str, Interval | None], system: System
) -> EveryTraitView:
    """Return the moves of those on the page; ``worth`` in m or points, empty where in doubt."""
    traits = tuple(dict.fromkeys(trait for one in on_page for trait in one.moves))
    settled = sum(one_sided(move) for one in on_page for move in one.moves.values())
    number = sum(len(one.moves) for one in on_page)
    columns = ("Player", *(start_of_sentence(trait_label(t)) for t in traits))
    rows = tuple(
        (
            one.player,
            *(
                amount_brief(t, one.moves[t], system, change=True) if t in one.moves else NOT_READ
                for t in traits
            ),
            *_worth(worth, one.player, system),
        )
        for one in on_page
    )
    lead = (
        f"{settled} of {number} moves of {counted(len(rows), 'player')} here "
        f"{'is' if settled == 1 else 'are'} 90 % sure to have gone one way."
        if number
        else "Nobody here has readings on two days yet: measure another session."
    )
    return EveryTraitView(lead, (*columns, *((WORTH,) if worth else ())), rows if number else ())


def _worth(worth: Mapping[str, Interval | None], player: str, system: System) -> tuple[str, ...]:
    if not worth:
        return ()
    gained = worth.get(player)
    return ("not said" if gained is None else gain_brief(gained, system),)


def every_trait_csv(moves: Sequence[Moves]) -> bytes:
    """Return everybody's moves as a file: one row a player and trait, in stored units."""
    rows: list[list[Value]] = [
        [one.player, trait, TRAITS[trait].unit, *numbers(move)]
        for one in moves
        for trait, move in one.moves.items()
    ]
    return table_csv(("player", "trait", "unit", *heads("change")), rows)
