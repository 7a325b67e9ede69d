"""What the head does to the ball: rigid bodies, one impulse at the contact point.

    K J = (1 + e) v_n n + (1 + e_t) v_t,   K_ij = a_i.a_j / M + (r x a_i) I^-1 (r x a_j)
                                                  + delta_ij (1, 7/2, 7/2) / m

with v the closing velocity at the strike, r from the head's centre of gravity to the contact,
a_i = (normal, toe-ward, up-face). The gear coupling K_tn J_n carries a gain, and Coulomb's limit
|J_t| <= mu J_n makes a slipping contact. See Penner 2001 (Am. J. Phys. 69:563 and 69:1073),
Cross & Nathan 2007 (gear effect), McPhee 2022 (review, Sports Eng.).

Inside, axes are right-handed for a right-hander (x target, y left, z up). At the edge the signs
hold for either hand: toe, open and in-to-out are +, and ball side and axis are + toward the
open-face side. The same code runs on NumPy and, with ``xp=pytensor.tensor``, for gradients.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.drive.ball import BALL_MASS_KG, BALL_RADIUS_M, SPHERE
from models.drive.heads import COR_LIMIT, Head
from models.drive.impact_lanes import (
    CONSTANTS,
    LEAST_RESTITUTION,
    LEFT_FACE,
    RULES_TEST_SPEED_MPS,
    STRIKE,
    TINY,
    TOE_SCALE_M,
    UP_SCALE_M,
    strike_rows,
)
from models.drive.parameters import DriveParameters

_DEG: Final = np.pi / 180.0
_RPM: Final = np.pi / 30.0

type Floats = NDArray[np.float64]
type Numeric = Any
"""A number, a NumPy array or a symbolic tensor."""


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


class Vector(NamedTuple):
    """Three components that may each be an array."""

    x: Numeric
    y: Numeric
    z: Numeric

    def dot(self, other: Vector) -> Numeric:
        """Return the scalar product."""
        return self.x * other.x + self.y * other.y + self.z * other.z

    def cross(self, other: Vector) -> Vector:
        """Return the vector product."""
        return Vector(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )

    def times(self, factor: Numeric) -> Vector:
        """Return the vector scaled."""
        return Vector(self.x * factor, self.y * factor, self.z * factor)

    def plus(self, other: Vector) -> Vector:
        """Return the sum."""
        return Vector(self.x + other.x, self.y + other.y, self.z + other.z)


class Strike(NamedTuple):
    """The contact itself, for checks: vectors in the inside axes, impulse on the ball in N s."""

    impulse: Vector
    normal: Vector
    toeward: Vector
    upface: Vector
    head_axes: tuple[Vector, Vector, Vector]  # face normal, heel-toe, vertical, at the centre
    arm: Vector  # from the head's centre of gravity to the contact
    closing: Vector  # velocity of the contact point on the head before impact
    restitution: Numeric
    slipping: Numeric


def delivered_loft(
    loft_now_deg: Numeric,
    attack_now_deg: Numeric,
    attack_new_deg: Numeric,
    loft_follows_attack: Numeric,
) -> Numeric:
    """Return the delivered loft after attack has changed and dragged the loft along."""
    return loft_now_deg + loft_follows_attack * (attack_new_deg - attack_now_deg)


def _face_axes(loft: Numeric, face: Numeric, xp: Any) -> tuple[Vector, Vector, Vector]:
    """Return normal, toe-ward and up-face unit vectors of a face with this loft and opening."""
    sin_loft, cos_loft = xp.sin(loft), xp.cos(loft)
    sin_face, cos_face = xp.sin(face), xp.cos(face)
    return (
        Vector(cos_loft * cos_face, -cos_loft * sin_face, sin_loft),
        Vector(-sin_face, -cos_face, 0.0 * sin_loft),
        Vector(-sin_loft * cos_face, sin_loft * sin_face, cos_loft),
    )


def strike(delivery: Delivery, parameters: DriveParameters, head: Head, xp: Any = np) -> Strike:
    """Return the impulse between head and ball."""
    attack, path = delivery.attack_deg * _DEG, delivery.path_deg * _DEG
    loft, face = delivery.loft_deg * _DEG, delivery.face_deg * _DEG
    toe, up = delivery.strike_toe_mm * 1e-3, delivery.strike_up_mm * 1e-3
    speed = delivery.club_speed_mps

    centre_axes = _face_axes(loft, face, xp)
    normal0, toe0, up0 = centre_axes
    normal, toeward, upface = _face_axes(
        loft + up / head.roll_radius_m, face + toe / head.bulge_radius_m, xp
    )

    # The head turns shut through impact, so a point nearer the toe closes faster on the ball; and
    # it turns upward, so a higher point closes more slowly.
    level = speed * xp.cos(attack)
    closing = (
        Vector(level * xp.cos(path), -level * xp.sin(path), speed * xp.sin(attack))
        .plus(Vector(-toe0.y, toe0.x, 0.0).times(parameters.closure_per_s * toe))
        .plus(normal0.times(parameters.pitch_per_s * up))
    )
    arm = (
        normal0.times(head.cg_depth_m)
        .plus(toe0.times(toe))
        .plus(up0.times(up - head.cg_height_m - parameters.cg_height_m))
    )

    contact_axes = (normal, toeward, upface)
    turning = [arm.cross(axis) for axis in contact_axes]
    parts = [[w.dot(axis) for axis in centre_axes] for w in turning]
    inverse_moi = (
        1.0 / head.moi_face_normal_axis_kg_m2,
        1.0 / head.moi_heel_toe_axis_kg_m2,
        1.0 / head.moi_vertical_axis_kg_m2,
    )

    def coupling(i: int, j: int) -> Numeric:
        return sum(inverse_moi[k] * parts[i][k] * parts[j][k] for k in range(3))

    rigid = 1.0 / (head.mass_kg + head.shaft_mass_kg)
    rolling = (1.0 + 1.0 / SPHERE) / BALL_MASS_KG
    k_nn = coupling(0, 0) + rigid + 1.0 / BALL_MASS_KG
    k_tt = coupling(1, 1) + rigid + rolling
    k_uu = coupling(2, 2) + rigid + rolling
    k_nt, k_nu, k_tu = coupling(0, 1), coupling(0, 2), coupling(1, 2)

    v_n, v_t, v_u = closing.dot(normal), closing.dot(toeward), closing.dot(upface)
    restitution = xp.maximum(
        parameters.restitution
        + (head.cor - COR_LIMIT)
        + parameters.restitution_slope_s_per_m * (v_n - RULES_TEST_SPEED_MPS)
        - parameters.restitution_falloff * ((toe / TOE_SCALE_M) ** 2 + (up / UP_SCALE_M) ** 2),
        LEAST_RESTITUTION,
    )
    push = (1.0 + restitution) * v_n
    grip = 1.0 + parameters.tangential_restitution

    # Sticking: J_t = slip_t - gear_t J_n from the tangential rows, then J_n from the normal row.
    determinant = k_tt * k_uu - k_tu * k_tu
    slip_t = grip * (k_uu * v_t - k_tu * v_u) / determinant
    slip_u = grip * (k_tt * v_u - k_tu * v_t) / determinant
    gear_t = parameters.gear_gain * (k_uu * k_nt - k_tu * k_nu) / determinant
    gear_u = parameters.gear_gain * (k_tt * k_nu - k_tu * k_nt) / determinant
    stick_n = (push - k_nt * slip_t - k_nu * slip_u) / (k_nn - k_nt * gear_t - k_nu * gear_u)
    stick_t = slip_t - gear_t * stick_n
    stick_u = slip_u - gear_u * stick_n

    # Slipping: the same direction of rubbing, its size held at Coulomb's limit.
    rub = xp.sqrt(stick_t**2 + stick_u**2 + TINY**2)
    slipping = rub > parameters.face_friction * stick_n
    along_t, along_u = (
        parameters.face_friction * stick_t / rub,
        parameters.face_friction * stick_u / rub,
    )
    slide_n = push / (k_nn + k_nt * along_t + k_nu * along_u)
    impulse_n = xp.where(slipping, slide_n, stick_n)
    impulse_t = xp.where(slipping, along_t * slide_n, stick_t)
    impulse_u = xp.where(slipping, along_u * slide_n, stick_u)
    impulse = normal.times(impulse_n).plus(toeward.times(impulse_t)).plus(upface.times(impulse_u))
    return Strike(
        impulse, normal, toeward, upface, centre_axes, arm, closing, restitution, slipping
    )


def ball_after(contact: Strike, xp: Any = np) -> BallLaunch:
    """Return the ball's launch from the impulse it was given.

    Spin is the part across the flight direction; a turn about the flight direction itself
    (rifle spin, a few rpm) makes no lift and is left out.
    """
    velocity = contact.impulse.times(1.0 / BALL_MASS_KG)
    spin = contact.normal.cross(contact.impulse).times(
        -1.0 / (SPHERE * BALL_MASS_KG * BALL_RADIUS_M)
    )
    level = xp.sqrt(velocity.x**2 + velocity.y**2 + TINY**2)
    speed = xp.sqrt(velocity.x**2 + velocity.y**2 + velocity.z**2 + TINY**2)
    # Spin about the level axis pointing left is topspin; about the axis up from the flight
    # direction it turns the ball toward the closed side.
    about_left = (velocity.x * spin.y - velocity.y * spin.x) / level
    about_up = (
        -velocity.z * (velocity.x * spin.x + velocity.y * spin.y) / level + level * spin.z
    ) / speed
    return BallLaunch(
        ball_speed_mps=speed,
        launch_deg=xp.arctan2(velocity.z, level) / _DEG,
        spin_rpm=xp.sqrt(about_left**2 + about_up**2 + TINY**2) / _RPM,
        axis_deg=xp.arctan2(-about_up, -about_left) / _DEG,
        side_deg=xp.arctan2(-velocity.y, velocity.x) / _DEG,
    )


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


def impact(delivery: Delivery, parameters: DriveParameters, head: Head, xp: Any = np) -> BallLaunch:
    """Return the ball's launch for a delivery; all inputs broadcast.

    ``xp`` other than NumPy works the equations out symbolically, for gradients.
    """
    if xp is not np:
        return ball_after(strike(delivery, parameters, head, xp), xp)
    values = [getattr(delivery, name) for name in STRIKE]
    values += [getattr(parameters, name) for name in CONSTANTS]
    outer = np.broadcast_shapes(*(np.shape(value) for value in values))
    return launch_of_rows(left_face_rows(delivery, parameters, head, outer), outer)
