"""One drive against published figures, and against trade figures marked as such.

Rows marked "common practice, no source" are what coaches and fitters repeat; they carry no
citation. The four carries and the tour row were used when the defaults were set (their
deliveries inferred by fit), so they test the code, not nature. Known misses carry the reason.
"""

import math
from dataclasses import replace
from functools import cache, partial

import numpy as np
from scipy.optimize import brentq, minimize

from models.drive.air import air_at
from models.drive.drive import BallLaunch, Conditions, Delivery, drive, fly
from models.drive.flight import fly as fly_in_air
from models.drive.heads import STANDARD
from models.drive.parameters import default_parameters
from tests.published.anchor import TRADE, Anchor

MPH, YARD_M = 0.44704, 0.9144
FIRM = Conditions(turf="firm")
STANDARD_TEST = Conditions(
    temperature_c=(75.0 - 32.0) / 1.8, pressure_pa=30.0 * 3386.389, humidity=0.5, turf="firm"
)
"""75 F, 30 inHg, 50 % humidity: R&A/USGA overall distance standard."""
SEPARATE = "the same equations in a separate program"

Rows = tuple[Anchor, ...]


def yards(metres):
    return float(metres) / YARD_M


def ball(speed_mph, launch_deg, spin_rpm):
    return BallLaunch(speed_mph * MPH, launch_deg, spin_rpm)


LONG_BALL = ball(176.0, 10.0, 2520.0)


@cache
def delivery_with_spin(speed_mph, attack_deg, spin_rpm, up_mm):
    """Return the delivery whose loft gives that spin."""

    def with_loft(loft):
        return Delivery(speed_mph * MPH, attack_deg, loft, strike_up_mm=up_mm)

    def too_much(loft):
        return float(drive(with_loft(loft)).spin_rpm) - spin_rpm

    return with_loft(brentq(too_much, 5.0, 24.0))


LOW_AND_DOWN = (119.5, -6.0, 5850.0, -15.0)
HIGH_AND_UP = (118.8, 3.4, 1650.0, 2.0)
"""Speed in mph, attack in degrees, spin in rpm, strike above the centre in mm."""


def overall_distance_standard() -> Rows:
    """R&A/USGA overall distance standard: 120 mph club, 176 mph ball, 10 deg, 2520 rpm.

    Launch as given with the announcement of December 2023 (press reports of it). Long modern
    balls total 308 to 321 yd; a conforming ball at most 317 + 3. The default ball is a long one
    and conforms, so that it has to end just below: 319.9 yd (+- 2.7 from the parameters).

    It was 321.3 yd with the turf tilt as first fitted (13.54 +- .50 deg): the fit had taken the
    row for a target with an error, not for a limit. Flight and ball speed are not to blame: the
    carry is 287.5 yd, 1 mph of ball speed is worth 1.5 yd of total, and the run is the least
    certain part. Tilt 13.76 ends it at the limit and the 2028 row at 334.0 yd, its middle.
    """
    total = yards(fly(LONG_BALL, STANDARD_TEST).total_m)
    source = "R&A/USGA overall distance standard (press reports, December 2023)"
    return (Anchor.between("176 mph, 10 deg, 2520 rpm", "total, yd", source, 308.0, 320.0, total),)


def long_ball_of_2028() -> Rows:
    """R&A/USGA announcement, December 2023: 183 mph, 11 deg, 2220 rpm; limit 317 + 3 yd.

    A loss of 13 to 15 yd was announced for the longest hitters, which puts today's long ball at
    334 +- 6 yd.
    """
    total = yards(fly(ball(183.0, 11.0, 2220.0), STANDARD_TEST).total_m)
    check, source = "183 mph, 11 deg, 2220 rpm", "R&A/USGA announcement, December 2023"
    return (
        Anchor(check, "total, yd", source, 334.0, total, 6.0),
        Anchor.between(check, "beyond the limit of 320, yd", source, 13.0, 16.0, total - 320.0),
    )


def tour_mean_of_2015() -> Rows:
    """USGA/R&A 2015 Distance Report: 113.2 mph gives 167.7 mph, 10.8 deg, 2599 rpm, 290.6 yd.

    Attack -.3, loft 12.2 and 2 mm up are inferred. The 290.6 yd is a mean over all drives on
    measured holes; a clean strike goes 0 to 12 yd farther. Average fairway.
    """
    d = drive(Delivery(113.2 * MPH, -0.3, 12.2, strike_up_mm=2.0))
    check, source = "tour mean, 113.2 mph", "USGA/R&A 2015 Distance Report"
    return (
        Anchor(check, "ball speed, mph", source, 167.7, float(d.ball_speed_mps) / MPH, 1.5),
        Anchor(check, "launch, deg", source, 10.8, float(d.launch_deg), 0.5),
        Anchor(check, "spin, rpm", source, 2599.0, float(d.spin_rpm), 130.0),
        Anchor.between(check, "total, yd", source, 290.6, 302.6, yards(d.total_m)),
    )


