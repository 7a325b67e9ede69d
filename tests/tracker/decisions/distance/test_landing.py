"""Where drives land: about each draw's own aim, moved by the lever, mirrored by nobody."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import make_fit
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.landing import DRAWS, SHOTS, landing_spreads
from tracker.decisions.distance.worth import player_levers
from tracker.decisions.distance.yardstick import chance_inside

UP = "strike_up_mm"


@pytest.fixture(scope="module")
def fit():
    return make_fit({"Ana": {UP: -12.0}})


@pytest.fixture(scope="module")
def lever(fit):
    levers = player_levers(fit, "Ana", draws=200, shots=24)
    return next(w for w in levers.offered if w.lever.trait == UP)


def test_drives_lie_about_their_own_middle(fit):
    now = landing_spreads(fit, "Ana", None).now
    assert now.along.shape == now.beside.shape
    assert np.abs(now.beside.mean(axis=1)).max() < 1.0


def test_a_place_is_as_far_away_as_the_drive_carries(fit):
    now = landing_spreads(fit, "Ana", None).now
    carry = player_cloud(fit, "Ana").part(DRAWS, SHOTS).landings().carry_m
    assert np.hypot(now.along, now.beside) == pytest.approx(carry)


def test_share_inside_the_corridor_is_the_chance_that_the_gains_speak_of(fit):
    now = landing_spreads(fit, "Ana", None).now
    flown = player_cloud(fit, "Ana").part(DRAWS, SHOTS).landings()
    share = float(np.mean(np.abs(now.beside) < 15.0))
    assert share == pytest.approx(float(chance_inside(flown, 30.0).mean()), abs=0.03)


def test_after_a_lever_that_gains_the_drives_land_farther(fit, lever):
    higher = replace(lever, move=np.full(lever.move.size, 8.0))
    spreads = landing_spreads(fit, "Ana", higher)
    cloud = player_cloud(fit, "Ana").part(DRAWS, SHOTS)
    moved = cloud.moved(UP, cloud.level_of(UP) + 8.0)
    longer = float((moved.landings().carry_m - cloud.landings().carry_m).mean())
    assert longer > 3.0
    far = [np.hypot(s.along, s.beside).mean() for s in (spreads.now, spreads.after)]
    assert far[1] - far[0] == pytest.approx(longer)


def test_without_a_lever_there_is_no_after(fit):
    assert landing_spreads(fit, "Ana", None).after is None
