"""Filters leave whoever answers to all of them, in the order of the fit."""

from dataclasses import replace

import pytest

from tests.fits import day, make_fit
from tracker.decisions.board.filters import Asked, players_left
from tracker.records import Labels, Player

LABELS = {"Ann": Labels("seniors", "Kerr"), "Ben": Labels("juniors", "Kerr"), "Cy": Labels()}


@pytest.fixture
def fit():
    days = {"Ann": (0, 7), "Ben": (0, 70), "Cy": (0, 70)}
    made = make_fit({"Ann": {}, "Ben": {}, "Cy": {}}, days=days)
    return replace(made, players=(Player("Ann"), Player("Ben", "left"), Player("Cy")))


@pytest.mark.parametrize(
    ("asked", "left"),
    [
        (Asked(), ("Ann", "Ben", "Cy")),
        (Asked(group="seniors"), ("Ann",)),
        (Asked(coach="Kerr"), ("Ann", "Ben")),
        (Asked(handed="left"), ("Ben",)),
        (Asked(since=day(70)), ("Ben", "Cy")),
        (Asked(coach="Kerr", handed="right", since=day(8)), ()),
    ],
)
def test_filters(fit, asked, left):
    assert players_left(fit, LABELS, asked) == left


def test_a_player_without_any_label_is_nobodys(fit):
    assert players_left(fit, {}, Asked(group="seniors")) == ()
    assert len(players_left(fit, {}, Asked())) == 3
