"""Every trait's way since the start at once, and the page's table of it."""

import csv
import io

import numpy as np
import pytest

from tests.fits import BROKEN, CLEAN, day, make_fit
from tracker.decisions.board.every_trait import moves_of
from tracker.decisions.board.start_now import start_now
from tracker.interval import Interval
from tracker.pages.every_trait_view import every_trait_csv, every_trait_view

UP, TOE, SPEED = "strike_up_mm", "strike_toe_mm", "club_speed_mps"
TRAITS = (UP, TOE, SPEED)
SIX = tuple(range(0, 42, 7))


def still(*path, samples=8):
    """Draws that all hold one path."""
    return np.tile(np.asarray(path, dtype=float), (samples, 1))


@pytest.fixture
def squad():
    return make_fit(
        {
            "=Ann": {UP: still(1, 3, 9, 9, 5, 7), SPEED: still(40, 40, 40, 44, 44, 44)},
            "Bo": {UP: still(0, 0, 0, 0, 0, 0), TOE: still(0, 0, 0, 0, -4, -4)},
        },
        days=SIX, samples=8, traits=TRAITS,
        shots={("=Ann", TOE): [15, 0, 0, 0, 0, 0], ("Bo", SPEED): [0] * 6},
    )  # fmt: skip


def test_moves_are_those_of_each_trait_alone(squad):
    ann, bo = moves_of(squad, ("=Ann", "Bo"))
    assert ann.moves.keys() == {UP, SPEED}  # the toe was read on one day
    assert (ann.moves[UP].median, ann.moves[SPEED].median) == (4.0, 4.0)
    assert ann.moves[UP] == start_now(squad, "=Ann", UP).change
    assert bo.moves.keys() == {UP, TOE}
    assert bo.moves[TOE].median == -4.0
    (since,) = moves_of(squad, ("=Ann",), day(21))
    assert since.moves[UP].median == pytest.approx(-2.0)  # 9 to 7


def test_a_trait_in_doubt_is_nobodys():
    fit = make_fit({"Ann": {}}, traits=TRAITS, reports={UP: BROKEN, TOE: CLEAN, SPEED: CLEAN})
    (ann,) = moves_of(fit, ("Ann",))
    assert ann.moves.keys() == {TOE, SPEED}


def test_the_table_has_a_column_a_trait_in_the_readers_units(squad):
    worth = {"=Ann": Interval(9.144, 4.572, 13.716, "m"), "Bo": None}
    view = every_trait_view(moves_of(squad, ("=Ann", "Bo")), worth, "yards")
    assert view.columns == (
        "Player", "Strike height", "Club speed", "Strike across the face", "Worth at like speed",
    )  # fmt: skip
    assert view.rows[0][1] == "+4.0 mm (+4.0 to +4.0)"
    assert view.rows[0][2].startswith("+8.9 mph")
    assert view.rows[0][3] == "not read twice"
    assert [row[-1] for row in view.rows] == ["+10 yd (+5 to +15)", "not said"]
    assert view.lead == "3 of 4 moves of 2 players here are 90 % sure to have gone one way."
    assert every_trait_view(moves_of(squad, ("Bo",)), {}, "yards").columns[-1] != view.columns[-1]


def test_nobody_with_two_days_says_what_to_do():
    one_day = make_fit({"Ann": {}}, days=(0,), traits=TRAITS)
    view = every_trait_view(moves_of(one_day, ("Ann",)), {}, "yards")
    assert view.rows == ()
    assert "measure another session" in view.lead


def test_the_file_has_a_row_a_player_and_trait_and_no_formula(squad):
    rows = list(
        csv.DictReader(io.StringIO(every_trait_csv(moves_of(squad, ("=Ann", "Bo"))).decode()))
    )
    assert [(r["player"], r["trait"]) for r in rows] == [
        ("'=Ann", UP), ("'=Ann", SPEED), ("Bo", UP), ("Bo", TOE),
    ]  # fmt: skip
    assert (rows[0]["change"], rows[0]["unit"]) == ("4", "mm")
