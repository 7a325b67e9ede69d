"""An answer is worked out once for all who ask, also at the same time; a failure is not kept."""

import threading
import time

import pytest

from tracker.pages.shared.once import once


def test_those_who_ask_at_the_same_time_share_one_answer():
    asked = []

    @once(4)
    def slow(key):
        asked.append(key)
        time.sleep(0.1)
        return [key]

    found = []
    threads = [threading.Thread(target=lambda: found.append(slow("a"))) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert asked == ["a"]
    assert all(one is found[0] for one in found)
    assert len(found) == 5


def test_failure_is_told_to_all_and_tried_again_next_time():
    tries = []

    @once(4)
    def fails_first():
        tries.append(1)
        if len(tries) == 1:
            raise ValueError("not yet")
        return "done"

    with pytest.raises(ValueError, match="not yet"):
        fails_first()
    assert fails_first() == "done"
    assert fails_first() == "done"
    assert len(tries) == 2


def test_only_the_latest_answers_are_kept():
    asked = []

    @once(2)
    def answer(key):
        asked.append(key)
        return key

    for key in ("a", "b", "a", "c", "a", "b"):
        assert answer(key) == key
    # c put b out (a was asked for since), so only b is worked out twice
    assert asked == ["a", "b", "c", "b"]


def test_arguments_by_name_count_as_arguments():
    @once(4)
    def pair(first, *, second):
        return first, second

    assert pair(1, second=2) == (1, 2)
    assert pair(1, second=3) == (1, 3)
