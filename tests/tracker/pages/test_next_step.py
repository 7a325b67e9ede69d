"""The next step on the coach's page: one sentence from here to yards, and the card beside it."""

from dataclasses import replace
from datetime import date

from tests.pages import drawn_by
from tests.tracker.pages.academy import gains
from tracker.decisions.distance.gain_answer import Measure
from tracker.pages.next_step import WORKING, next_step_view, says_the_answer
from tracker.report.next_goal import Retest

TODAY = date(2026, 3, 2)
RETEST = Retest("after the practice: 3 sessions.", "we will know by about 30 March 2026")
SENTENCE = (
    "From strike height -8.0 mm now toward +2.0 to +8.0 mm, by tee ladder for strike height (it "
    "moved 4 of 6 here by about 5.0 mm): +7 yd toward the target (90 % sure between +2 and +13 "
    "yd) for 1 session of practice"
)


def show(view):
    from tracker.pages.next_step import render

    render(view)


def test_one_sentence_leads_from_here_to_when_we_will_know():
    view = next_step_view(gains(), "yards", RETEST, TODAY)
    assert view.sentence == f"{SENTENCE}; we will know by about 30 March 2026."


def test_until_the_retest_is_worked_out_the_card_says_so_and_cannot_be_taken():
    view = next_step_view(gains(), "yards", None, TODAY)
    assert view.sentence == f"{SENTENCE}."
    assert view.lines[-1] == WORKING
    page = drawn_by(show, kwargs={"view": view}).run()
    assert not page.get("download_button")


def test_answer_is_said_once():
    assert says_the_answer(gains())
    assert not says_the_answer(gains(problems=("bad",)))
    reads = Measure("attack_deg", 2.0, read=True, beats_acting=True)
    assert not says_the_answer(gains(measure=reads))


def test_card_holds_goal_drill_promise_retest_and_cautions():
    view = next_step_view(gains(measure_next="Of readings, one more."), "yards", RETEST, TODAY)
    page = drawn_by(show, kwargs={"view": view}).run()
    assert page.markdown[0].value.startswith("From strike height")
    assert page.markdown[1].value == "Of readings, one more."
    card = page.markdown[3].value
    assert [row.split(":")[0] for row in card.splitlines()] == [
        "- Goal",
        "- Drill",
        "- Promised",
        "- Retest",
    ]
    assert view.card.startswith("Practice card: Cedar, 02 March 2026\n")
    assert "pain is a reason to ask a physiotherapist" in view.card
    assert len(page.get("download_button")) == 1


def test_nothing_is_said_where_no_lever_comes_first_or_the_fit_is_in_doubt():
    nothing = replace(gains(), first=None, first_lever=None)
    assert next_step_view(nothing, "yards", RETEST, TODAY) is None
    assert next_step_view(gains(problems=("bad",)), "yards", RETEST, TODAY) is None
