"""Bounce and roll against the formulas by hand."""

import math

import numpy as np
import pytest

from models.drive.errors import DriveInputError
from models.drive.ground import bounce, run_rows
from models.drive.turf import AVERAGE, FIRM, turf_named

RADIUS_M = 0.021335


def run_by_branches(forward, down, spin, tilt, roll, friction=0.40):
    """Return the run with exact angles and the published branches, written apart from the model."""
    run = 0.0
    while True:
        speed = math.hypot(forward, down)
        from_vertical = math.degrees(math.atan2(forward, down))
        give = math.radians(tilt) * speed / 18.6 * from_vertical / 44.4
        entry = math.atan2(forward, down) - give
        along, into = speed * math.sin(entry), speed * math.cos(entry)
        e = 0.120 if into > 20 else 0.510 - 0.0375 * into + 0.000903 * into**2
        slip = along + RADIUS_M * spin
        critical = 2 * abs(slip) / (7 * (1 + e) * into)
        if friction < critical:
            sense = math.copysign(1.0, slip)
            along -= sense * friction * into * (1 + e)
            spin -= sense * 5 * friction / (2 * RADIUS_M) * into * (1 + e)
        else:
            along = 5 / 7 * along - 2 / 7 * RADIUS_M * spin
            spin = -along / RADIUS_M
        out = e * into
        forward = along * math.cos(give) - out * math.sin(give)
        up = along * math.sin(give) + out * math.cos(give)
        if up**2 / (2 * 9.80665) < 0.005:
            break
        run += 2 * up / 9.80665 * forward
        down = up
    return run + math.copysign(forward**2 / (2 * 5 / 7 * roll * 9.80665), forward)


def run_m(speed, angle, spin, turf=AVERAGE, tilt_factor=1.0):
    """Return the run of balls that land at a speed, an angle to the ground (deg) and a backspin."""
    speed, angle, spin, tilt = np.broadcast_arrays(
        np.asarray(speed, dtype=float),
        np.radians(angle),
        np.multiply(spin, math.pi / 30),
        np.multiply(tilt_factor, math.radians(turf.tilt_deg)),
    )
    landing = np.stack(
        [np.ravel(speed * np.cos(angle)), np.ravel(speed * np.sin(angle)), np.ravel(spin)], axis=-1
    )
    out = np.empty(landing.shape[0])
    ground = np.stack([np.ravel(tilt), np.full(tilt.size, turf.roll_friction)], axis=-1)
    run_rows(landing, ground, 0.40, out)
    return out.reshape(speed.shape)


@pytest.mark.parametrize(
    ("speed", "angle", "spin"),
    [(28.0, 43.0, 2050.0), (25.0, 30.0, 1300.0), (30.0, 50.0, 4500.0), (12.0, 60.0, 0.0)],
)
@pytest.mark.parametrize("turf", [AVERAGE, FIRM], ids=["average", "firm"])
def test_run_agrees_with_the_published_branches(speed, angle, spin, turf):
    a = math.radians(angle)
    expected = run_by_branches(
        speed * math.cos(a), speed * math.sin(a), spin * math.pi / 30, turf.tilt_deg,
        turf.roll_friction,
    )  # fmt: skip
    assert run_m(speed, angle, spin, turf) == pytest.approx(expected, abs=0.02)


def test_bounce_that_rolls_off_unyielding_ground():
    # No tilt, ample friction: 5/7 of the forward speed less 2/7 of the spin's; e at 10 m/s is
    # .510 - .375 + .0903 = .2253.
    forward, up, spin = bounce(15.0, 10.0, 100.0, 0.0, 5.0)
    assert forward == pytest.approx(5 / 7 * 15.0 - 2 / 7 * RADIUS_M * 100.0, rel=1e-9)
    assert up == pytest.approx(2.253, rel=1e-9)
    assert spin == pytest.approx(-forward / RADIUS_M, rel=1e-9)


def test_bounce_that_slides_loses_friction_times_the_push():
    # mu (1 + e) v_n = .4 x 1.2253 x 10 = 4.9012 m/s.
    forward, _, spin = bounce(30.0, 10.0, 300.0, 0.0, 0.40)
    assert forward == pytest.approx(30.0 - 4.9012, rel=1e-9)
    assert spin == pytest.approx(300.0 - 2.5 * 4.9012 / RADIUS_M, rel=1e-9)


def test_fast_impact_bounces_at_the_least_restitution():
    _, up, _ = bounce(10.0, 25.0, 0.0, 0.0, 0.40)
    assert up == pytest.approx(0.120 * 25.0, rel=1e-9)


def test_ball_that_hardly_bounces_rolls_to_rest_as_friction_says():
    # Straight onto the ground at .05 m/s: no bounce; the bounce leaves 5/7 of 2 m/s (rolls, no
    # spin), braked at 5/7 x .35 x 9.80665 m/s2.
    angle = math.degrees(math.atan2(0.05, 2.0))
    speed = math.hypot(2.0, 0.05)
    slid = 2.0 - 0.40 * (1 + 0.510 - 0.0375 * 0.05) * 0.05
    expected = slid**2 / (2 * 5 / 7 * 0.35 * 9.80665)
    assert run_m(speed, angle, 0.0, AVERAGE, tilt_factor=0.0) == pytest.approx(expected, rel=1e-3)


def test_backspin_can_bring_the_ball_back():
    assert run_m(20.0, 65.0, 9_000.0) < 0.0


@pytest.mark.parametrize("turf", [AVERAGE, FIRM], ids=["average", "firm"])
@pytest.mark.parametrize("speed", [20.0, 29.0, 40.0])
def test_flatter_landings_run_farther_without_a_jump(speed, turf):
    angle = np.arange(3.0, 60.0, 0.5)
    run = run_m(speed, angle, 1500.0, turf)
    steps = np.diff(run)
    assert np.all(steps < 0.5)  # the number of bounces changes by steps: a few decimetres
    assert steps.min() > -3.0


def test_topped_ball_runs_a_long_way_but_not_for_ever():
    # 60 m/s at 2 degrees: our expectation is 100 to 250 m, no source.
    assert 100.0 < float(run_m(60.0, 2.0, 0.0, AVERAGE)) < 250.0


def test_run_falls_with_spin_steepness_and_soft_turf():
    spin = run_m(28.0, 42.0, np.array([1500.0, 2500.0, 3500.0]))
    steep = run_m(28.0, np.array([35.0, 42.0, 50.0]), 2000.0)
    assert np.all(np.diff(spin) < 0)
    assert np.all(np.diff(steep) < 0)
    assert run_m(28.0, 42.0, 2000.0, FIRM) > run_m(28.0, 42.0, 2000.0, AVERAGE) + 5.0


def test_runs_of_many_balls_equal_each_balls_own():
    rng = np.random.default_rng(5)
    speed, angle = rng.uniform(20, 32, 150), rng.uniform(30, 55, 150)
    spin, tilt = rng.uniform(500, 5000, 150), rng.uniform(0.8, 1.2, 150)
    together = run_m(speed, angle, spin, FIRM, tilt_factor=tilt)
    alone = [
        float(run_m(*one, FIRM, tilt_factor=t))
        for *one, t in zip(speed, angle, spin, tilt, strict=True)
    ]
    np.testing.assert_allclose(together, alone, rtol=1e-9)


def test_unknown_turf_lists_the_turfs_there_are():
    with pytest.raises(DriveInputError, match="average, firm"):
        turf_named("sand")
