"""What is promised of a change: the coach's own numbers, and only beforehand."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import BROKEN, day, with_info
from tests.tracker.decisions.promises.logbook import LADDER, UP, before
from tracker.decisions.distance.gain import player_gains
from tracker.decisions.promises.promised import promise_of
from tracker.errors import NoPromise
from tracker.records import Change


def lever_of(fit, name):
    (found,) = (one for one in player_gains(fit, "Ann").levers if one.name == name)
    return found


def test_a_known_drill_is_promised_what_the_list_of_levers_says_of_it():
    fit = before()
    promise, lever = promise_of(fit, LADDER), lever_of(fit, "ladder")
    assert promise.lever == "ladder"
    assert promise.move == lever.move
    assert promise.gain == lever.gain_m
    assert promise.gains["inside"] == lever.stays_inside_change
    assert promise.mean_gain_m == pytest.approx(lever.mean_gain_m)
    assert promise.move.median == pytest.approx(5.0, abs=0.3)  # Bo's answer
    assert (promise.effort_sessions, promise.fit_id) == (2.0, 1)


def test_an_unknown_name_is_promised_as_a_new_drill_for_its_trait():
    fit = before()
    promise = promise_of(fit, replace(LADDER, name="coin on the tee", effort_sessions=None))
    lever = lever_of(fit, "a new drill for strike height")
    assert promise.lever == lever.name
    assert promise.move == lever.move
    assert promise.effort_sessions == 1.0  # as Bo's was
    assert promise.move.high90 - promise.move.low90 > 1.5 * (
        lever_of(fit, "ladder").move.high90 - lever_of(fit, "ladder").move.low90
    )


def test_a_drill_once_more_is_promised_from_the_players_own_answer():
    own = Change("Ann", day(3), "drill", "ladder", UP, 1.0)
    promise = promise_of(before(changes=(own,)), LADDER)
    assert promise.move.median == pytest.approx(2.5, abs=0.3)  # half of the 5 it did to Ann


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (replace(LADDER, trait=None), "aims at no one trait"),
        (replace(LADDER, trait="club_speed_mps"), "no lever for club speed"),
        (replace(LADDER, player="Cy"), "does not know Cy"),
        (replace(LADDER, start=day(20)), "has seen Ann after"),
        (replace(LADDER, trait="loft_deg"), "no reading of Ann's delivered loft"),
    ],
)
def test_what_cannot_be_promised_says_why(change, why):
    fit = before(shots={("Ann", "loft_deg"): 0})
    with pytest.raises(NoPromise, match=why):
        promise_of(fit, change)


def test_the_last_session_may_be_of_the_day_on_which_a_change_begins():
    on_the_day = promise_of(before(), replace(LADDER, start=day(21)))
    assert on_the_day.move == promise_of(before(), LADDER).move


def test_equipment_that_a_player_has_is_not_promised_again():
    shaft = Change("Ann", day(3), "equipment", "light shaft", UP)
    fit = before(changes=(shaft,), drill_effect={})
    with pytest.raises(NoPromise, match="Ann has it already"):
        promise_of(fit, replace(shaft, start=day(22)))


def test_a_fit_in_doubt_promises_nothing():
    fit = before()
    doubtful = with_info(fit, replace(fit.info, reports={"path_deg": BROKEN}))
    with pytest.raises(NoPromise, match="did not pass its checks"):
        promise_of(doubtful, LADDER)


def test_the_same_fit_promises_the_same_again():
    assert promise_of(before(), LADDER) == promise_of(before(), LADDER)
    assert np.isfinite(promise_of(before(), LADDER).gains["carry"].median)
