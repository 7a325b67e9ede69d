"""What the uncertainty of the drive's constants makes of the published rows."""

from dataclasses import replace

import numpy as np

from models.drive.drive import Delivery, drive, fly
from models.drive.heads import STANDARD
from models.drive.parameters import draw_parameters
from tests.published.drive_anchors import LONG_BALL, MPH, STANDARD_TEST, YARD_M


def test_limit_of_the_distance_standard_lies_inside_the_models_interval():
    """317 yd, the limit without its tolerance of 3."""
    draws = draw_parameters(2_000, np.random.default_rng(1))
    spread = fly(LONG_BALL, STANDARD_TEST, draws).total_m / YARD_M
    low, high = np.quantile(spread, [0.05, 0.95])
    assert low < 317.0 < high
    assert spread.std() < 4.0


def test_trade_range_of_a_lower_centre_of_gravity_lies_inside_the_models_interval():
    """At 2 mm: 304 rpm, 90 % sure between 257 and 353, so the model does not contradict 200-300."""
    draws = replace(draw_parameters(2_000, np.random.default_rng(1)), cg_height_m=0.0)
    delivery = Delivery(118 * MPH, -1.0, 12.5)
    low = drive(delivery, head=replace(STANDARD, cg_height_m=-2e-3), parameters=draws)
    saved = drive(delivery, parameters=draws).spin_rpm - low.spin_rpm
    at, above = np.quantile(saved, [0.05, 0.95])
    assert at < 300.0 < above
    assert 60.0 < above - at < 130.0
