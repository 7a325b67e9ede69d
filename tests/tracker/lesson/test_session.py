"""Every shot is in the store when entered, is taken back by its key, and a file may grow."""

from datetime import date, datetime

import pytest

from tracker.errors import BadRequest, FileRefused
from tracker.lesson.session import (
    Lesson,
    commit,
    follow,
    lesson_today,
    player_of_today,
    shots_today,
    take_back,
    take_growing,
)
from tracker.records import Shot
from tracker.store.store import Store

TODAY = date(2026, 2, 9)
HEAD = "player,session,strike_up_mm\n"


@pytest.fixture
def address(tmp_path):
    return f"sqlite:///{tmp_path / 'live.db'}"


@pytest.fixture
def store(address):
    with Store.open(address) as opened:
        yield opened


def test_shots_are_numbered_and_survive_a_closed_browser(store, address):
    lesson = lesson_today(store, "  Elm ", today=TODAY, strike_method="Spray", handed="left")
    first = commit(store, lesson, {"strike_up_mm": -3.0})
    second = commit(store, lesson, {"strike_up_mm": 1.0, "attack_deg": 2.0})
    assert (first.number, second.number) == (1, 2)
    store.close()
    with Store.open(address) as again:
        later = lesson_today(again, "Elm", today=TODAY, strike_method="spray")
        assert later == Lesson("Elm", datetime(2026, 2, 9), "driver", "left", "spray")
        shots = shots_today(again, later)
        assert [dict(s.readings) for s in shots] == [
            {"strike_up_mm": -3.0},
            {"strike_up_mm": 1.0, "attack_deg": 2.0},
        ]
        assert commit(again, later, {}, missed_face=True).number == 3


def test_two_devices_never_share_a_number(store, address):
    lesson = lesson_today(store, "Elm", today=TODAY)
    with Store.open(address) as other:
        commit(store, lesson, {"strike_up_mm": 1.0})
        commit(other, lesson, {"strike_up_mm": 1.0})
        commit(store, lesson, {"strike_up_mm": 1.0})
    assert [s.number for s in shots_today(store, lesson)] == [1, 2, 3]


def test_a_shot_is_taken_back_with_what_it_leaves_empty(store):
    store.add_shots([Shot("Oak", datetime(2026, 1, 1), 1, {"attack_deg": 1.0})])
    lesson = lesson_today(store, "Elm", today=TODAY)
    before = dict(store.rows_by_table())
    first = commit(store, lesson, {"strike_up_mm": 1.0})
    second = commit(store, lesson, {"strike_up_mm": 2.0})
    take_back(store, first)
    assert shots_today(store, lesson) == (second,)
    take_back(store, second)
    assert store.rows_by_table() == before
    assert [p.name for p in store.players()] == ["Oak"]


def test_a_shot_under_a_number_given_again_is_not_the_one_to_take_back(store, address):
    lesson = lesson_today(store, "Elm", today=TODAY)
    commit(store, lesson, {"strike_up_mm": 1.0})
    shown = commit(store, lesson, {"strike_up_mm": 2.0})
    with Store.open(address) as other:
        take_back(other, shown)
        theirs = commit(other, lesson, {"strike_up_mm": 9.0})
    assert theirs.number == shown.number == 2
    with pytest.raises(BadRequest, match="shot 2 was taken back before"):
        take_back(store, shown)
    assert shots_today(store, lesson)[-1] == theirs


def test_the_lesson_that_goes_on_is_known_only_where_it_is_the_only_one_of_the_day(store):
    store.add_shots([Shot("Oak", datetime(2026, 2, 8, 23, 59), 1, {"attack_deg": 1.0})])
    assert player_of_today(store, TODAY) is None
    commit(store, lesson_today(store, "Elm", today=TODAY), {"strike_up_mm": 1.0})
    assert player_of_today(store, TODAY) == "Elm"
    store.add_shots([Shot("Oak", datetime(2026, 2, 9, 18), 1, {"attack_deg": 1.0})])
    assert player_of_today(store, TODAY) is None


def test_a_shot_is_removed_by_its_key_alone(store):
    shots = [
        Shot("Oak", datetime(2026, 1, d), n, {"attack_deg": 1.0}, club=club)
        for d in (1, 2)
        for club in ("driver", "3 wood")
        for n in (1, 2)
    ]
    store.add_shots(shots)
    assert store.remove_shot(shots[2])
    assert not store.remove_shot(shots[2])
    left = {(s.day, c, n) for _, s, c, n in (
        (r.player, r.session, r.club, r.number) for r in store.shots_frame().itertuples()
    )}  # fmt: skip
    assert left == {
        (1, "driver", 1), (1, "driver", 2), (1, "3 wood", 2),
        (2, "driver", 1), (2, "driver", 2), (2, "3 wood", 1), (2, "3 wood", 2),
    }  # fmt: skip
    assert len(store.loads()) == 1


def test_an_impossible_reading_is_refused_and_nothing_stored(store):
    lesson = lesson_today(store, "Elm", today=TODAY)
    with pytest.raises(BadRequest, match="strike_up_mm: found 400"):
        commit(store, lesson, {"strike_up_mm": 400.0})
    assert store.rows_by_table()["shot"] == 0
    with pytest.raises(BadRequest, match="empty name"):
        lesson_today(store, "  ", today=TODAY)


def test_a_lesson_goes_on_in_the_days_own_session(store):
    store.add_shots([Shot("Oak", datetime(2026, 2, 9, 14, 30), 4, {"attack_deg": 1.0})])
    lesson = lesson_today(store, "Oak", today=TODAY)
    assert lesson.session == datetime(2026, 2, 9, 14, 30)
    assert commit(store, lesson, {"attack_deg": 2.0}).number == 5


def test_a_growing_file_adds_only_new_rows(store, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(HEAD + "Elm,2026-02-09,1.5\nElm,2026-02-09,2")
    state, report = follow(store, str(path), None, today=TODAY)
    assert (report.stored, state.stored) == (1, 1)  # the second line has no end yet
    same, nothing = follow(store, str(path), state, today=TODAY)
    assert nothing is None
    assert same == state
    path.write_text(HEAD + "Elm,2026-02-09,1.5\nElm,2026-02-09,2.5\nElm,2026-02-09,high\n")
    state, report = follow(store, str(path), state, today=TODAY)
    assert (report.stored, report.already_stored, len(report.rejected)) == (1, 1, 1)
    assert state.stored == 2
    lesson = lesson_today(store, "Elm", today=TODAY)
    assert [s.readings["strike_up_mm"] for s in shots_today(store, lesson)] == [1.5, 2.5]


def test_pasted_rows_count_without_a_last_line_end(store):
    text = (HEAD + "Elm,2026-02-09,1.5\nElm,2026-02-09,2.5").encode()
    assert take_growing(store, text, today=TODAY, finished=True).stored == 2
    assert take_growing(store, text, today=TODAY, finished=True).stored == 0
    with pytest.raises(FileRefused, match="other readings"):
        take_growing(store, text.replace(b"2.5", b"9.9"), today=TODAY, finished=True)


def test_a_file_that_is_not_there_is_named(store, tmp_path):
    with pytest.raises(BadRequest, match=r"nothing\.csv cannot be read"):
        follow(store, str(tmp_path / "nothing.csv"), None, today=TODAY)
