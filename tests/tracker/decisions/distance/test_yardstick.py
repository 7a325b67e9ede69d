"""What counts: yardsticks of a few drives worked by hand."""

import numpy as np
import pytest
from scipy.stats import norm

from models.drive.drive import Landing
from tests.fits import make_fit
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.yardstick import (
    CARRY,
    TOWARD,
    Yardstick,
    along_target,
    chance_inside,
    outcome,
)
from tracker.errors import BadRequest

CLUB = {"club_speed_mps": 45.0, "attack_deg": -1.0, "face_deg": 0.0, "path_deg": 0.0}


def landing(carry, degrees):
    carry, turned = np.asarray(carry, dtype=float), np.radians(degrees)
    none = np.zeros(carry.shape)
    return Landing(carry, carry * np.sin(turned), none, none, none)


def test_toward_the_target_is_carry_times_the_cosine():
    # cos 60 = .5, cos 0 = 1
    np.testing.assert_allclose(along_target(landing([200.0, 180.0], [60.0, 0.0])), [100.0, 180.0])


def test_inside_is_counted_about_the_players_own_mean_direction():
    # all 8 degrees off and 1 degree about it: 200 sin 1 = 3.5 m, far inside +-15
    off = landing([[200.0] * 4], [[7.0, 9.0, 7.0, 9.0]])
    assert chance_inside(off, 30.0)[0] == pytest.approx(1.0, abs=1e-6)
    # 200 sin 10 = 34.7 m: two of four are out whatever the corridor's soft edge of 2 m
    wide = landing([[200.0] * 4], [[-10.0, 10.0, 0.0, 0.0]])
    assert chance_inside(wide, 30.0)[0] == pytest.approx(0.5, abs=1e-6)
    # a drive 14 m off, 1 m inside the edge, counts by P(z < 1 / 2); the others by nearly 1
    near = landing([[200.0] * 2], np.degrees(np.arcsin([[14 / 200, -14 / 200]])))
    assert chance_inside(near, 30.0)[0] == pytest.approx(norm.cdf(0.5), abs=1e-6)


@pytest.fixture(scope="module")
def fit():
    return make_fit({"Ann": CLUB, "Open": {**CLUB, "face_deg": 5.0}}, samples=60)


def test_every_yardstick_is_what_it_says(fit):
    cloud = player_cloud(fit, "Open", draws=20, shots=16)
    flown = cloud.drives()
    kinds = {k: outcome(cloud, Yardstick(k)) for k in ("toward", "carry", "total", "inside")}
    np.testing.assert_allclose(kinds["carry"].value, flown.carry_m.mean(axis=1), atol=1e-6)
    np.testing.assert_allclose(kinds["total"].value, flown.total_m.mean(axis=1), atol=1e-6)
    across = flown.side_m / flown.carry_m
    straight = (flown.carry_m * np.sqrt(1 - across**2)).mean(axis=1)
    np.testing.assert_allclose(kinds["toward"].value, straight, atol=1e-6)
    np.testing.assert_allclose(kinds["inside"].value, kinds["carry"].inside, atol=1e-9)
    assert ((kinds["inside"].value > 0) & (kinds["inside"].value < 100)).all()


def test_a_wider_corridor_holds_more(fit):
    cloud = player_cloud(fit, "Ann", draws=20, shots=16)
    narrow, wide = (outcome(cloud, Yardstick("carry", w)).inside for w in (20.0, 40.0))
    assert (wide > narrow).all()


def test_yardsticks_know_their_units_and_refuse_what_is_none():
    assert (TOWARD.unit, CARRY.unit, Yardstick("inside").unit) == ("m", "m", "points")
    with pytest.raises(BadRequest, match="found 'far', wanted one of toward"):
        Yardstick("far")
    with pytest.raises(BadRequest, match="corridor: found 2 m"):
        Yardstick("toward", 2.0)