def altitude() -> Rows:
    """155 mph, 12 deg, 2600 rpm gains 3 to 8 % of carry."""
    launch = ball(155.0, 12.0, 2600.0)
    high, low = fly(launch, Conditions(altitude_m=1609.0)), fly(launch)
    gain = 100.0 * (float(high.carry_m / low.carry_m) - 1.0)
    return (Anchor.between("a mile of altitude", "carry gained, %", TRADE, 3.0, 8.0, gain),)


def carry_per_mph() -> Rows:
    """2.5 to 3.5 yd at 95 mph, attack -2, loft 14 to 15."""

    def gain(loft):
        slow, fast = (drive(Delivery(v * MPH, -2.0, loft)).carry_m for v in (94.5, 95.5))
        return yards(fast - slow)

    return tuple(
        Anchor.between(f"95 mph, loft {loft:.0f}", "carry per mph, yd", TRADE, 2.5, 3.5, gain(loft))
        for loft in (14.0, 15.0)
    )


def best_total(speed_mph, attack_deg, conditions=FIRM):
    """Return the longest total over lofts in yards, by a parabola through the best three."""
    lofts = np.arange(5.0, 20.0, 0.25)
    totals = drive(Delivery(speed_mph * MPH, attack_deg, lofts), conditions).total_m / YARD_M
    i = int(np.clip(totals.argmax(), 1, len(lofts) - 2))
    bend = totals[i - 1] - 2.0 * totals[i] + totals[i + 1]
    return float(totals[i] - (totals[i + 1] - totals[i - 1]) ** 2 / (8.0 * bend))


def total_per_mph() -> Rows:
    """About 3 yd of total per mph (taken as 2.5 to 3.5).

    The figure compares players, each with a loft that suits the speed: 2.7 yd on either turf
    from 90 to 115 mph.
    """

    def gain(attack_deg, turf):
        slow, fast = (best_total(v, attack_deg, Conditions(turf=turf)) for v in (90.0, 115.0))
        return (fast - slow) / 25.0

    return tuple(
        Anchor.between(
            f"90 to 115 mph, attack {attack_deg:+g}, {turf} turf",
            "total per mph, yd", TRADE, 2.5, 3.5, gain(attack_deg, turf),
        )
        for attack_deg in (-1.0, 3.4) for turf in ("average", "firm")
    )  # fmt: skip


def total_per_mph_with_launch_held() -> Rows:
    """The separate program's known miss, 2.1 yd at 118 mph: here 2.2 on either turf.

    Ball speed per club speed 1.483, launch and spin of the 2015 tour mean. So the equations
    agree; what lowers the figure below is the delivery, not the turf.
    """

    def gain(turf):
        slow, fast = (
            fly(ball(1.483 * v, 10.8, 2599.0), Conditions(turf=turf)).total_m
            for v in (117.5, 118.5)
        )
        return yards(fast - slow)

    return tuple(
        Anchor(f"118 mph, launch held, {turf} turf", "total per mph, yd", SEPARATE, 2.1, gain(turf),
               0.2)
        for turf in ("average", "firm")
    )  # fmt: skip


def total_per_mph_of_a_fast_player(attack_deg: float) -> Rows:
    """About 3 yd (taken as 2.5 to 3.5), loft fitted to each speed.

    The gain falls with speed (2.8 yd at 95 mph, 2.6 at 108, 2.4 at 118) as drag grows with the
    square of speed. With the delivery held it is less: 1.4 yd at attack -1 and loft 12.5, where
    carry gains 2.05 yd and the run loses .64, since at 3,080 rpm each mph also steepens the
    descent by .43 deg; 2.0 yd at attack 3.4. The cap of the turf's tilt plays no part: this
    landing (27.8 m/s, 47 deg to the ground) tilts it by 20 of the 40 deg.
    """
    slow, fast = (best_total(v, attack_deg) for v in (116.0, 120.0))
    return (
        Anchor.between(
            f"118 mph, attack {attack_deg:+g}, best loft", "total per mph, yd", TRADE, 2.5, 3.5,
            (fast - slow) / 4.0, known_miss="drag grows with the square of speed",
        ),
    )  # fmt: skip


