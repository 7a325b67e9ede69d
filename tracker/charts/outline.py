"""The shape of our own plain driver face in millimetres, and the regions of strikes on it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.arrays import Floats

CHI2_2 = {0.5: 1.3862943611198906, 0.9: 4.605170185988092}
"""Squared radius of a two-dimensional Normal region by its mass: -2 log(1 - mass)."""

HALF_WIDTH_MM, HALF_HEIGHT_MM = 56.0, 28.0
NECK_TOE_MM, NECK_UP_MM = (-47.0, -58.0, -66.0, -55.5), (13.0, 40.0, 40.0, 2.0)
VIEW_TOE_MM, VIEW_UP_MM = 64.0, 40.0
"""Half of what is seen of the face and around it, mm."""


@dataclass(frozen=True, slots=True)
class Normal2D:
    """The mean and covariance of a cloud of places, such as strikes: toe then up, mm and mm2."""

    mean: tuple[float, float]
    covariance: tuple[tuple[float, float], tuple[float, float]]


def face_outline() -> tuple[Floats, Floats]:
    """Return the outline of our own plain face, toe and up in mm: rounder and taller at the toe."""
    angle = np.linspace(0, 2 * np.pi, 181)
    cos, sin = np.cos(angle), np.sin(angle)
    toe = HALF_WIDTH_MM * np.sign(cos) * np.abs(cos) ** 0.8
    up = HALF_HEIGHT_MM * np.sign(sin) * np.abs(sin) ** 0.85 * (1 + 0.16 * toe / HALF_WIDTH_MM)
    return toe, up + 0.06 * toe


def ellipse(cloud: Normal2D, mass: float) -> tuple[Floats, Floats]:
    """Return the outline of the smallest region that holds ``mass`` of a Normal cloud."""
    values, vectors = np.linalg.eigh(np.asarray(cloud.covariance))
    angle = np.linspace(0, 2 * np.pi, 73)
    circle = np.stack([np.cos(angle), np.sin(angle)])
    radii = np.sqrt(np.maximum(values, 0) * CHI2_2[mass])
    points = vectors @ (radii[:, None] * circle) + np.asarray(cloud.mean)[:, None]
    return points[0], points[1]


def cloud_of_draws(across: Floats, along: Floats) -> Normal2D:
    """Return the mean and covariance of joint draws of two coordinates."""
    covariance = np.cov(np.stack([across, along]))
    return cloud_of((float(across.mean()), float(along.mean())), covariance)


def cloud_of(mean: tuple[float, float], covariance: Floats) -> Normal2D:
    """Return a cloud from a mean and a 2 x 2 covariance."""
    rows: Sequence[Sequence[float]] = covariance.tolist()
    return Normal2D(mean, ((rows[0][0], rows[0][1]), (rows[1][0], rows[1][1])))
