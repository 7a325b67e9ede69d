"""What the head does to the ball: rigid bodies, one impulse at the contact point.

    K J = (1 + e) v_n n + (1 + e_t) v_t,   K_ij = a_i.a_j / M + (r x a_i) I^-1 (r x a_j)
                                                  + delta_ij (1, 7/2, 7/2) / m

with v the closing velocity at the strike, r from the head's centre of gravity to the contact,
a_i = (normal, toe-ward, up-face). The gear coupling K_tn J_n carries a gain, and Coulomb's limit
|J_t| <= mu J_n makes a slipping contact. See Penner 2001 (Am. J. Phys. 69:563 and 69:1073),
Cross & Nathan 2007 (gear effect), McPhee 2022 (review, Sports Eng.).

Inside, axes are right-handed for a right-hander (x target, y left, z up). At the edge the signs
hold for either hand: toe, open and in-to-out are +, and ball side and axis are + toward the
open-face side. The compiled sweep of ``impact_lanes`` works it out.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from models.arrays import Floats
from models.drive.heads import COR_LIMIT, Head
from models.drive.impact_lanes import CONSTANTS, LEFT_FACE, STRIKE, strike_rows
from models.drive.parameters import DriveParameters

_DEG: Final = np.pi / 180.0
_RPM: Final = np.pi / 30.0

type Numeric = Any
"""A number or a NumPy array."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """The club at impact, at the face centre; strike from the face centre."""

    club_speed_mps: Numeric
    attack_deg: Numeric
    loft_deg: Numeric
    path_deg: Numeric = 0.0
    face_deg: Numeric = 0.0
    strike_toe_mm: Numeric = 0.0
    strike_up_mm: Numeric = 0.0


@dataclass(frozen=True, slots=True)
class BallLaunch:
    """The ball as it leaves the face; ``side_deg`` and ``axis_deg`` + toward the open-face side."""

    ball_speed_mps: Numeric
    launch_deg: Numeric
    spin_rpm: Numeric
    axis_deg: Numeric = 0.0
    side_deg: Numeric = 0.0


def delivered_loft(
    loft_now_deg: Numeric,
    attack_now_deg: Numeric,
    attack_new_deg: Numeric,
    loft_follows_attack: Numeric,
) -> Numeric:
    """Return the delivered loft after attack has changed and dragged the loft along."""
    return loft_now_deg + loft_follows_attack * (attack_new_deg - attack_now_deg)


def left_face_rows(
    delivery: Delivery, parameters: DriveParameters, head: Head, outer: tuple[int, ...]
) -> Floats:
    """Return what leaves the face, as rows like ``LEFT_FACE``, for inputs that broadcast to outer.

    The same numbers as ``impact`` gives, in the form in which a flight starts.
    """
    inputs = np.empty((len(STRIKE) + len(CONSTANTS), math.prod(outer)))
    values = [getattr(delivery, name) for name in STRIKE]
    values += [getattr(parameters, name) for name in CONSTANTS]
    for row, value in zip(inputs, values, strict=True):
        row.reshape(outer)[...] = value
    out = np.empty((inputs.shape[1], len(LEFT_FACE)))
    strike_rows(
        inputs,
        (
            head.mass_kg + head.shaft_mass_kg,
            1.0 / head.moi_face_normal_axis_kg_m2,
            1.0 / head.moi_heel_toe_axis_kg_m2,
            1.0 / head.moi_vertical_axis_kg_m2,
            head.cg_depth_m,
            head.cg_height_m,
            head.bulge_radius_m,
            head.roll_radius_m,
            head.cor - COR_LIMIT,
        ),
        (parameters.restitution_slope_s_per_m, parameters.face_friction),
        out,
    )
    return out


def launch_of_rows(rows: Floats, outer: tuple[int, ...]) -> BallLaunch:
    """Return the ball's launch from rows like ``LEFT_FACE``."""
    vx, vy, vz, spin, _, _, _, cos_tilt, sin_tilt = (column.reshape(outer) for column in rows.T)
    level = np.hypot(vx, vy)
    return BallLaunch(
        ball_speed_mps=np.hypot(level, vz),
        launch_deg=np.arctan2(vz, level) / _DEG,
        spin_rpm=spin / _RPM,
        axis_deg=np.arctan2(sin_tilt, cos_tilt) / _DEG,
        side_deg=np.arctan2(vy, vx) / _DEG,
    )


def impact(delivery: Delivery, parameters: DriveParameters, head: Head) -> BallLaunch:
    """Return the ball's launch for a delivery; all inputs broadcast."""
    values = [getattr(delivery, name) for name in STRIKE]
    values += [getattr(parameters, name) for name in CONSTANTS]
    outer = np.broadcast_shapes(*(np.shape(value) for value in values))
    return launch_of_rows(left_face_rows(delivery, parameters, head, outer), outer)
