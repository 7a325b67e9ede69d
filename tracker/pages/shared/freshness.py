"""Whether a fit has seen everything that is stored, without reading every shot at every click.

Reading and digesting all shots costs seconds in a long log, and a live lesson changes the data
with every click. A full look is therefore taken only when the number of stored shots is that of
the last full look, or that of the fit (so that only readings or changes can differ), when there is
a new fit, or when looking has cost at most a twentieth of the time since. In between the stored
shots are counted, which is cheap; a shot of another club counts as one too many until then.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Final

from models.traits import MODELLED
from tracker.records import DEFAULT_CLUB
from tracker.store.digest import data_digest
from tracker.store.rows import FitSummary
from tracker.store.store import Store

SHARE_OF_TIME: Final = 0.05
"""Most of the time that may go into full looks while the data keep changing."""
NEWER = "Readings or logged changes are newer than this fit: fit again."


@dataclass(frozen=True, slots=True)
class FullLook:
    """What a full look found: of which data, their digest, and how many shots a fit would use."""

    version: int
    fit: int
    stored: int
    usable: int
    digest: str
    taken_at: float
    seconds: float


_looks: dict[str, FullLook] = {}
_lock = Lock()


def since_fit(
    store: Store,
    version: int,
    stored: int,
    latest: FitSummary,
    *,
    clock: Callable[[], float] = time.monotonic,
) -> str:
    """Return how the stored data differ from what a fit has seen; empty when they do not.

    ``version`` is the store's data version, ``stored`` its number of shots.
    """
    with _lock:
        last = _looks.get(store.address)
        if last is None or _is_due(last, version, stored, latest, clock()):
            last = _looks[store.address] = _look(store, version, stored, latest.id, clock)
    if last.version == version:
        return _difference(last.usable, same=last.digest == latest.data_digest, latest=latest)
    return _difference(last.usable + stored - last.stored, same=False, latest=latest)


def _is_due(last: FullLook, version: int, stored: int, latest: FitSummary, now: float) -> bool:
    """Return whether a full look has to be taken, or may be."""
    if last.version == version and last.fit == latest.id:
        return False
    counted = last.usable + stored - last.stored
    if last.fit != latest.id or last.stored == stored or counted == latest.shots:
        return True
    return last.seconds <= SHARE_OF_TIME * (now - last.taken_at)


def _look(
    store: Store, version: int, stored: int, fit: int, clock: Callable[[], float]
) -> FullLook:
    begun = clock()
    frame = store.shots_frame(club=DEFAULT_CLUB)
    usable = int(frame[list(MODELLED)].notna().any(axis=1).sum())
    digest = data_digest(frame, store.changes())  # of the table just read, not read again
    ended = clock()
    return FullLook(version, fit, stored, usable, digest, ended, ended - begun)


def _difference(usable: int, *, same: bool, latest: FitSummary) -> str:
    if same:
        return ""
    more = usable - latest.shots
    if more == 0:
        return NEWER
    was = "shot was" if abs(more) == 1 else "shots were"
    done = "loaded" if more > 0 else "removed"
    return f"{abs(more)} {was} {done} after this fit: fit again."
