"""How a player gets another name, in the rows, the photographs and the stored fits."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from tracker.errors import BadRequest, UnreadableFit
from tracker.files.cells import clean_name
from tracker.fits.codec import encode
from tracker.fits.kept_fits import fit_of_row
from tracker.holdings.held import held_of, refuse_while_fitting
from tracker.lesson.kept_photos import rename_photos
from tracker.posterior import Fit
from tracker.store.digest import data_digest
from tracker.store.fits import drop_fits, rewrite_fits
from tracker.store.people import rename_rows
from tracker.store.store import Store


@dataclass(frozen=True, slots=True)
class Renamed:
    """What a player's other name changed."""

    rows: Mapping[str, int]
    """Rows that said the name, by table."""
    photos: int
    fits: Mapping[int, int]
    """New numbers of the fits by their old ones; every one of them stays usable."""
    dropped: tuple[int, ...]
    """Numbers of fits that could not be given the other name."""


def rename_player(store: Store, old: str, new: str) -> Renamed:
    """Give a player another name.

    Raises UnknownPlayer for a name that is not held, BadRequest for one that cannot be given:
    empty, of control characters, or another player's.
    """
    name = _wanted_name(new)
    if name in {player.name for player in store.players()}:
        raise BadRequest(f"{name!r} is stored already: to make one of two, merge {old!r} into it")
    held = held_of(store, old)
    refuse_while_fitting(store)
    rewritten: dict[int, tuple[bytes, str]] = {}
    dropped = list(held.unreadable)
    for number in held.fits:
        try:
            fit = fit_of_row(store.load_fit(number))
        except UnreadableFit:
            dropped.append(number)
            continue
        if name in {player.name for player in fit.players}:
            dropped.append(number)  # it knows another player of that name
        else:
            other = _renamed(fit, old, name)
            rewritten[number] = encode(other), _digest(store, fit, old, name)
    with store.writing() as connection:
        drop_fits(connection, dropped)
        rows = rename_rows(connection, old, name)
        numbers = rewrite_fits(connection, rewritten) if rewritten else {}
    photos = rename_photos(store, old, name)
    return Renamed(rows, photos, numbers, tuple(sorted(dropped)))


def _wanted_name(new: str) -> str:
    try:
        return clean_name(new)
    except ValueError as error:
        raise BadRequest(f"the new name: found {new!r}, wanted {error}") from None


def _renamed(fit: Fit, old: str, new: str) -> Fit:
    return replace(
        fit,
        players=tuple(replace(p, name=new) if p.name == old else p for p in fit.players),
        changes=tuple(replace(c, player=new) if c.player == old else c for c in fit.changes),
    )


def _digest(store: Store, fit: Fit, old: str, new: str) -> str:
    """Return the digest under which a fit is as fresh after the renaming as it was before."""
    if store.data_digest(fit.info.club) != fit.info.data_digest:
        return fit.info.data_digest  # it was stale and stays so
    shots = store.shots_frame(club=fit.info.club)
    shots["player"] = shots["player"].replace(old, new)
    changes = [replace(c, player=new) if c.player == old else c for c in store.changes()]
    return data_digest(shots, changes)