def spin_decay() -> Rows:
    """About 340 +- 30 rpm/s at first, 120 mph and 7097 rpm.

    Read from a hop of .1 s without drag or lift, in which spin decay is all that acts.
    """
    p = default_parameters()
    seconds, speed = 0.1, 120.0 * MPH
    launch_deg = math.degrees(math.asin(9.80665 * seconds / 2 / speed))
    flight = fly_in_air(
        BallLaunch(speed, launch_deg, 7097.0), air_at(), np.zeros(6), p.flight_constants()
    )
    decay = (7097.0 - float(flight.land_spin_rpm)) / seconds
    check, source = "120 mph, 7097 rpm", "Smits & Smith 1994, Science and Golf II"
    return (
        Anchor("hop without drag", "hang time, s", "exact: 2 v sin(a) / g", seconds,
               float(flight.hang_s), 1e-4),
        Anchor(check, "loss of spin, rpm/s", source, 340.0, decay, 30.0),
    )  # fmt: skip


def vacuum_range() -> Rows:
    """60 m/s at 20 deg: v^2 sin(2 a) / g = 235.96595 m."""
    flight = fly_in_air(BallLaunch(60.0, 20.0, 0.0), air_at(), np.zeros(6), (9e4, 2e5, 0.35, 0.0))
    check, source = "60 m/s, 20 deg in a vacuum", "exact: v^2 sin(2 a) / g"
    return (Anchor(check, "carry, m", source, 235.96595, float(flight.carry_m), 2e-5),)


def low_and_down() -> Rows:
    """118-121 mph, 6 deg down, 15 mm low, 5850 rpm: carry 227 +- 8 yd."""
    carry = yards(drive(delivery_with_spin(*LOW_AND_DOWN)).carry_m)
    return (Anchor("hit down and low, 5850 rpm", "carry, yd", TRADE, 227.0, carry, 8.0),)


def spin_of_3100() -> Rows:
    """118 mph, about 3100 rpm: carry 284 +- 6 yd.

    Delivery inferred: attack -1, centre strike (no loft reaches the row's middle: 278.7 is
    about the most this speed and spin can carry in the model).
    """
    carry = yards(drive(delivery_with_spin(118.0, -1.0, 3100.0, 0.0)).carry_m)
    return (Anchor("118 mph, 3100 rpm", "carry, yd", TRADE, 284.0, carry, 6.0),)


def high_and_up() -> Rows:
    """118.8 mph, 3.4 up, 1650 rpm: carry 291 +- 6, total 338 +- 10 yd."""
    d = drive(delivery_with_spin(*HIGH_AND_UP), FIRM)
    check = "118.8 mph, 3.4 deg up, 1650 rpm"
    return (
        Anchor(check, "carry, yd", TRADE, 291.0, yards(d.carry_m), 6.0),
        Anchor(check, "total, yd", TRADE, 338.0, yards(d.total_m), 10.0),
    )


def spin_of_2000() -> Rows:
    """About 120 mph, 2000 rpm: carry 304 +- 8, total 340 +- 10 yd.

    The row leaves speed and delivery open; 121 mph, 3.4 deg up and a centre strike were chosen
    because they reach it, at its low end (296.4 and 332.9 yd). At 120 mph and the same delivery
    carry is 293.9 yd, 2 yd short of the row. This carry was also missed by -14 yd when left out
    of the fit: take it as a weak check.
    """
    d = drive(delivery_with_spin(121.0, 3.4, 2000.0, 0.0), FIRM)
    check = "121 mph, 3.4 deg up, 2000 rpm (weak: speed chosen)"
    return (
        Anchor(check, "carry, yd", TRADE, 304.0, yards(d.carry_m), 8.0),
        Anchor(check, "total, yd", TRADE, 340.0, yards(d.total_m), 10.0),
    )


def textbook_loss() -> Rows:
    """Hitting down and low against 3.4 deg up at the same speed: 70 +- 12 yd of carry."""
    long, short = (drive(delivery_with_spin(*d)).carry_m for d in (HIGH_AND_UP, LOW_AND_DOWN))
    check = "down and low against up and high"
    return (Anchor(check, "carry lost, yd", TRADE, 70.0, yards(long - short), 12.0),)


def best_strike() -> Rows:
    """6.35 mm up +- 4 and 6.35 mm toward the toe +- 5, 118 mph."""

    def loss(place):
        toe, up = np.clip(place, -25.0, 25.0)
        return -float(
            drive(Delivery(118 * MPH, -1.0, 12.5, strike_toe_mm=toe, strike_up_mm=up)).carry_m
        )

    toe, up = (float(v) for v in minimize(loss, [0.0, 0.0], method="Nelder-Mead").x)
    check = "strike that carries farthest, 118 mph"
    return (
        Anchor(check, "above the centre, mm", TRADE, 6.35, up, 4.0),
        Anchor(check, "toward the toe, mm", TRADE, 6.35, toe, 5.0),
    )


