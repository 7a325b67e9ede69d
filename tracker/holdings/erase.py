"""How a player is erased: rows, photographs and fits, and the name itself."""

from dataclasses import dataclass

from tracker.errors import BadRequest
from tracker.holdings.held import Held, refuse_while_fitting
from tracker.store.fits import drop_fits
from tracker.store.people import erase_rows
from tracker.store.store import Store

ELSEWHERE = "Backups, exports and cards made before still hold the name: delete them yourself."


@dataclass(frozen=True, slots=True)
class Erased:
    """What was erased, and whether the files of the database are free of it."""

    held: Held
    clean: bool
    """False while another program reads the database: its log may still hold what was erased."""


def what_goes(held: Held) -> tuple[str, ...]:
    """Return what erasing a player removes, one line each."""
    words = {"shot": "shots", "logged_change": "logged changes", "practice_session": "sessions"}
    lines = [
        f"{number} {words.get(table, f'rows of {table}')}"
        for table, number in held.rows.items()
        if table != "player"
    ]
    if held.photos:
        lines.append(f"{len(held.photos)} kept photographs")
    if held.fits:
        numbers = ", ".join(map(str, held.fits))
        lines.append(f"every fit that knows the name (number {numbers}): fit again afterwards")
    if held.unreadable:
        numbers = ", ".join(map(str, held.unreadable))
        lines.append(f"damaged fits, which may know the name (number {numbers})")
    if held.free_texts:
        lines.append(f"the name in {len(held.free_texts)} notes and names of loaded files")
    return tuple(lines)


def erase_player(store: Store, held: Held) -> Erased:
    """Remove what ``held_of`` found, and the name from the database's files.

    Raises BadRequest while a fit is under way, or where a photograph cannot be removed.
    """
    refuse_while_fitting(store)
    for photo in held.photos:
        try:
            photo.unlink(missing_ok=True)
        except OSError as error:
            msg = f"{photo} cannot be removed ({error.strerror}), so no row was erased yet"
            raise BadRequest(msg) from error
    with store.writing() as connection:
        drop_fits(connection, (*held.fits, *held.unreadable))
        erase_rows(connection, held.player)
    return Erased(held, store.compact())
