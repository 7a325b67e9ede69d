"""What the drive's constants are learned from, their prior, and the linear model's mode.

The model is that of ``models.calibration.target``; this part needs no sampler.
"""

from dataclasses import dataclass

import numpy as np

from models.arrays import Floats, Indices
from models.drive.parameters import CG_HEIGHT_SD_M, SHAPE_NAMES, STRIKE_MOMENTS, prior_moments

IMPACT_CONSTANTS: tuple[str, ...] = (
    "restitution",
    "tangential_restitution",
    "gear_gain",
    "cg_height_m",
    *STRIKE_MOMENTS,
)
FLIGHT_CONSTANTS: tuple[str, ...] = (*SHAPE_NAMES, "drag_factor", "lift_factor")
CONSTANTS: tuple[str, ...] = (*FLIGHT_CONSTANTS, *IMPACT_CONSTANTS)
"""What is learned for the squad, by the field names of ``DriveParameters``."""

OFFSETS: tuple[str, ...] = ("restitution", "cg_height_m")
"""What a player's own head may differ in."""

IMPACT_TRAITS: tuple[str, ...] = ("ball_speed_mps", "launch_deg", "spin_rpm")

DRAG_SD, LIFT_SD = 0.025, 0.05
OFFSET_SCALE = np.array([0.006, 0.0015])
"""Half-normal scales of how far heads differ: restitution; CG height in m."""

RESIDUAL_SCALE = np.array([0.5, 0.5, 150.0])
CARRY_RESIDUAL_SCALE = 3.0
"""Half-normal scales of what the physics leaves unexplained in a session mean: m/s, degrees,
rpm; m."""


@dataclass(frozen=True, eq=False)
class CalibrationData:
    """Session means read and predicted at the centre, with slopes by the constants.

    R impact rows, S flight rows, B method biases. What differs within sessions is a log density
    -1/2 d' precision d + vector' d over impact constants and biases, d the distance from the
    centre and from no bias.
    """

    players: tuple[str, ...]
    centre: Floats
    """In the order of ``CONSTANTS``, (15,)."""
    player: Indices
    """(R,)."""
    observed: Floats
    """In the order of ``IMPACT_TRAITS``, (R, 3)."""
    predicted: Floats
    """The same at the centre, (R, 3)."""
    known_variance: Floats
    """(R, 3)."""
    slope: Floats
    """By ``IMPACT_CONSTANTS``, (R, 3, 7)."""
    carry_observed: Floats
    """m, (S,)."""
    carry_predicted: Floats
    carry_known_variance: Floats
    carry_slope: Floats
    """By ``FLIGHT_CONSTANTS``, (S, 8)."""
    bias_slope: Floats
    """What one unit of each method bias does to the predicted ball, (R, 3, B)."""
    bias_sd: Floats
    """How well each is known, (B,)."""
    shots_precision: Floats
    shots_vector: Floats


def calibration_prior() -> tuple[Floats, Floats]:
    """Return prior mean (15,) and covariance (15, 15) in the order of ``CONSTANTS``."""
    names, mean, covariance = prior_moments()
    own = {"drag_factor": (1.0, DRAG_SD), "lift_factor": (1.0, LIFT_SD)}
    own["cg_height_m"] = (0.0, CG_HEIGHT_SD_M)
    own |= STRIKE_MOMENTS
    middle = np.array([own[n][0] if n in own else mean[names.index(n)] for n in CONSTANTS])
    full = np.diag([own[n][1] ** 2 if n in own else 0.0 for n in CONSTANTS])
    joint = [i for i, n in enumerate(CONSTANTS) if n not in own]
    stored = [names.index(CONSTANTS[i]) for i in joint]
    full[np.ix_(joint, joint)] = covariance[np.ix_(stored, stored)]
    return middle, full


def mode(data: CalibrationData) -> tuple[Floats, Floats]:
    """Return mode and covariance of constants and method biases in the linear model.

    Residual SDs are taken at half their prior scales; offsets stay at 0. One weighted
    least-squares step: where the slopes should be taken next, and how to scale a sampler.
    """
    flights, constants = len(FLIGHT_CONSTANTS), len(CONSTANTS)
    size = constants + data.bias_sd.size
    middle, covariance = calibration_prior()
    precision, vector = np.zeros((size, size)), np.zeros(size)
    precision[:constants, :constants] = np.linalg.inv(covariance)
    precision[constants:, constants:] = np.diag(1 / data.bias_sd**2)
    vector[:constants] = precision[:constants, :constants] @ (middle - data.centre)
    precision[flights:, flights:] += data.shots_precision
    vector[flights:] += data.shots_vector
    spread = data.known_variance + (RESIDUAL_SCALE / 2) ** 2
    for b in range(len(IMPACT_TRAITS)):
        rows = np.zeros((len(data.observed), size))
        rows[:, flights:constants] = data.slope[:, b]
        rows[:, constants:] = data.bias_slope[:, b]
        weighted = rows / spread[:, b][:, None]
        precision += rows.T @ weighted
        vector += weighted.T @ (data.observed[:, b] - data.predicted[:, b])
    rows = np.zeros((len(data.carry_observed), size))
    rows[:, :flights] = data.carry_slope
    weighted = rows / (data.carry_known_variance + (CARRY_RESIDUAL_SCALE / 2) ** 2)[:, None]
    precision += rows.T @ weighted
    vector += weighted.T @ (data.carry_observed - data.carry_predicted)
    found = np.linalg.inv(precision)
    start = np.concatenate([data.centre, np.zeros(data.bias_sd.size)])
    return start + found @ vector, found
