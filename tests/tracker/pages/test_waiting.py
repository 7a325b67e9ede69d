"""A page that waits can be left: what has begun goes on, what has not is given up."""

import threading

import pytest

from tracker.pages.shared import waiting
from tracker.pages.shared.once import once
from tracker.pages.shared.waiting import waited


class Clicked(Exception):
    """Stands for the library ending a run where the reader asked for another."""


def click():
    raise Clicked


def test_the_answer_is_that_of_the_work():
    assert waited(lambda: 42) == 42


def test_what_the_work_raises_is_raised():
    with pytest.raises(ZeroDivisionError):
        waited(lambda: 1 / 0)


def test_a_click_does_not_wait_for_the_work_whose_answer_is_kept_all_the_same(monkeypatch):
    go, done, asked = threading.Event(), threading.Event(), []

    @once(4)
    def slow(key):
        asked.append(key)
        go.wait(10)
        done.set()
        return key

    with monkeypatch.context() as patched:
        patched.setattr(waiting, "_leave_for_a_click", click)
        with pytest.raises(Clicked):
            waited(lambda: slow("a"))
    assert not done.is_set()
    go.set()
    assert waited(lambda: slow("a")) == "a"
    assert asked == ["a"]


def test_work_that_has_not_begun_is_given_up(monkeypatch):
    go, begun = threading.Event(), threading.Barrier(5)
    busy = [waiting._WORKERS.submit(lambda: (begun.wait(10), go.wait(10))) for _ in range(4)]
    begun.wait(10)
    did = []

    with monkeypatch.context() as patched:
        patched.setattr(waiting, "_leave_for_a_click", click)
        with pytest.raises(Clicked):
            waited(lambda: did.append("late"))
    go.set()
    for one in busy:
        one.result(10)
    assert waited(lambda: "next") == "next"
    assert did == []
