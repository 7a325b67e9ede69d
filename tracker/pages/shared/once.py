"""Answers that are worked out once for all readers; whoever asks meanwhile waits for the first."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from functools import wraps
from threading import Lock


def once[**P, R](entries: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Return a decorator that keeps the latest ``entries`` answers by their arguments.

    Unlike the page library's own cache it serves a thread that belongs to no reader, and hands out
    the answer itself, not a copy: answers must be frozen. A failed attempt is not kept.
    """

    def decorate(work: Callable[P, R]) -> Callable[P, R]:
        kept: OrderedDict[Hashable, Future[R]] = OrderedDict()
        lock = Lock()

        @wraps(work)
        def answer(*args: P.args, **kwargs: P.kwargs) -> R:
            key = (args, tuple(sorted(kwargs.items())))
            with lock:
                found = kept.get(key)
                first = found is None
                if found is None:
                    found = kept[key] = Future()
                    if len(kept) > entries:
                        kept.popitem(last=False)
                kept.move_to_end(key)
            if first:
                try:
                    found.set_result(work(*args, **kwargs))
                except BaseException as error:
                    with lock:
                        if kept.get(key) is found:
                            del kept[key]
                    found.set_exception(error)
                    raise
            return found.result()

        return answer

    return decorate
