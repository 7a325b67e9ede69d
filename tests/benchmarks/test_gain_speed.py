"""Gains of a squad against the same drives worked out one draw at a time; ratios in one run."""

import time

import numpy as np
import pytest

from models.drive.drive import Delivery, drive_cloud
from models.traits import DELIVERY
from tests.fits import make_fit
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.gain import player_gains, squad_gains

pytestmark = pytest.mark.bench

PLAYERS = 40


def squad():
    rng = np.random.default_rng(0)
    levels = {
        f"P{i:02d}": {
            "strike_up_mm": float(rng.normal(-3, 5)),
            "attack_deg": float(rng.normal(-1, 2)),
            "club_speed_mps": float(rng.normal(44, 3)),
        }
        for i in range(PLAYERS)
    }
    return make_fit(levels, samples=1000)


def test_gains_of_a_squad_against_a_loop_over_draws(capsys):
    fit = squad()
    player_gains(fit, "P00")  # loads the compiled flight
    begun = time.perf_counter()
    squad_gains(fit)
    whole_s = time.perf_counter() - begun

    cloud = player_cloud(fit, "P01")
    deliveries = cloud.level[:, None, :] + cloud.scatter
    begun = time.perf_counter()
    together = cloud.carry()
    cloud_s = time.perf_counter() - begun

    draws = range(0, cloud.draws, 10)
    begun = time.perf_counter()
    one_by_one = []
    for d in draws:
        shots = []
        for shot in deliveries[d]:
            delivery = Delivery(**dict(zip(DELIVERY, shot.tolist(), strict=True)))
            shots.append(float(drive_cloud(delivery, cloud.physics.take(d)).carry_m))
        one_by_one.append(np.mean(shots))
    loop_s = (time.perf_counter() - begun) * cloud.draws / len(draws)
    apart = np.abs(together[list(draws)] - one_by_one).max()
    with capsys.disabled():
        print(f"\n{PLAYERS} players' gains: {whole_s:.1f} s")
        print(f"one cloud of {deliveries.shape[0]} x {deliveries.shape[1]} drives: {cloud_s:.4f} s")
        print(f"the same in a loop over draws and shots: {loop_s:.2f} s, {loop_s / cloud_s:.0f} x")
        print(f"largest difference of a draw's carry: {apart:.1e} m")
    assert apart < 0.01
    assert loop_s > 10 * cloud_s
