"""One drive against published figures, and against trade figures marked as such.

Rows marked "common practice, no source" are what coaches and fitters repeat; they carry no
citation. The four carries and the tour row were used when the defaults were set (their
deliveries inferred by fit), so they test the code, not nature. Known misses are strict expected
failures with the reason beside them: they turn red when the physics changes either way.
"""

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq, minimize

from models.air import air_at
from models.drive import BallLaunch, Conditions, Delivery, drive, fly
from models.drive_parameters import default_parameters, draw_parameters
from models.flight import fly as fly_in_air
from models.heads import STANDARD

MPH, YARD_M = 0.44704, 0.9144
FIRM = Conditions(turf="firm")
STANDARD_TEST = Conditions(
    temperature_c=(75.0 - 32.0) / 1.8, pressure_pa=30.0 * 3386.389, humidity=0.5, turf="firm"
)
"""75 F, 30 inHg, 50 % humidity: R&A/USGA overall distance standard."""


def yards(metres):
    return float(metres) / YARD_M


def ball(speed_mph, launch_deg, spin_rpm):
    return BallLaunch(speed_mph * MPH, launch_deg, spin_rpm)


def drive_with_spin(speed_mph, attack_deg, spin_rpm, up_mm, conditions=FIRM):
    """Return the drive whose delivered loft gives that spin."""

    def with_loft(loft):
        return drive(Delivery(speed_mph * MPH, attack_deg, loft, strike_up_mm=up_mm), conditions)

    return with_loft(brentq(lambda loft: float(with_loft(loft).spin_rpm) - spin_rpm, 5.0, 24.0))


down_and_low = partial(drive_with_spin, 119.5, -6.0, 5850.0, -15.0)
up_with_little_spin = partial(drive_with_spin, 118.8, 3.4, 1650.0, 2.0)


def test_overall_distance_standard_is_just_reached_by_a_long_ball():
    """R&A/USGA overall distance standard: 120 mph club, 176 mph ball, 10 deg, 2520 rpm.

    Launch as given with the announcement of December 2023 (press reports of it). Long modern
    balls total 308 to 321 yd; a conforming ball at most 317 + 3. The default ball is a long one
    and conforms, so that it has to end just below: 319.9 yd (+- 2.7 from the parameters).

    It was 321.3 yd with the turf tilt as first fitted (13.54 +- .50 deg): the fit had taken the
    row for a target with an error, not for a limit. Flight and ball speed are not to blame: the
    carry is 287.5 yd, 1 mph of ball speed is worth 1.5 yd of total, and the run is the least
    certain part. Tilt 13.76 ends it at the limit and the 2028 row at 334.0 yd, its middle.
    """
    total = yards(fly(ball(176.0, 10.0, 2520.0), STANDARD_TEST).total_m)
    assert 308.0 <= total <= 320.0
    draws = draw_parameters(2_000, np.random.default_rng(1))
    spread = fly(ball(176.0, 10.0, 2520.0), STANDARD_TEST, draws).total_m / YARD_M
    low, high = np.quantile(spread, [0.05, 0.95])
    assert low < 317.0 < high
    assert spread.std() < 4.0


def test_current_long_ball_at_the_2028_set_up():
    """R&A/USGA announcement, December 2023: 183 mph, 11 deg, 2220 rpm; limit 317 + 3 yd.

    A loss of 13 to 15 yd was announced for the longest hitters, which puts today's long ball at
    334 +- 6 yd.
    """
    total = yards(fly(ball(183.0, 11.0, 2220.0), STANDARD_TEST).total_m)
    assert total == pytest.approx(334.0, abs=6.0)
    assert 13.0 <= total - 320.0 <= 16.0


def test_tour_mean_of_2015():
    """USGA/R&A 2015 Distance Report: 113.2 mph gives 167.7 mph, 10.8 deg, 2599 rpm, 290.6 yd.

    Attack -.3, loft 12.2 and 2 mm up are inferred. The 290.6 yd is a mean over all drives on
    measured holes; a clean strike goes 0 to 12 yd farther. Average fairway.
    """
    d = drive(Delivery(113.2 * MPH, -0.3, 12.2, strike_up_mm=2.0))
    assert float(d.ball_speed_mps) / MPH == pytest.approx(167.7, abs=1.5)
    assert float(d.launch_deg) == pytest.approx(10.8, abs=0.5)
    assert float(d.spin_rpm) == pytest.approx(2599.0, abs=130.0)
    assert 290.6 <= yards(d.total_m) <= 290.6 + 12.0


