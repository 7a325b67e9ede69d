"""Bounce and roll on turf: how far the ball runs after it lands.

After Penner 2002 (Can. J. Phys. 80:931): turf gives way, so the ball bounces as off a surface
tilted back by theta_c = theta0 (v / 18.6 m/s) (theta / 44.4 deg), theta taken from the vertical
(eqs. 6 to 8, p. 934); normal restitution .510 - .0375 v + .000903 v^2, .120 above 20 m/s (eq. 5,
p. 933); it slides or rolls through the bounce by the friction, .40 (eqs. 2 to 4); bounces lower
than 5 mm end in a roll that friction stops (p. 935). Between bounces the ball is in free fall.
The paper itself was not at hand: equations and pages are as public code quotes them.

The run is the least certain part of a drive: turf differs more than anything else here.
"""

import math
from typing import Final

import numpy as np
from numba import njit

from models.arrays import Floats
from models.drive.ball import BALL_RADIUS_M
from models.drive.flight_lanes import GRAVITY_MPS2, SUMS_IN_ANY_ORDER

_REFERENCE_SPEED_MPS: Final = 18.6
_REFERENCE_ANGLE_RAD: Final = math.radians(44.4)
_MOST_TILT_RAD: Final = 0.70
"""Penner's line rests on impacts of some 20 m/s at 44 degrees; drawn on, a grazing ball of 50 m/s
would dig a wall and come back. The hollow is capped at 40 degrees (our choice): a drive's own
landing digs 20. A cap by the angle of descent as well would make a topped ball run 400 m."""

_LOWEST_BOUNCE_M: Final = 0.005
_MOST_BOUNCES: Final = 200
_LANES: Final = 64


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True, inline="always")
def bounce(
    forward: float, down: float, backspin: float, tilt: float, friction: float
) -> tuple[float, float, float]:
    """Return forward speed, upward speed and backspin (m/s, m/s, rad/s) after one bounce.

    Written with polynomials and without branches, so that the compiler runs several balls in
    step: a run has some forty bounces. Angles are good to 1e-5 rad.
    """
    # atan(forward / down), Abramowitz & Stegun 4.4.47 (five terms, error below 1e-5).
    ahead = abs(forward)
    ratio = min(ahead, down) / (max(ahead, down) + 1e-12)
    r2 = ratio * ratio
    slant = ratio * (
        0.9998660 + r2 * (-0.3302995 + r2 * (0.1801410 + r2 * (-0.0851330 + r2 * 0.0208351)))
    )
    slant = slant if ahead < down else 0.5 * math.pi - slant
    speed = math.sqrt(forward * forward + down * down)
    give = tilt * (speed / _REFERENCE_SPEED_MPS) * (slant / _REFERENCE_ANGLE_RAD)
    give = min(give, _MOST_TILT_RAD)
    # A ball that comes back meets the hollow's other side: the tilt has the sign of forward.
    give = give if forward > 0.0 else -give
    g2 = give * give
    sine = give * (1.0 - g2 / 6.0 * (1.0 - g2 / 20.0 * (1.0 - g2 / 42.0 * (1.0 - g2 / 72.0))))
    cosine = 1.0 - g2 / 2.0 * (
        1.0 - g2 / 12.0 * (1.0 - g2 / 30.0 * (1.0 - g2 / 56.0 * (1.0 - g2 / 90.0)))
    )
    into = sine * forward + cosine * down
    along = cosine * forward - sine * down
    restitution = 0.120 if into > 20.0 else 0.510 - 0.0375 * into + 0.000903 * into * into
    # Sliding takes mu (1 + e) v_n off the forward speed; a ball that would stop slipping before
    # that rolls, which takes 2/7 of the slip.
    slip = along + BALL_RADIUS_M * backspin
    rub = min(friction * (1.0 + restitution) * into, 2.0 / 7.0 * abs(slip))
    rub = rub if slip > 0.0 else -rub
    along -= rub
    out = restitution * into
    return (
        cosine * along - sine * out,
        sine * along + cosine * out,
        backspin - 2.5 * rub / BALL_RADIUS_M,
    )


@njit(cache=True, fastmath=SUMS_IN_ANY_ORDER, error_model="numpy", nogil=True)
def run_rows(landing: Floats, ground: Floats, friction: float, out: Floats) -> None:
    """Fill ``out`` with the run of each landing in m; negative when the ball comes back.

    ``landing`` rows are level speed, downward speed, backspin about the level axis; ``ground``
    has one row for all, or one a landing: tilt in radians, roll friction.
    """
    last = ground.shape[0] - 1
    forward, down, spin = np.empty(_LANES), np.empty(_LANES), np.empty(_LANES)
    tilt, run, bouncing = np.empty(_LANES), np.empty(_LANES), np.empty(_LANES)
    lowest = 2.0 * GRAVITY_MPS2 * _LOWEST_BOUNCE_M
    for start in range(0, landing.shape[0], _LANES):
        count = min(_LANES, landing.shape[0] - start)
        for k in range(count):
            i = start + k
            forward[k], down[k], spin[k] = landing[i, 0], landing[i, 1], landing[i, 2]
            tilt[k] = ground[min(i, last), 0]
            run[k] = 0.0
            bouncing[k] = 1.0
        for _ in range(_MOST_BOUNCES):
            left = 0.0
            for k in range(count):
                ahead, up, turn = bounce(forward[k], down[k], spin[k], tilt[k], friction)
                now = bouncing[k]
                forward[k] = ahead if now > 0.0 else forward[k]
                spin[k] = turn if now > 0.0 else spin[k]
                now = now if up * up >= lowest else 0.0
                run[k] += now * ahead * 2.0 * up / GRAVITY_MPS2
                down[k] = up if now > 0.0 else down[k]
                bouncing[k] = now
                left += now
            if left == 0.0:
                break
        for k in range(count):
            i = start + k
            # A rolling ball slows at 5/7 of the friction's own deceleration (Penner 2002).
            slowing = 5.0 / 7.0 * ground[min(i, last), 1] * GRAVITY_MPS2
            out[i] = run[k] + forward[k] * abs(forward[k]) / (2.0 * slowing)
