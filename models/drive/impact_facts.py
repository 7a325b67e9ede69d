"""What balls tell of an impact: a few numbers at one delivery, in place of entangled constants.

Tangential restitution and the height of the centre of gravity move spin and launch alike (their
errors correlate by -.96), so neither is known well though what they do together is. These numbers
are what is known, and what a gain turns on.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from models.arrays import Floats
from models.drive.heads import STANDARD
from models.drive.impact import BallLaunch, Delivery, impact
from models.drive.parameters import DriveParameters

OUT_MM: Final = 10.0
HEIGHT_STEP_MM: Final = 2.0
LOFT_STEP_DEG: Final = 1.0


def impact_facts(delivery: Delivery, parameters: DriveParameters) -> dict[str, Floats]:
    """Return the numbers by name, one for each drawn set of constants.

    Spin at the delivery (rpm), spin by strike height (rpm per mm) and by spin loft (rpm per degree)
    around it, ball speed over club speed there, and ball speed lost by a strike 10 mm out from one
    at the centre (m/s).
    """

    def ball(**change: float) -> BallLaunch:
        return impact(replace(delivery, **change), parameters, STANDARD)

    here = ball()
    up, loft = delivery.strike_up_mm, delivery.loft_deg
    above, below = (ball(strike_up_mm=up + s) for s in (HEIGHT_STEP_MM, -HEIGHT_STEP_MM))
    more, less = (ball(loft_deg=loft + s) for s in (LOFT_STEP_DEG, -LOFT_STEP_DEG))
    centre = ball(strike_toe_mm=0.0, strike_up_mm=0.0).ball_speed_mps
    out = {
        "toe": ball(strike_toe_mm=OUT_MM, strike_up_mm=0.0),
        "heel": ball(strike_toe_mm=-OUT_MM, strike_up_mm=0.0),
        "low": ball(strike_toe_mm=0.0, strike_up_mm=-OUT_MM),
    }
    return {
        "spin_rpm": np.asarray(here.spin_rpm),
        "spin_by_height_rpm_per_mm": (above.spin_rpm - below.spin_rpm) / (2 * HEIGHT_STEP_MM),
        "spin_by_loft_rpm_per_deg": (more.spin_rpm - less.spin_rpm) / (2 * LOFT_STEP_DEG),
        "ball_over_club_speed": here.ball_speed_mps / delivery.club_speed_mps,
        **{f"lost_{side}_mps": centre - struck.ball_speed_mps for side, struck in out.items()},
    }
