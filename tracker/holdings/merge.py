"""How two players who are one person become one."""

from collections.abc import Mapping
from dataclasses import dataclass

from tracker.errors import BadRequest
from tracker.holdings.held import held_of, refuse_while_fitting
from tracker.lesson.kept_photos import rename_photos
from tracker.store.fits import drop_fits
from tracker.store.merging import merge_rows
from tracker.store.store import Store


@dataclass(frozen=True, slots=True)
class Merged:
    """What moved from one player to another, by table, and what was there already."""

    rows: Mapping[str, int]
    already: int
    """Shots and changes that both had alike: kept once."""
    appended: int
    """Shots that were numbered after those of their session."""
    photos: int
    dropped: tuple[int, ...]
    """Numbers of the fits that knew the player who is no more."""


def merge_players(store: Store, giver: str, taker: str, *, append: bool = False) -> Merged:
    """Give everything of one player to another, and let the first go.

    A shot that both have with the same readings is kept once. With other readings it is refused
    (ConflictingShots, nothing is moved), or with ``append`` numbered after the taker's; a change
    that both have with another effort or note is refused, or stays as the taker's. Fits that know
    the giver are dropped. Raises UnknownPlayer, and BadRequest for players who cannot be one.
    """
    held_of(store, taker)
    held = held_of(store, giver)
    refuse_while_fitting(store)
    hands = {player.name: player.handed for player in store.players()}
    for name in (giver, taker):
        if name not in hands:
            raise BadRequest(f"{name!r} is in a fit but not stored: there is nothing to merge")
    if giver == taker:
        raise BadRequest(f"{giver!r} is one player already; name two")
    if hands[giver] != hands[taker]:
        msg = (
            f"{giver!r} plays {hands[giver]}-handed and {taker!r} {hands[taker]}-handed, so they "
            "are not merged; if one of them is wrong, load one of its files again with the right "
            "hand and --replace"
        )
        raise BadRequest(msg)
    dropped = tuple(sorted((*held.fits, *held.unreadable)))
    with store.writing() as connection:
        moved = merge_rows(connection, giver, taker, append=append)
        drop_fits(connection, dropped)
    photos = rename_photos(store, giver, taker)
    return Merged(moved.rows, moved.already, moved.appended, photos, dropped)
