"""How a page waits for long work without holding up the reader's next click."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Final

import streamlit as st

TICK_S: Final = 0.05
"""How often a waiting page looks for a click."""
_WORKERS: Final = ThreadPoolExecutor(4, thread_name_prefix="page work")


def waited[R](work: Callable[[], R]) -> R:
    """Return what ``work`` gives, which is worked out in another thread.

    The library leaves a script for the reader's next click only where the script calls it, and long
    work does not. What was begun goes on, so ``work`` should be kept with ``once``: then it is
    there when it is asked for again. What has not begun is given up.
    """
    answer = _WORKERS.submit(work)
    try:
        while not answer.done():
            wait([answer], timeout=TICK_S)
            _leave_for_a_click()
    finally:
        answer.cancel()
    return answer.result()


def _leave_for_a_click() -> None:
    """Let the library end this run where another one is asked for."""
    st.session_state.get("anything")