def test_one_mile_of_altitude_adds_carry():
    """Common practice, no source: 155 mph, 12 deg, 2600 rpm gains 3 to 8 %."""
    launch = ball(155.0, 12.0, 2600.0)
    gain = float(fly(launch, Conditions(altitude_m=1609.0)).carry_m / fly(launch).carry_m) - 1
    assert 0.03 <= gain <= 0.08


@pytest.mark.parametrize("loft", [14.0, 15.0])
def test_carry_per_mile_an_hour_of_club_speed(loft):
    """Common practice, no source: 2.5 to 3.5 yd at 95 mph, attack -2, loft 14 to 15."""
    slow, fast = (drive(Delivery(v * MPH, -2.0, loft)).carry_m for v in (94.5, 95.5))
    assert 2.5 <= yards(fast - slow) <= 3.5


def best_total(speed_mph, attack_deg, conditions=FIRM):
    """Return the longest total over lofts in yards, by a parabola through the best three."""
    lofts = np.arange(5.0, 20.0, 0.25)
    totals = drive(Delivery(speed_mph * MPH, attack_deg, lofts), conditions).total_m / YARD_M
    i = int(np.clip(totals.argmax(), 1, len(lofts) - 2))
    bend = totals[i - 1] - 2.0 * totals[i] + totals[i + 1]
    return float(totals[i] - (totals[i + 1] - totals[i - 1]) ** 2 / (8.0 * bend))


@pytest.mark.parametrize("attack_deg", [-1.0, 3.4])
@pytest.mark.parametrize("turf", ["average", "firm"])
def test_total_per_mile_an_hour_from_slow_to_fast_players(attack_deg, turf):
    """Common practice, no source: about 3 yd of total per mph (taken as 2.5 to 3.5).

    The figure compares players, each with a loft that suits the speed: 2.7 yd on either turf
    from 90 to 115 mph.
    """
    slow, fast = (best_total(v, attack_deg, Conditions(turf=turf)) for v in (90.0, 115.0))
    assert 2.5 <= (fast - slow) / 25.0 <= 3.5


def test_total_per_mile_an_hour_with_launch_and_spin_held():
    """The separate program's known miss, 2.1 yd at 118 mph: here 2.2 on either turf.

    Ball speed per club speed 1.483, launch and spin of the 2015 tour mean. So the equations
    agree; what lowers the figure below is the delivery, not the turf.
    """
    for turf in ("average", "firm"):
        slow, fast = (
            fly(ball(1.483 * v, 10.8, 2599.0), Conditions(turf=turf)).total_m
            for v in (117.5, 118.5)
        )
        assert yards(fast - slow) == pytest.approx(2.1, abs=0.2)


@pytest.mark.xfail(strict=True, reason="known miss: 2.4 yd per mph at 118 mph, 2.5 wanted")
@pytest.mark.parametrize("attack_deg", [-1.0, 3.4])
def test_total_per_mile_an_hour_of_a_fast_player(attack_deg):
    """Common practice, no source: about 3 yd (taken as 2.5 to 3.5), loft fitted to each speed.

    The gain falls with speed (2.8 yd at 95 mph, 2.6 at 108, 2.4 at 118) as drag grows with the
    square of speed. With the delivery held it is less: 1.4 yd at attack -1 and loft 12.5, where
    carry gains 2.05 yd and the run loses .64, since at 3,080 rpm each mph also steepens the
    descent by .43 deg; 2.0 yd at attack 3.4. The cap of the turf's tilt plays no part: this
    landing (27.8 m/s, 47 deg to the ground) tilts it by 20 of the 40 deg.
    """
    slow, fast = (best_total(v, attack_deg) for v in (116.0, 120.0))
    assert (fast - slow) / 4.0 >= 2.5


