"""Promises on the pages: kept when a change is logged, shown for the squad and for a player."""

from dataclasses import replace
from datetime import date

import pytest

from tests.fits import day, make_fit, noise
from tests.pages import drawn_by
from tests.tracker.decisions.promises.logbook import LADDER, N, after, promise
from tests.tracker.pages.academy import LEVELS, keep
from tracker.decisions.promises.found import PromiseBook, promise_book
from tracker.pages.load import load_view
from tracker.pages.promises_view import player_promises, promises_view
from tracker.records import Change

UP = "strike_up_mm"


def coach():
    from tracker.pages.coach import page

    page()


def player():
    from tracker.pages.player import page

    page()


def squad():
    from tracker.pages.squad import page

    page()


def run(draw):
    page = drawn_by(draw).run()
    assert not page.exception
    return page


def texts(page):
    return " ".join(one.value for kind in (page.markdown, page.caption, page.text) for one in kind)


@pytest.fixture
def book():
    other = replace(LADDER, name="coin", start=day(23))
    fit = after(4.0 + 0.5 * noise(N, seed=5))
    return promise_book(fit, [promise(), promise(change=other)])


def test_only_what_can_be_judged_is_a_point_and_every_promise_is_a_line(book):
    view = promises_view(book, "yards")
    (point,) = view.points
    assert point.label == "Ann, ladder"
    assert point.promised.median == pytest.approx(6 / 0.9144)
    assert point.found.unit == "yd"
    assert [row[1] for row in view.rows] == ["coin", "ladder"]  # the latest first
    early, kept = view.rows
    assert early[-1] == "too early to say: the last fit has not seen it"
    assert kept[4] == "+5.0 mm (+1.0 to +9.0)"
    assert kept[5].startswith("+4.0 mm (+3.2 to +4.")  # 1.645 SDs of .5 about 4
    assert kept[-1] == "kept, nearly certain"
    assert [row[:2] for row in view.drills] == [
        ("ladder", "strike height"), ("coin", "strike height"),
    ]  # fmt: skip
    assert " yd" not in str(promises_view(book, "metres"))


def test_the_section_shows_sentence_picture_and_tables(book):
    def draw(view):
        from tracker.pages.promises import render

        render(view)

    page = drawn_by(draw, kwargs={"view": promises_view(book, "yards")}).run()
    assert not page.exception
    assert page.markdown[0].value.startswith("About 1.0 of 1 promise")
    assert len(page.get("vega_lite_chart") or page.get("arrow_vega_lite_chart")) == 1
    drills, every = (t.value for t in page.table)
    assert drills.loc[0, "Held"] == "1.0 of 1 (23 to 100 in 100)"
    assert every.loc[1, "Promised"] == "+5.0 mm (+1.0 to +9.0)"
    assert "lean on what the drill did to others" in texts(page)


def test_a_player_reads_the_own_promises_only(book):
    latest, first = player_promises(book, "Ann", "yards")
    assert latest.startswith("coin from 28 Jan 2026, promised: strike height +5.0 mm")
    assert first.endswith("kept (nearly certain that it held).")
    (nothing,) = player_promises(book, "Bo", "yards")
    assert nothing.startswith("Bo: nothing is promised yet. A promise is stored when a change")


def test_without_promises_both_pages_say_what_to_do(academy):
    for draw in (squad, player):
        assert "log the drill or other change before it starts" in texts(run(draw))
    assert promises_view(PromiseBook.empty(), "yards").points == ()


def test_a_change_logged_on_the_page_is_promised_and_later_found(academy):
    page = run(coach)
    page.selectbox(key="box player").set_value("Cedar").run()
    trait = next(s for s in page.selectbox if s.label == "Trait to work on")
    trait.set_value(UP).run()
    page.text_input[0].set_value("tee it higher")
    page.button(key="FormSubmitter:plan-Log this change").click().run()
    assert not page.exception
    (kept,) = academy.promises().values()
    assert (kept.change.player, kept.change.name) == ("Cedar", "tee it higher")
    assert kept.change.start == date.today()
    assert any(c.value.startswith("Promised: strike height +") for c in page.caption)
    # the drill moved Cedar by 4 mm before: once more is promised half of it
    assert kept.move.median == pytest.approx(2.0, abs=0.4)

    days = (date.today() - day(0)).days
    first = Change("Cedar", day(10), "drill", "tee it higher", UP, 4)
    done = kept.move.median + 0.1 * noise(400, seed=4)
    fit = make_fit(
        {**LEVELS, "Cedar": {UP: [-8.0, -8.2, -4.0, -3.8, -1.8, -1.8]}},
        days={"Cedar": (0, 7, 14, 21, days, days + 7), "Alder": (0, 7, 14, 21)},
        changes=[first, kept.change],
        change_effect={0: {UP: np_draws(4.0)}, 1: {UP: done}},
        drill_effect={"tee it higher": {UP: np_draws(4.0)}},
        level_sd={UP: 0.4},
    )
    keep(academy, fit)
    page = run(squad)
    assert "About 1.0 of 1 promise" in texts(page)
    page = run(player)
    page.selectbox(key="box player").set_value("Cedar").run()
    assert "promised: strike height" in texts(page)
    assert "kept (nearly certain that it held)" in texts(page)


def np_draws(mean):
    return mean + 0.5 * noise(400, seed=5)


def test_what_cannot_be_promised_is_said_once_on_the_page(academy):
    page = run(coach)
    next(s for s in page.selectbox if s.label == "Trait to work on").set_value(
        "club_speed_mps"
    ).run()
    page.text_input[0].set_value("speed sticks")
    page.button(key="FormSubmitter:plan-Log this change").click().run()
    assert "no lever for club speed is known" in texts(page)
    assert "no lever for club speed" not in texts(page.run())
    assert academy.promises() == {}


def test_a_loaded_list_of_changes_says_what_is_promised(academy):
    rows = (
        "player,start,kind,name,trait,effort_sessions,note\n"
        f"Alder,{day(22)},drill,tee it higher,{UP},2,\n"
        f"Alder,{day(12)},drill,tee it higher,{UP},2,\n"
    )
    view = load_view(academy, rows.encode(), "changes.csv", "changes", today=date(2026, 12, 1))
    assert "1 promise kept" in view.lead
    assert view.not_promised == (
        "Nothing is promised of tee it higher (Alder): the last fit has seen Alder after "
        "2026-01-17 already.",
    )
    assert len(academy.promises("Alder")) == 1
