"""How a rigid head meets the ball: delivery and strike to ball velocity and spin.

Axes are the player's own: x at the target, y up, z toward the open-face side, which is also
the toe side, so that left- and right-handers need no mirror here.

Two-body impulse J on the ball at the contact point, in the face's axes (normal n, up p, toe q):
    J_n = (1 + e) u_n / K_nn
    J_t = [(1 + e_t) u_t - g K_tn J_n] / K_tt, cut to |J_t| <= mu J_n
u is the head's velocity at the strike, K the mobility of the two bodies (ball: 1/m, and 3.5/m
along the face; head: 1/M plus its rotation about the centre of gravity). After Penner 2001
(Am. J. Phys. 69:1073) and Cross & Nathan 2007 (Am. J. Phys. 75:658) in form; the numbers in
``HeadParameters`` are the scenario's truth.
"""

from dataclasses import dataclass

import numpy as np

from synthetic_data.arrays import Floats

BALL_MASS_KG = 0.04593
BALL_RADIUS_M = 0.021335


@dataclass(frozen=True, slots=True)
class HeadParameters:
    """The planted driver head; lengths in mm, inertia in g cm2."""

    mass_kg: float = 0.210
    inertia_heel_toe_g_cm2: float = 3200.0
    inertia_vertical_g_cm2: float = 4800.0
    inertia_face_normal_g_cm2: float = 2800.0
    cg_depth_mm: float = 36.0
    cg_height_mm: float = 2.0
    bulge_mm: float = 305.0
    roll_mm: float = 305.0
    e0: float = 0.838
    e_slope_s_per_m: float = -0.002
    e_loss: float = 0.03
    e_t: float = -0.128
    gear_gain: float = 1.1
    friction: float = 0.40
    toe_speed_per_s: float = 55.0
    up_speed_per_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Launch:
    """The ball as it leaves the face: velocity (shot, 3) in m/s and spin (shot, 3) in rad/s."""

    velocity_mps: Floats
    spin_radps: Floats


def strike_ball(delivery: Floats, head: HeadParameters, e0: Floats, cg_height_mm: Floats) -> Launch:
    """Return the launch of each shot.

    ``delivery`` has shape (shot, 7) in the order and units of ``spec.TRAITS``; ``e0`` and
    ``cg_height_mm`` are each shot's own head, shape (shot,).
    """
    toe, up = delivery[:, 0] * 1e-3, delivery[:, 1] * 1e-3
    attack, loft, path, face = (np.radians(delivery[:, i]) for i in (2, 4, 5, 6))
    speed = delivery[:, 3]

    tilt = loft + up / (head.roll_mm * 1e-3)
    turn = face + toe / (head.bulge_mm * 1e-3)
    normal = _stack(np.cos(tilt) * np.cos(turn), np.sin(tilt), np.cos(tilt) * np.sin(turn))
    upward = _stack(-np.sin(tilt) * np.cos(turn), np.cos(tilt), -np.sin(tilt) * np.sin(turn))
    toeward = _stack(-np.sin(turn), np.zeros_like(turn), np.cos(turn))

    at_strike = speed + head.toe_speed_per_s * toe + head.up_speed_per_s * up
    heading = _stack(np.cos(attack) * np.cos(path), np.sin(attack), np.cos(attack) * np.sin(path))
    closing = at_strike[:, None] * heading
    u_n, u_p, u_q = ((closing * axis).sum(axis=1) for axis in (normal, upward, toeward))

    # The lever in the face-centre axes (depth, height, toe offset), turned to the strike's own:
    # on a curved face the normal of a high strike passes nearer to the centre of gravity.
    depth, height = head.cg_depth_mm * 1e-3, up - cg_height_mm * 1e-3
    roll, bulge = up / (head.roll_mm * 1e-3), toe / (head.bulge_mm * 1e-3)
    n = depth * np.cos(roll) * np.cos(bulge) + height * np.sin(roll) + toe * np.sin(bulge)
    p = height * np.cos(roll) - depth * np.sin(roll)
    q = toe * np.cos(bulge) - depth * np.sin(bulge)
    i_n = head.inertia_face_normal_g_cm2 * 1e-7
    i_p = head.inertia_vertical_g_cm2 * 1e-7
    i_q = head.inertia_heel_toe_g_cm2 * 1e-7
    along = 1 / head.mass_kg + 1 / BALL_MASS_KG
    across = 1 / head.mass_kg + 3.5 / BALL_MASS_KG
    k_nn = along + q**2 / i_p + p**2 / i_q
    k_pp = across + q**2 / i_n + n**2 / i_q
    k_qq = across + p**2 / i_n + n**2 / i_p
    k_pn = -n * p / i_q
    k_qn = -n * q / i_p

    off_centre = (delivery[:, 0] / 18.0) ** 2 + (delivery[:, 1] / 12.0) ** 2
    # Past the face's edge the quadratic fall is no longer meant: keep a dull bounce.
    e = np.maximum(e0 + head.e_slope_s_per_m * (u_n - 48.77) - head.e_loss * off_centre, 0.45)
    j_n = (1 + e) * u_n / k_nn
    j_p = ((1 + head.e_t) * u_p - head.gear_gain * k_pn * j_n) / k_pp
    j_q = ((1 + head.e_t) * u_q - head.gear_gain * k_qn * j_n) / k_qq
    cut = np.minimum(1.0, head.friction * j_n / np.maximum(np.hypot(j_p, j_q), 1e-12))
    impulse = j_n[:, None] * normal + (cut * j_p)[:, None] * upward + (cut * j_q)[:, None] * toeward
    inertia = 0.4 * BALL_MASS_KG * BALL_RADIUS_M**2
    spin = np.cross(-BALL_RADIUS_M * normal, impulse) / inertia
    return Launch(impulse / BALL_MASS_KG, spin)


def _stack(x: Floats, y: Floats, z: Floats) -> Floats:
    return np.stack([x, y, z], axis=1)
