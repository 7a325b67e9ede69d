"""What a reader is likely to ask next, worked out while no page is being drawn.

Pages say what that would be when they have been drawn; it is worked out one thing after another
by one thread, which waits while anybody waits for a page. Nothing is worked out unless a server has
started that thread, so a page that is drawn alone, in a test, leaves nothing running.
"""

import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from threading import Condition, Thread
from typing import Final

from tracker.errors import TrackerError

Work = Callable[[], object]

QUIET_S: Final = 0.5
"""How long nobody must have waited for a page: clicks come in a row."""
MOST: Final = 400
"""Things that may wait to be worked out; the oldest are forgotten."""


class Ahead:
    """A list of work that is done while nobody waits, what was asked for last first."""

    def __init__(self, quiet_s: float = QUIET_S) -> None:
        self._quiet_s = quiet_s
        self._listed: deque[Work] = deque(maxlen=MOST)
        self._drawn_now = 0
        self._rest_since = time.monotonic()
        self._changed = Condition()

    def likely(self, work: Iterable[Work]) -> None:
        """List work in the order in which it is likely to be asked for, before what is listed.

        What is worked out must be kept with ``once``: then it is there when it is asked for.
        """
        with self._changed:
            self._listed.extendleft(reversed(list(work)))
            self._changed.notify_all()

    @contextmanager
    def waiting(self) -> Iterator[None]:
        """Say that a reader waits for a page as long as the block lasts."""
        with self._changed:
            self._drawn_now += 1
        try:
            yield
        finally:
            with self._changed:
                self._drawn_now -= 1
                self._rest_since = time.monotonic()
                self._changed.notify_all()

    def start(self) -> None:
        """Begin to work, in a thread that ends with the program."""
        Thread(target=self._work_on, name="ahead", daemon=True).start()

    def _work_on(self) -> None:
        while True:
            work = self._next()
            with suppress(TrackerError):  # the page that asks for it says what is wrong
                work()

    def _next(self) -> Work:
        """Return what to work out now; wait until there is something and nobody waits."""
        with self._changed:
            while True:
                rest = self._rest_since + self._quiet_s - time.monotonic()
                if self._drawn_now or not self._listed:
                    self._changed.wait()
                elif rest > 0:
                    self._changed.wait(rest)
                else:
                    return self._listed.popleft()


AHEAD: Final = Ahead()
"""The one list of this server."""
