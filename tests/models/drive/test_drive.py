"""The whole drive: broadcasting, inputs that are refused, clouds, and the drive prior."""

import json
import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from models.drive.ball import Ball
from models.drive.drive import BallLaunch, Conditions, Delivery, Landing, drive, drive_cloud, fly
from models.drive.errors import DriveInputError
from models.drive.heads import HEADS, LOW_SPIN, STANDARD
from models.drive.parameters import default_parameters, draw_parameters

YARD_M, MPH = 0.9144, 0.44704
ORDINARY = Delivery(45.0, -1.0, 13.5)
KEYS = {
    "ball_speed_mps", "launch_deg", "side_deg", "spin_rpm", "axis_deg", "carry_m", "run_m",
    "total_m", "side_m", "apex_m", "land_angle_deg", "hang_s",
}  # fmt: skip


def cloud_of(draws, shots, seed=3):
    rng = np.random.default_rng(seed)
    size = (draws, shots)
    return Delivery(
        rng.normal(45, 1.0, size),
        rng.normal(-1, 1.5, size),
        rng.normal(13.5, 1.2, size),
        rng.normal(0, 2, size),
        rng.normal(0, 2, size),
        rng.normal(0, 9, size),
        rng.normal(0, 6, size),
    )


def part_of(delivery, index):
    names = Delivery.__dataclass_fields__
    return Delivery(**{name: getattr(delivery, name)[index] for name in names})


def test_one_drive_as_a_dictionary_of_plain_numbers():
    numbers = drive(ORDINARY).as_dict()
    assert set(numbers) >= KEYS
    assert all(type(value) is float for value in numbers.values())
    json.dumps(numbers)
    assert numbers["total_m"] == pytest.approx(numbers["carry_m"] + numbers["run_m"])


def test_inputs_broadcast():
    result = drive(Delivery(np.array([[40.0], [45.0], [50.0]]), np.array([-3.0, 0.0]), 13.0))
    assert result.carry_m.shape == (3, 2)
    assert np.all(np.diff(result.carry_m, axis=0) > 0)
    assert result.carry_m[1, 1] == pytest.approx(float(drive(Delivery(45.0, 0.0, 13.0)).carry_m))


def test_total_is_the_straight_line_from_tee_to_rest():
    d = drive(Delivery(45.0, 0.0, 13.0, path_deg=-4.0, face_deg=4.0))
    assert d.side_m > 15.0
    assert d.rest_side_m > d.side_m
    # A curving ball runs on in the direction it lands, so the line is shorter than the sum.
    assert d.total_m < d.carry_m + d.run_m
    assert d.total_m > d.carry_m + 0.9 * d.run_m


def test_fly_repeats_the_ball_part_of_a_drive():
    whole = drive(Delivery(47.0, 1.0, 12.0, 2.0, -1.0, 8.0, 4.0))
    ball = fly(
        BallLaunch(
            whole.ball_speed_mps, whole.launch_deg, whole.spin_rpm, whole.axis_deg, whole.side_deg
        )
    )
    for name in KEYS:
        assert getattr(ball, name) == pytest.approx(getattr(whole, name), rel=1e-10), name


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"club_speed_mps": -45.0}, "club_speed_mps"),
        ({"club_speed_mps": math.nan}, "club_speed_mps"),
        ({"club_speed_mps": 150.0}, "club_speed_mps"),
        ({"loft_deg": 90.0}, "loft_deg"),
        ({"attack_deg": np.array([0.0, 60.0])}, "attack_deg"),
        ({"strike_toe_mm": 80.0}, "strike_toe_mm"),
        ({"face_deg": "open"}, "face_deg"),
    ],
)
def test_impossible_delivery_is_refused_by_name_value_and_remedy(change, name):
    with pytest.raises(DriveInputError) as refusal:
        drive(replace(ORDINARY, **change))
    assert refusal.value.name == name
    assert str(refusal.value).startswith(f"{name}: found ")
    assert "wanted a number from" in str(refusal.value)


@pytest.mark.parametrize(
    ("ball", "name"),
    [
        (BallLaunch(-60.0, 12.0, 2500.0), "ball_speed_mps"),
        (BallLaunch(60.0, 90.0, 2500.0), "launch_deg"),
        (BallLaunch(60.0, 12.0, -1.0), "spin_rpm"),
        (BallLaunch(60.0, 12.0, 2500.0, math.inf), "axis_deg"),
    ],
)
def test_impossible_ball_is_refused(ball, name):
    with pytest.raises(DriveInputError) as refusal:
        fly(ball)
    assert refusal.value.name == name


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"turf": "ice"}, "average, firm"),
        ({"ball": "square"}, "standard, range"),
        ({"tailwind_mps": math.nan}, "tailwind_mps"),
        ({"crosswind_mps": -31.0}, "crosswind_mps"),
        ({"temperature_c": math.nan}, "temperature_c"),
        ({"altitude_m": 9_000.0}, "altitude_m"),
        ({"pressure_pa": 1_013.25}, "pressure_pa"),
        ({"tailwind_mps": 200.0}, "tailwind_mps"),
        ({"humidity": 50.0}, "humidity"),
    ],
)
def test_impossible_conditions_are_refused(change, words):
    with pytest.raises(DriveInputError, match=words):
        Conditions(**change)


