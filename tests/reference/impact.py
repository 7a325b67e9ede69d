"""The impact written as vectors, step by step: what the compiled sweep must agree with.

Equations and axes are those of ``models/drive/impact.py``.
"""

from typing import Any, NamedTuple

import numpy as np

from models.drive.ball import BALL_MASS_KG, BALL_RADIUS_M, SPHERE
from models.drive.heads import COR_LIMIT, Head
from models.drive.impact import BallLaunch, Delivery
from models.drive.impact_lanes import (
    LEAST_RESTITUTION,
    RULES_TEST_SPEED_MPS,
    TINY,
    TOE_SCALE_M,
    UP_SCALE_M,
)
from models.drive.parameters import DriveParameters

_DEG = np.pi / 180.0
_RPM = np.pi / 30.0

type Numeric = Any
"""A number or a NumPy array."""


class Vector(NamedTuple):
    """Three components that may each be an array."""

    x: Numeric
    y: Numeric
    z: Numeric

    def dot(self, other: "Vector") -> Numeric:
        """Return the scalar product."""
        return self.x * other.x + self.y * other.y + self.z * other.z

    def cross(self, other: "Vector") -> "Vector":
        """Return the vector product."""
        return Vector(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )

    def times(self, factor: Numeric) -> "Vector":
        """Return the vector scaled."""
        return Vector(self.x * factor, self.y * factor, self.z * factor)

    def plus(self, other: "Vector") -> "Vector":
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


def _face_axes(loft: Numeric, face: Numeric) -> tuple[Vector, Vector, Vector]:
    """Return normal, toe-ward and up-face unit vectors of a face with this loft and opening."""
    sin_loft, cos_loft = np.sin(loft), np.cos(loft)
    sin_face, cos_face = np.sin(face), np.cos(face)
    return (
        Vector(cos_loft * cos_face, -cos_loft * sin_face, sin_loft),
        Vector(-sin_face, -cos_face, 0.0 * sin_loft),
        Vector(-sin_loft * cos_face, sin_loft * sin_face, cos_loft),
    )


def strike(delivery: Delivery, parameters: DriveParameters, head: Head) -> Strike:
    """Return the impulse between head and ball."""
    attack, path = delivery.attack_deg * _DEG, delivery.path_deg * _DEG
    loft, face = delivery.loft_deg * _DEG, delivery.face_deg * _DEG
    toe, up = delivery.strike_toe_mm * 1e-3, delivery.strike_up_mm * 1e-3
    speed = delivery.club_speed_mps

    centre_axes = _face_axes(loft, face)
    normal0, toe0, up0 = centre_axes
    normal, toeward, upface = _face_axes(
        loft + up / head.roll_radius_m, face + toe / head.bulge_radius_m
    )

    # The head turns shut through impact, so a point nearer the toe closes faster on the ball; and
    # it turns upward, so a higher point closes more slowly.
    level = speed * np.cos(attack)
    closing = (
        Vector(level * np.cos(path), -level * np.sin(path), speed * np.sin(attack))
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
    restitution = np.maximum(
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
    rub = np.sqrt(stick_t**2 + stick_u**2 + TINY**2)
    slipping = rub > parameters.face_friction * stick_n
    along_t, along_u = (
        parameters.face_friction * stick_t / rub,
        parameters.face_friction * stick_u / rub,
    )
    slide_n = push / (k_nn + k_nt * along_t + k_nu * along_u)
    impulse_n = np.where(slipping, slide_n, stick_n)
    impulse_t = np.where(slipping, along_t * slide_n, stick_t)
    impulse_u = np.where(slipping, along_u * slide_n, stick_u)
    impulse = normal.times(impulse_n).plus(toeward.times(impulse_t)).plus(upface.times(impulse_u))
    return Strike(
        impulse, normal, toeward, upface, centre_axes, arm, closing, restitution, slipping
    )


def ball_after(contact: Strike) -> BallLaunch:
    """Return the ball's launch from the impulse it was given.

    Spin is the part across the flight direction; a turn about the flight direction itself
    (rifle spin, a few rpm) makes no lift and is left out.
    """
    velocity = contact.impulse.times(1.0 / BALL_MASS_KG)
    spin = contact.normal.cross(contact.impulse).times(
        -1.0 / (SPHERE * BALL_MASS_KG * BALL_RADIUS_M)
    )
    level = np.sqrt(velocity.x**2 + velocity.y**2 + TINY**2)
    speed = np.sqrt(velocity.x**2 + velocity.y**2 + velocity.z**2 + TINY**2)
    # Spin about the level axis pointing left is topspin; about the axis up from the flight
    # direction it turns the ball toward the closed side.
    about_left = (velocity.x * spin.y - velocity.y * spin.x) / level
    about_up = (
        -velocity.z * (velocity.x * spin.x + velocity.y * spin.y) / level + level * spin.z
    ) / speed
    return BallLaunch(
        ball_speed_mps=speed,
        launch_deg=np.arctan2(velocity.z, level) / _DEG,
        spin_rpm=np.sqrt(about_left**2 + about_up**2 + TINY**2) / _RPM,
        axis_deg=np.arctan2(-about_up, -about_left) / _DEG,
        side_deg=np.arctan2(-velocity.y, velocity.x) / _DEG,
    )
