"""What is likely to be asked next is worked out in its order, while nobody waits for a page."""

import threading
from functools import partial

from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Selectbox

from tests.pages import PATIENCE_S, page_alone
from tracker.decisions.distance.yardstick import TOWARD, YARDSTICKS
from tracker.errors import NoFit
from tracker.pages import coach_ahead, distance, next_step, season
from tracker.pages.shared import context
from tracker.pages.shared.ahead import Ahead


class Worker:
    """A list that is worked on, and what has been done of it."""

    def __init__(self) -> None:
        self.ahead = Ahead(quiet_s=0.0)
        self.done = []
        self._last = threading.Event()

    def work(self, *names):
        return [partial(self.done.append, name) for name in names]

    def finish(self):
        """Begin, and return when everything listed so far has been done."""
        self.ahead._listed.append(self._last.set)
        self.ahead.start()
        assert self._last.wait(PATIENCE_S)


def test_the_likeliest_is_done_first_and_what_a_later_reader_needs_before_it():
    one = Worker()
    one.ahead.likely(one.work("first", "second"))
    one.ahead.likely(one.work("later reader's first", "later reader's second"))
    one.finish()
    assert one.done == ["later reader's first", "later reader's second", "first", "second"]


def test_nothing_is_begun_while_a_reader_waits_for_a_page():
    one, drawn, seen = Worker(), threading.Event(), []
    with one.ahead.waiting():
        one.ahead.likely([lambda: seen.append(drawn.is_set())])
        one.ahead.start()
        with one.ahead.waiting():
            pass  # another reader's page is drawn before this one's
        drawn.set()
    one.finish()
    assert seen == [True]


def test_what_no_page_could_answer_keeps_nothing_else_from_being_worked_out():
    def refused():
        raise NoFit("nothing is fitted")

    one = Worker()
    one.ahead.likely([refused, *one.work("next")])
    one.finish()
    assert one.done == ["next"]


def test_a_page_drawn_without_a_server_leaves_nothing_running(academy):
    before = ahead_threads()
    page = page_alone("coach").run()
    assert not page.exception
    assert ahead_threads() == before


def test_choosing_another_player_or_yardstick_finds_everything_worked_out(academy, monkeypatch):
    key = context.latest_key()
    for work in coach_ahead.likely_next(key, "Cedar", (), TOWARD, "yards"):
        work()
    context.gains_of(key, "Cedar", (), TOWARD, "yards")

    def not_again(*_asked, **_more):
        raise AssertionError("it was worked out already")

    monkeypatch.setattr(context, "player_levers", not_again)
    monkeypatch.setattr(next_step, "next_retest", not_again)
    monkeypatch.setattr(distance, "explain", not_again)
    page = page_alone("coach").run()
    for label, chosen in (("What counts", YARDSTICKS[1:]), ("Player", ("Alder",))):
        for option in chosen:
            page = box(page, label).set_value(option).run()
            assert not page.exception
            assert box(page, label).value == option
        page = box(page, "What counts").set_value("toward").run()


def test_a_plan_of_the_season_finds_every_retest_worked_out(academy, monkeypatch):
    key = context.latest_key()
    for work in season.likely_next(key):
        work()

    def not_again(*_asked, **_more):
        raise AssertionError("it was worked out already")

    monkeypatch.setattr(season, "season_retest", not_again)
    page = page_alone("season").run()
    (button,) = (one for one in page.button if one.label == "Plan the season")
    page = button.click().run()
    assert not page.exception
    assert page.subheader[0].value


def ahead_threads() -> set[int | None]:
    return {thread.ident for thread in threading.enumerate() if thread.name == "ahead"}


def box(page: AppTest, label: str) -> Selectbox:
    (found,) = (box for box in page.selectbox if box.label == label)
    return found