def test_spin_falls_off_at_the_measured_rate():
    """Smits & Smith 1994: about 340 +- 30 rpm/s at first, 120 mph and 7097 rpm.

    Read from a hop of .1 s without drag or lift, in which spin decay is all that acts.
    """
    p = default_parameters()
    seconds, speed = 0.1, 120.0 * MPH
    launch_deg = math.degrees(math.asin(9.80665 * seconds / 2 / speed))
    flight = fly_in_air(
        BallLaunch(speed, launch_deg, 7097.0), air_at(), np.zeros(6), p.flight_constants()
    )
    assert flight.hang_s == pytest.approx(seconds, rel=1e-3)
    assert (7097.0 - float(flight.land_spin_rpm)) / seconds == pytest.approx(340.0, abs=30.0)


def test_vacuum_range():
    """Exact: v^2 sin(2 a) / g = 235.9659 m for 60 m/s at 20 deg."""
    flight = fly_in_air(BallLaunch(60.0, 20.0, 0.0), air_at(), np.zeros(6), (9e4, 2e5, 0.35, 0.0))
    assert float(flight.carry_m) == pytest.approx(235.96595, abs=2e-5)


def test_high_spin_drive_hit_down_and_low_on_the_face():
    """Common practice, no source: 118-121 mph, 6 deg down, 15 mm low, 5850 rpm: 227 +- 8 yd."""
    assert yards(down_and_low().carry_m) == pytest.approx(227.0, abs=8.0)


def test_drive_with_3100_rpm():
    """Common practice, no source: 118 mph, about 3100 rpm: carry 284 +- 6 yd.

    Delivery inferred: attack -1, centre strike (no loft reaches the row's middle: 278.7 is
    about the most this speed and spin can carry in the model).
    """
    d = drive_with_spin(118.0, -1.0, 3100.0, 0.0)
    assert yards(d.carry_m) == pytest.approx(284.0, abs=6.0)


def test_drive_with_1650_rpm_hit_up():
    """Common practice, no source: 118.8 mph, 3.4 up: carry 291 +- 6, total 338 +- 10 yd."""
    d = up_with_little_spin()
    assert yards(d.carry_m) == pytest.approx(291.0, abs=6.0)
    assert yards(d.total_m) == pytest.approx(338.0, abs=10.0)


def test_drive_with_2000_rpm():
    """Common practice, no source: about 120 mph, 2000 rpm: carry 304 +- 8, total 340 +- 10 yd.

    The row leaves speed and delivery open; 121 mph, 3.4 deg up and a centre strike were chosen
    because they reach it, at its low end (296.4 and 332.9 yd). At 120 mph and the same delivery
    carry is 293.9 yd, 2 yd short of the row. This carry was also missed by -14 yd when left out
    of the fit: take it as a weak check.
    """
    d = drive_with_spin(121.0, 3.4, 2000.0, 0.0)
    assert yards(d.carry_m) == pytest.approx(304.0, abs=8.0)
    assert yards(d.total_m) == pytest.approx(340.0, abs=10.0)


def test_hitting_down_and_low_costs_some_seventy_yards_of_carry():
    """Common practice, no source: 70 +- 12 yd against 3.4 deg up at the same speed."""
    lost = yards(up_with_little_spin().carry_m - down_and_low().carry_m)
    assert lost == pytest.approx(70.0, abs=12.0)


def test_best_strike_is_a_little_high_and_toward_the_toe():
    """Common practice, no source: 6.35 mm up +- 4 and 6.35 mm toward the toe +- 5, 118 mph."""

    def loss(place):
        toe, up = np.clip(place, -25.0, 25.0)
        return -float(
            drive(Delivery(118 * MPH, -1.0, 12.5, strike_toe_mm=toe, strike_up_mm=up)).carry_m
        )

    toe, up = minimize(loss, [0.0, 0.0], method="Nelder-Mead").x
    assert up == pytest.approx(6.35, abs=4.0)
    assert toe == pytest.approx(6.35, abs=5.0)


@pytest.mark.parametrize("lower_mm", [1.5, 1.75])
def test_lower_centre_of_gravity_spins_less(lower_mm):
    """Common practice, no source: a low-spin head (1.5 to 2 mm lower) spins 200 to 300 rpm less.

    At 2 mm the model gives 304 rpm, 4 past the upper end: see the expected failure below.
    """
    assert 200.0 <= _spin_saved(lower_mm) <= 300.0


