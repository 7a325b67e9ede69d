"""What the latest fit promises of changes as they are logged, kept beside them."""

from collections.abc import Callable
from dataclasses import dataclass

from tracker.decisions.promises.promised import promise_of
from tracker.errors import NoFit, NoPromise
from tracker.fits.kept_fits import latest_fit
from tracker.promise import Promise
from tracker.records import Change
from tracker.store.rows import LoggedChange
from tracker.store.store import Store


@dataclass(frozen=True, slots=True)
class Promised:
    """What became of some new changes: those with a promise, and the others with why not."""

    kept: tuple[Promise, ...] = ()
    without: tuple[tuple[Change, str], ...] = ()


def logged_with_promises[Result](
    store: Store, log: Callable[[], Result]
) -> tuple[Result, Promised]:
    """Log changes by calling ``log``; keep what the latest fit promises of those that are new."""
    known = {logged.id for logged in store.logged_changes()}
    result = log()
    new = [logged for logged in store.logged_changes() if logged.id not in known]
    return result, _promise(store, new) if new else Promised()


def _promise(store: Store, new: list[LoggedChange]) -> Promised:
    try:
        fit = latest_fit(store)
    except NoFit as why:
        return Promised(without=tuple((one.change, str(why)) for one in new))
    made: list[tuple[LoggedChange, Promise]] = []
    without: list[tuple[Change, str]] = []
    for one in new:
        try:
            made.append((one, promise_of(fit, one.change)))
        except NoPromise as reason:
            without.append((one.change, str(reason)))
    return Promised(store.add_promises(made), tuple(without))