def test_conditions_act_as_players_know():
    still = float(drive(ORDINARY).carry_m)
    assert drive(ORDINARY, Conditions(tailwind_mps=5.0)).carry_m > still + 5.0
    assert drive(ORDINARY, Conditions(tailwind_mps=-5.0)).carry_m < still - 5.0
    assert drive(ORDINARY, Conditions(crosswind_mps=5.0)).side_m > 5.0
    assert drive(ORDINARY, Conditions(temperature_c=35.0)).carry_m > still
    assert drive(ORDINARY, Conditions(altitude_m=1500.0)).carry_m > still + 5.0
    assert drive(ORDINARY, Conditions(turf="firm")).run_m > drive(ORDINARY).run_m + 5.0


def test_humid_air_and_low_pressure_carry_farther():
    launch = BallLaunch(65.0, 12.0, 2600.0)
    dry, wet = (float(fly(launch, Conditions(35.0, humidity=h)).carry_m) for h in (0.0, 1.0))
    assert 0.2 < wet - dry < 2.0
    low = float(fly(launch, Conditions(pressure_pa=90_000.0)).carry_m)
    assert low > float(fly(launch).carry_m) + 3.0


@pytest.mark.parametrize("speed_mps", [38.0, 42.5, 50.5])
def test_practice_ball_loses_what_practice_balls_do(speed_mps):
    # Common practice, no source: 5 to 10 % of carry.
    delivery = Delivery(speed_mps, -1.0, 13.5)
    lost = 1.0 - drive(delivery, Conditions(ball="range")).carry_m / drive(delivery).carry_m
    assert 0.05 <= float(lost) <= 0.10


def test_ball_factors_no_ball_has_are_refused():
    with pytest.raises(DriveInputError, match="ball drag factor: found 3"):
        Ball("feather", drag_factor=3.0)
    with pytest.raises(DriveInputError, match="ball lift factor: found nan"):
        Ball("feather", lift_factor=math.nan)


def test_every_head_reaches_the_drive():
    spins = {name: float(drive(ORDINARY, head=head).spin_rpm) for name, head in HEADS.items()}
    assert len({round(spin) for spin in spins.values()}) == len(HEADS)
    assert spins["low-spin"] == min(spins.values())
    off = replace(ORDINARY, strike_toe_mm=18.0)
    lost = {
        name: float(drive(ORDINARY, head=HEADS[name]).ball_speed_mps)
        - float(drive(off, head=HEADS[name]).ball_speed_mps)
        for name in ("standard", "forgiving")
    }
    assert lost["forgiving"] < lost["standard"]


def test_cloud_with_defaults_equals_single_drives():
    delivery = cloud_of(1, 4_000)
    cloud, single = drive_cloud(delivery), drive(delivery)
    for name in KEYS:
        np.testing.assert_allclose(
            getattr(cloud, name), getattr(single, name), rtol=1e-11, atol=1e-11, err_msg=name
        )


def test_every_draw_of_a_cloud_takes_its_own_parameters():
    draws = draw_parameters(90, np.random.default_rng(8))
    delivery = cloud_of(90, 70)  # more rows than one block
    cloud = drive_cloud(delivery, draws.as_column())
    for i in (0, 41, 89):
        alone = drive(part_of(delivery, i), parameters=draws.take(i))
        np.testing.assert_allclose(cloud.total_m[i], alone.total_m, rtol=1e-10)
        np.testing.assert_allclose(cloud.spin_rpm[i], alone.spin_rpm, rtol=1e-10)


def test_cloud_without_the_run_lands_in_the_same_place():
    draws = draw_parameters(90, np.random.default_rng(8)).as_column()
    delivery = cloud_of(90, 70)
    weather = Conditions(tailwind_mps=3.0, crosswind_mps=-2.0, altitude_m=800.0, ball="range")
    for conditions in (Conditions(), weather):
        landing = drive_cloud(delivery, draws, conditions, LOW_SPIN, run=False)
        whole = drive_cloud(delivery, draws, conditions, LOW_SPIN)
        assert isinstance(landing, Landing)
        assert not hasattr(landing, "total_m")
        for name in ("carry_m", "side_m", "apex_m", "land_angle_deg", "hang_s"):
            np.testing.assert_array_equal(getattr(landing, name), getattr(whole, name))


def test_one_landing_without_arrays():
    landing = drive_cloud(ORDINARY, run=False)
    assert landing.carry_m.shape == ()
    assert float(landing.carry_m) == pytest.approx(float(drive(ORDINARY).carry_m), rel=1e-12)


