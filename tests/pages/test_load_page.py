"""A file is stored or refused whole, every problem shown with line, column, found, wanted."""

from datetime import date

from streamlit.testing.v1 import AppTest

from tracker.pages.load import load_view

TODAY = date(2026, 3, 1)
GOOD = b"player,session,shot,strike_up_mm\nElm,2026-02-01,1,3.5\nElm,2026-02-01,2,1.0\n"
BAD = b"player,session,shot,strike_up_mm\nElm,2026-02-01,1,3.5\nElm,2026-02-01,2,high\n"
CHANGES = (
    b"player,start,kind,name,trait,effort_sessions\nElm,2026-02-10,drill,gate,strike_up_mm,3\n"
)


def draw(view):
    from tracker.pages.load import render

    render(view)


def test_good_file_is_stored_and_counted(store):
    view = load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    assert (view.headline, view.lead) == ("2 new shots stored.", "2 rows read. Now fit again.")
    assert store.rows_by_table()["shot"] == 2


def test_same_file_twice_stores_nothing_twice(store):
    load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    view = load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    assert view.headline == "0 new shots stored."
    assert "2 shots stored before" in view.lead


def test_bad_file_is_refused_whole_with_every_problem(store):
    view = load_view(store, BAD, "feb.csv", "shots", today=TODAY)
    assert view.headline == "feb.csv was refused; nothing was stored."
    assert store.rows_by_table()["shot"] == 0
    page = AppTest.from_function(draw, kwargs={"view": view}).run()
    assert not page.exception
    shown = page.table[0].value.iloc[0]
    assert (shown["Line"], shown["Column"], shown["Found"]) == ("3", "strike_up_mm", "high")
    assert "number" in shown["Wanted"]


def test_bad_rows_can_be_left_out_and_taken_away(store):
    view = load_view(store, BAD, "feb.csv", "shots", today=TODAY, skip_bad=True)
    assert view.headline == "1 new shot stored."
    assert "1 bad row left out" in view.lead
    assert b"high" in view.rejected


def test_changes_need_their_player_first(store):
    refused = load_view(store, CHANGES, "changes.csv", "changes", today=TODAY)
    assert not refused.stored
    load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    stored = load_view(store, CHANGES, "changes.csv", "changes", today=TODAY)
    assert stored.headline == "1 new change stored."


def test_other_readings_of_a_stored_shot_are_refused_until_replaced(store):
    load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    other = GOOD.replace(b"3.5", b"4.5")
    refused = load_view(store, other, "feb.csv", "shots", today=TODAY)
    assert not refused.stored
    assert any("3.5" in p.wanted for p in refused.problems)
    replaced = load_view(store, other, "feb.csv", "shots", today=TODAY, on_conflict="replace")
    assert "1 shot replaced" in replaced.lead
