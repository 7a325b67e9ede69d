"""Everything that is held of one player: rows, photographs, fits, and texts that say the name."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tracker.errors import BadRequest, UnknownPlayer
from tracker.fits.background import progress
from tracker.fits.codec import head_of
from tracker.lesson.kept_photos import photos_of
from tracker.readings.shot_columns import closest
from tracker.store.people import Mention, count_rows, mentions, name_pattern
from tracker.store.store import Store


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of a player."""

    player: str
    rows: Mapping[str, int]
    """Rows by table; tables without any are left out."""
    photos: tuple[Path, ...]
    fits: tuple[int, ...]
    """Numbers of the stored fits that know the name."""
    unreadable: tuple[int, ...]
    """Numbers of damaged fits, which may know it."""
    mentions: tuple[Mention, ...]
    """Texts of others' rows that say the name."""

    @property
    def free_texts(self) -> tuple[Mention, ...]:
        """Return the mentions in notes and the like, in which a name can be covered."""
        return tuple(m for m in self.mentions if m.free)

    @property
    def other_texts(self) -> tuple[Mention, ...]:
        """Return the mentions that may be somebody else's word, such as the name of a drill."""
        return tuple(m for m in self.mentions if not m.free)


def held_of(store: Store, player: str) -> Held:
    """Return what is held of a player; raise UnknownPlayer where nothing is."""
    with store.reading() as connection:
        rows, said = count_rows(connection, player), mentions(connection, player)
    fits, unreadable = fits_that_know(store, player)
    if not rows and not fits:
        near = closest(player, [p.name for p in store.players()])
        hint = f"the closest is {near!r}" if near else "nothing is held of this name"
        raise UnknownPlayer(f"player {player!r} is not stored: {hint}")
    return Held(player, rows, photos_of(store, player), fits, unreadable, said)


def fits_that_know(store: Store, player: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the numbers of the fits that know a name, and of those that cannot be read."""
    known, damaged = [], []
    for summary in store.fits():
        head = head_of(store.load_fit(summary.id).draws)
        if head is None:
            damaged.append(summary.id)
        elif _says(head, player):
            known.append(summary.id)
    return tuple(sorted(known)), tuple(sorted(damaged))


def _says(head: Mapping[str, Any], player: str) -> bool:
    """Return whether the names and notes of a fit say a player's name."""
    changes = head.get("changes", ())
    people = [*(p.get("name") for p in head.get("players", ())), *(c["player"] for c in changes)]
    if player in people:
        return True
    covered = name_pattern(player, [name for name in people if name])
    notes = [c.get("note") for c in changes]
    return any(note and covered(note) != note for note in notes)


def refuse_while_fitting(store: Store) -> None:
    """Raise BadRequest while a fit is under way: it would bring back what is being changed."""
    now = progress(store)
    if now is not None and now.active:
        raise BadRequest("a fit is under way and knows the old names; wait until it has ended")