@pytest.mark.xfail(strict=True, reason="known miss: 304 rpm at 2 mm, 4 rpm past the trade range")
def test_centre_of_gravity_two_millimetres_lower():
    """Common practice, no source: 200 to 300 rpm less.

    152 rpm per mm. A rigid head (gear gain 1) gives 115; the rest is the fitted gear gain, 1.32
    +- .13, which the high-spin drive hit low on the face asks for. Gain 1.30, .15 SD lower,
    would end the miss; it is fitted jointly and left alone. See the next test.
    """
    assert 200.0 <= _spin_saved(2.0) <= 300.0


def test_trade_range_of_a_lower_centre_of_gravity_lies_inside_the_models_interval():
    """At 2 mm: 304 rpm, 90 % sure between 257 and 353, so the model does not contradict 200-300."""
    draws = replace(draw_parameters(2_000, np.random.default_rng(1)), cg_height_m=0.0)
    delivery = Delivery(118 * MPH, -1.0, 12.5)
    low = drive(delivery, head=replace(STANDARD, cg_height_m=-2e-3), parameters=draws)
    saved = drive(delivery, parameters=draws).spin_rpm - low.spin_rpm
    at, above = np.quantile(saved, [0.05, 0.95])
    assert at < 300.0 < above
    assert 60.0 < above - at < 130.0


def _spin_saved(lower_mm):
    delivery = Delivery(118 * MPH, -1.0, 12.5)
    low = drive(delivery, head=replace(STANDARD, cg_height_m=-lower_mm * 1e-3))
    return float(drive(delivery).spin_rpm - low.spin_rpm)


def test_one_more_degree_of_loft_adds_spin():
    """Common practice, no source: +1 deg of delivered loft at 118 mph adds 120 to 300 rpm."""
    more, now = (drive(Delivery(118 * MPH, -1.0, loft)).spin_rpm for loft in (13.5, 12.5))
    assert 120.0 <= float(more - now) <= 300.0


@pytest.mark.parametrize(
    ("base", "change", "carry_yd", "within_yd"),
    [
        # The same equations in a separate program. Its air and the size and direction of its
        # steps are not recorded; attack bends the carry (2.46 to 2.71 yd at 95 mph, .31 to .61
        # with the loft following at 118 mph, between a step up and a step down), and the
        # tolerances are as wide as that. Here attack and the rest step up by one unit.
        (Delivery(95 * MPH, -2.0, 15.0), {"strike_up_mm": 1.0}, 0.30, 0.1),
        (Delivery(95 * MPH, -2.0, 15.0), {"strike_toe_mm": 1.0}, 0.34, 0.1),
        (Delivery(95 * MPH, -2.0, 15.0), {"attack_deg": -1.0}, 2.55, 0.15),
        (Delivery(95 * MPH, -2.0, 15.0), {"attack_deg": -1.0, "loft_deg": 16.0}, 1.38, 0.25),
        (Delivery(95 * MPH, -2.0, 15.0), {"club_speed_mps": 96 * MPH}, 2.8, 0.15),
        (Delivery(118 * MPH, -1.0, 12.5), {"strike_up_mm": 1.0}, 0.70, 0.1),
        (Delivery(118 * MPH, -1.0, 12.5), {"attack_deg": 0.0}, 3.38, 0.2),
        (Delivery(118 * MPH, -1.0, 12.5), {"attack_deg": 0.0, "loft_deg": 13.5}, 0.53, 0.25),
    ],
)
def test_carry_sensitivities_of_a_separate_program(base, change, carry_yd, within_yd):
    gain = yards(drive(replace(base, **change)).carry_m - drive(base).carry_m)
    assert gain == pytest.approx(carry_yd, abs=within_yd)


@pytest.mark.parametrize(
    ("base", "low_mm", "per_mm_yd"),
    [(Delivery(95 * MPH, -2.0, 15.0), -10.0, 1.70), (Delivery(118 * MPH, -1.0, 12.5), -10.0, 2.16)],
)
def test_low_strike_sensitivities_of_a_separate_program(base, low_mm, per_mm_yd):
    one = drive(replace(base, strike_up_mm=low_mm)).carry_m
    other = drive(replace(base, strike_up_mm=low_mm + 1.0)).carry_m
    assert yards(other - one) == pytest.approx(per_mm_yd, abs=0.15)