def test_flat_cloud_with_a_draw_a_shot():
    draws = draw_parameters(10_000, np.random.default_rng(8))
    delivery = part_of(cloud_of(1, 10_000), 0)
    cloud = drive_cloud(delivery, draws)
    assert cloud.carry_m.shape == (10_000,)
    some = np.array([0, 4_095, 4_096, 9_999])  # both sides of a block's edge
    alone = drive(part_of(delivery, some), parameters=draws.take(some))
    np.testing.assert_allclose(cloud.carry_m[some], alone.carry_m, rtol=1e-10)


def test_cloud_of_one_drive_without_arrays():
    assert float(drive_cloud(ORDINARY).carry_m) == pytest.approx(
        float(drive(ORDINARY).carry_m), rel=1e-12
    )


def test_cloud_uses_the_head_and_the_wind():
    delivery = cloud_of(2, 50)
    low = drive_cloud(delivery, head=LOW_SPIN)
    assert np.all(low.spin_rpm < drive_cloud(delivery, head=STANDARD).spin_rpm)
    wind = Conditions(tailwind_mps=-3.0, crosswind_mps=2.0)
    blown = drive_cloud(delivery, conditions=wind)
    np.testing.assert_allclose(blown.carry_m, drive(delivery, wind).carry_m, rtol=1e-12)


def test_strike_past_the_edge_counts_as_at_the_edge():
    off = drive_cloud(replace(ORDINARY, strike_toe_mm=np.array([50.0, 75.0])))
    assert off.carry_m[0] == off.carry_m[1]
    assert off.carry_m[0] < float(drive(ORDINARY).carry_m) - 30.0


def test_cloud_with_a_gap_is_refused():
    delivery = cloud_of(3, 5)
    delivery.loft_deg[1, 2] = math.nan
    with pytest.raises(DriveInputError, match="loft_deg: found nan"):
        drive_cloud(delivery)


def test_drive_loads_neither_sampler_nor_optimiser():
    code = (
        "import sys, models.drive.drive; "
        "print(sorted({'pymc', 'pytensor', 'scipy.optimize', 'streamlit', 'pandas'} "
        "& set(sys.modules)))"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert result.stdout.strip() == "[]"


def test_default_parameters_are_the_fitted_means():
    p = default_parameters()
    rounded = {
        "drag_constant": 0.235, "drag_spin": 0.249, "drag_spin_squared": 0.69,
        "drag_reynolds": 0.030, "lift_scale": 0.530, "lift_exponent": 0.428,
        "restitution": 0.850, "tangential_restitution": -0.128, "gear_gain": 1.32,
    }  # fmt: skip
    for name, value in rounded.items():
        assert getattr(p, name) == pytest.approx(value, rel=0.02), name
    assert p.shape == ()


def test_draws_have_the_priors_spread_and_correlation():
    d = draw_parameters(20_000, np.random.default_rng(4))
    assert d.shape == (20_000,)
    assert d.restitution.std() == pytest.approx(math.sqrt(4.949406442402183e-05), rel=0.03)
    assert d.gear_gain.std() == pytest.approx(math.sqrt(0.016616165455048213), rel=0.03)
    wanted = 0.0017009895389187041 / math.sqrt(0.0026309485197585354 * 0.0017722466091179205)
    assert np.corrcoef(d.lift_scale, d.lift_exponent)[0, 1] == pytest.approx(wanted, abs=0.03)
    assert d.loft_follows_attack.mean() == pytest.approx(0.7, abs=0.02)
    assert 0.20 < d.loft_follows_attack.std() <= 0.25
    assert d.cg_height_m.std() == pytest.approx(0.003, rel=0.05)
    assert np.all(np.asarray(d.drag_factor) == 1.0)
    assert np.all(d.drag_reynolds >= 0.0)


def test_flight_shape_is_drawn_jointly_so_carry_spreads_little():
    # Joint draws: 2.7 yd of carry for drives like the ones fitted. Independent draws with the
    # same spreads would give 14 yd and more, which is wrong.
    rng = np.random.default_rng(6)
    joint = draw_parameters(4_000, rng)
    ball = BallLaunch(167.7 * MPH, 10.8, 2599.0)
    spread = fly(ball, parameters=joint).carry_m.std() / YARD_M
    assert 2.2 < spread < 3.2
    names = ("drag_constant", "drag_spin", "drag_spin_squared", "drag_reynolds", "lift_scale",
             "lift_exponent")  # fmt: skip
    apart = replace(joint, **{name: rng.permutation(getattr(joint, name)) for name in names})
    assert fly(ball, parameters=apart).carry_m.std() / YARD_M > 10.0


def test_draws_are_cut_and_columned_together():
    d = draw_parameters(6, np.random.default_rng(0))
    assert d.as_column().shape == (6, 1)
    assert d.take(2).shape == ()
    assert d.take(slice(1, 4)).lift_scale[0] == d.lift_scale[1]
    assert d.flight_shape().shape == (6, 6)
