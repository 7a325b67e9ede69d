"""A file is stored or refused whole, every problem shown with line, column, found, wanted."""

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.pages import drawn_by
from tracker.lesson.session import SOURCE, commit, lesson_today
from tracker.pages.load import EXAMPLE, grouped_loads, load_view, what_next
from tracker.store.rows import ImportBatch

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
    page = drawn_by(draw, kwargs={"view": view}).run()
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


NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def entry(number, minutes, source=SOURCE):
    return ImportBatch(number, source, NOON + timedelta(minutes=minutes), 1, 0, 0)


def ids(groups):
    return [[load.id for load in group] for group in groups]


def test_shots_of_a_lesson_make_one_row():
    loads = [entry(n, 5 * n) for n in (3, 2, 1)]
    assert ids(grouped_loads(loads)) == [[3, 2, 1]]


def test_a_pause_of_an_hour_or_a_file_between_parts_lessons():
    pause = [entry(3, 190), entry(2, 130), entry(1, 80)]
    assert ids(grouped_loads(pause)) == [[3], [2, 1]]
    file_between = [entry(3, 20), entry(2, 15, "march.csv"), entry(1, 10)]
    assert ids(grouped_loads(file_between)) == [[3], [2], [1]]


def test_files_are_never_put_together():
    assert ids(grouped_loads([entry(2, 1, "a.csv"), entry(1, 0, "a.csv")])) == [[2], [1]]


def whole_page():
    from tracker.pages.load import page

    page()


@pytest.fixture
def lesson_given(store):
    load_view(store, GOOD, "feb.csv", "shots", today=TODAY)
    lesson = lesson_today(store, "Elm", today=TODAY)
    for up in (1.0, 2.0, 3.0):
        commit(store, lesson, {"strike_up_mm": up})
    return store


def test_lesson_is_one_row_and_its_last_shot_can_be_taken_back(lesson_given):
    page = drawn_by(whole_page).run()
    rows = page.table[0].value
    assert rows["From"].tolist() == ["live lesson", "feb.csv"]
    assert rows["New"].tolist() == ["3 shots", "2 shots"]
    page.button(key=f"undo load {lesson_given.loads()[0].id}").click().run()
    assert not page.exception
    assert page.table[0].value["New"].tolist() == ["2 shots", "2 shots"]
    left = lesson_given.shots_frame("Elm")
    assert left[left["session"].dt.date == TODAY]["strike_up_mm"].tolist() == [1.0, 2.0]


def test_whole_lesson_can_be_taken_back_and_nothing_else(lesson_given):
    page = drawn_by(whole_page).run()
    page.button(key=f"undo lesson {lesson_given.loads()[0].id}").click().run()
    assert not page.exception
    assert page.table[0].value["From"].tolist() == ["feb.csv"]
    assert lesson_given.rows_by_table()["shot"] == 2


def test_a_stuck_device_is_named_under_the_answer(store):
    readings = [(1, v) for v in (3.5, -2.1, 8.8, 0.4)] + [(2, 6.3)] * 8
    rows = "".join(f"Elm,2026-02-0{day},{value}\n" for day, value in readings)
    content = f"player,session,strike_up_mm\n{rows}".encode()
    view = load_view(store, content, "feb.csv", "shots", today=TODAY)
    page = drawn_by(draw, kwargs={"view": view}).run()
    assert not page.exception
    (sentence,) = (text.value for text in page.text)
    assert sentence == (
        "Elm, 2026-02-02: all 8 readings of strike height are 6.3 mm, which looks like a stuck "
        "device; a fit leaves them out."
    )


def test_newcomer_is_led_from_the_example_file_to_the_fit(store):
    page = drawn_by(whole_page).run()
    assert page.markdown[0].value.startswith("New here? Take the example file")
    (example,) = page.get("download_button")
    assert example.proto.label == "Take the example file (CSV)"
    page.file_uploader[0].set_value((EXAMPLE.name, EXAMPLE.read_bytes(), "text/csv"))
    page.button(key="FormSubmitter:load-Load").click().run()
    assert page.title[0].value == "159 new shots stored."
    assert "Fit these shots" in [button.label for button in page.button]


@pytest.mark.parametrize(
    ("shots", "fitted", "fitting", "starts"),
    [
        (0, False, False, "New here?"),
        (9, False, False, "Shots are stored. Now fit them"),
        (9, False, True, "The fit is under way"),
        (9, True, True, "The fit is under way"),
        (9, True, False, "The Coach page answers"),
    ],
)
def test_page_always_says_what_comes_next(shots, fitted, fitting, starts):
    assert what_next(shots, fitted=fitted, fitting=fitting).startswith(starts)
