"""Where a trait should be: the top of what peers reach, and what lies beyond it."""

from dataclasses import replace

import numpy as np
import pytest

from models.traits import TARGETED
from tests.fits import make_fit
from tracker.decisions.distance.cloud import averaged, player_cloud
from tracker.decisions.distance.target import (
    PHYSICS_DRAWS,
    SHOTS,
    expected,
    find_target,
    looked_at,
    reach,
    target_draws,
)
from tracker.decisions.distance.yardstick import CARRY, TOWARD

CLUB = {
    "club_speed_mps": 45.0, "loft_deg": 14.0, "attack_deg": -1.0, "path_deg": 0.0,
    "face_deg": 0.0, "strike_toe_mm": 3.0, "strike_up_mm": 3.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def cloud():
    return player_cloud(make_fit({"Low": {**CLUB, "strike_up_mm": -11.0}}), "Low")


def test_target_tops_the_yardstick_and_the_window_gives_up_one_metre(cloud):
    mean = averaged(cloud, PHYSICS_DRAWS, SHOTS)
    for trait in TARGETED:
        target = find_target(cloud, trait)
        low, high = target.window
        at = expected(mean, trait, np.array([target.best, low, high]), TOWARD)
        assert at[0] == pytest.approx(target.top, abs=0.15)
        assert (at[1:] > at[0] - 1.15).all()
        assert low <= target.best <= high


def test_peers_decide_what_can_be_reached(cloud):
    # attack: mean -1, spread 2.6, player at -1: -1 +- 1.645 * 2.6 = -5.277 and 3.277
    low, high = reach(cloud, "attack_deg")
    assert np.median(low) == pytest.approx(-5.277, abs=0.01)
    assert np.median(high) == pytest.approx(3.277, abs=0.01)
    assert looked_at(cloud, "attack_deg") == pytest.approx((-7.5, 5.5), abs=0.01)  # 2.5 * 2.6


def test_a_players_own_level_is_always_within_reach():
    far = player_cloud(make_fit({"Far": {**CLUB, "strike_up_mm": 30.0}}, level_sd=0.1), "Far")
    high = reach(far, "strike_up_mm")[1]
    np.testing.assert_array_equal(high, far.level_of("strike_up_mm"))
    assert looked_at(far, "strike_up_mm")[1] == pytest.approx(30.0, abs=0.01)


def test_each_draw_has_the_target_that_its_peers_reach(cloud):
    target = find_target(cloud, "strike_up_mm")
    narrow = replace(cloud, squad_mean=cloud.squad_mean * 0 - 11.0)
    wide = np.where(np.arange(cloud.draws) % 2, 100.0, 1.0)[:, None]
    narrow = replace(narrow, squad_spread=cloud.squad_spread * 0 + wide)
    aims = target_draws(narrow, target)
    assert aims[1] == target.beyond
    # -11 + 1.645 a draw, or the own level where that is higher
    np.testing.assert_allclose(aims[::2], np.maximum(-9.355, cloud.level[::2, 1]), atol=1e-9)


def test_a_best_beyond_what_peers_reach_is_at_an_edge_and_the_target_is_what_they_reach():
    slow = {**CLUB, "attack_deg": -4.0, "loft_deg": 16.0, "club_speed_mps": 38.0}
    fit = make_fit({"Ana": slow}, spread={"attack_deg": 0.5})
    target = find_target(player_cloud(fit, "Ana"), "attack_deg", CARRY)
    assert target.at_edge
    assert target.best == pytest.approx(-1 + 1.645 * 0.5, abs=0.05)
    assert target.beyond > target.best
    assert not find_target(player_cloud(fit, "Ana"), "strike_up_mm", CARRY).at_edge


def test_direction_decides_where_the_face_should_be():
    # swinging 6 degrees out-to-in: by carry alone the face should close nearly as far
    fit = make_fit({"Ana": {**CLUB, "path_deg": -6.0}}, spread={"face_deg": 4.0})
    cloud = player_cloud(fit, "Ana")
    carry, toward = (find_target(cloud, "face_deg", y).best for y in (CARRY, TOWARD))
    assert carry < toward < 0.5
    assert toward > -5.0