def spin_saved(lower_mm: float, known_miss: str = "") -> Rows:
    """A low-spin head (centre of gravity 1.5 to 2 mm lower) spins 200 to 300 rpm less.

    152 rpm per mm, so that 2 mm give 304, 4 past the upper end. A rigid head (gear gain 1) gives
    115 per mm; the rest is the fitted gear gain, 1.32 +- .13, which the high-spin drive hit low
    on the face asks for. Gain 1.30, .15 SD lower, would end the miss; it is fitted jointly and
    left alone.
    """
    delivery = Delivery(118 * MPH, -1.0, 12.5)
    low = drive(delivery, head=replace(STANDARD, cg_height_m=-lower_mm * 1e-3))
    saved = float(drive(delivery).spin_rpm - low.spin_rpm)
    check = f"centre of gravity {lower_mm:g} mm lower"
    return (Anchor.between(check, "spin saved, rpm", TRADE, 200.0, 300.0, saved, known_miss),)


def spin_per_degree() -> Rows:
    """+1 deg of delivered loft at 118 mph adds 120 to 300 rpm."""
    more, now = (drive(Delivery(118 * MPH, -1.0, loft)).spin_rpm for loft in (13.5, 12.5))
    added = float(more - now)
    return (
        Anchor.between("118 mph, 1 deg more loft", "spin added, rpm", TRADE, 120.0, 300.0, added),
    )


def sensitivities() -> Rows:
    """What one unit of each reading is worth in a separate program.

    Its air and the size and direction of its steps are not recorded; attack bends the carry (2.46
    to 2.71 yd at 95 mph, .31 to .61 with the loft following at 118 mph, between a step up and a
    step down), and the tolerances are as wide as that. Here attack and the rest step up by one.
    """
    slow, fast = Delivery(95 * MPH, -2.0, 15.0), Delivery(118 * MPH, -1.0, 12.5)
    steps = (
        (slow, {"strike_up_mm": 1.0}, 0.30, 0.1),
        (slow, {"strike_toe_mm": 1.0}, 0.34, 0.1),
        (slow, {"attack_deg": -1.0}, 2.55, 0.15),
        (slow, {"attack_deg": -1.0, "loft_deg": 16.0}, 1.38, 0.25),
        (slow, {"club_speed_mps": 96 * MPH}, 2.8, 0.15),
        (fast, {"strike_up_mm": 1.0}, 0.70, 0.1),
        (fast, {"attack_deg": 0.0}, 3.38, 0.2),
        (fast, {"attack_deg": 0.0, "loft_deg": 13.5}, 0.53, 0.25),
    )
    rows = []
    for base, change, published, within in steps:
        mph = float(base.club_speed_mps) / MPH
        words = ", ".join(f"{name} to {value:.4g}" for name, value in change.items())
        gain = yards(drive(replace(base, **change)).carry_m - drive(base).carry_m)
        rows.append(
            Anchor(f"{mph:.0f} mph, {words}", "carry gained, yd", SEPARATE, published, gain, within)
        )
    for base, published in ((slow, 1.70), (fast, 2.16)):
        mph = float(base.club_speed_mps) / MPH
        one, other = (drive(replace(base, strike_up_mm=up)).carry_m for up in (-10.0, -9.0))
        check = f"{mph:.0f} mph, strike 10 mm low, 1 mm higher"
        rows.append(
            Anchor(check, "carry gained, yd", SEPARATE, published, yards(other - one), 0.15)
        )
    return tuple(rows)


CHECKS = (
    overall_distance_standard,
    long_ball_of_2028,
    tour_mean_of_2015,
    altitude,
    carry_per_mph,
    total_per_mph,
    total_per_mph_with_launch_held,
    spin_decay,
    vacuum_range,
    low_and_down,
    spin_of_3100,
    high_and_up,
    spin_of_2000,
    textbook_loss,
    best_strike,
    partial(spin_saved, 1.5),
    partial(spin_saved, 1.75),
    spin_per_degree,
    sensitivities,
)

KNOWN_MISSES = (
    partial(total_per_mph_of_a_fast_player, -1.0),
    partial(total_per_mph_of_a_fast_player, 3.4),
    partial(spin_saved, 2.0, "the fitted gear gain; 200-300 lies inside the model's interval"),
)
