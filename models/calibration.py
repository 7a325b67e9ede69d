"""The drive's constants learned from a squad's own balls.

Around a centre c (the mode), session means respond to the constants almost linearly:

    impact:  ball_r  ~ Normal(f_r + F_r (theta + head_p - c), known_r + residual^2)
    flight:  carry_s ~ Normal(g_s + G_s (theta - c), known_s + residual^2)
    theta    ~ Normal(prior mean, prior covariance)     shared by the squad
    head_p   ~ Normal(0, spread)                        restitution and CG height by player

``ball`` is ball speed, launch and spin of a session, predicted from the club's session mean with
the player's own scatter around it (the mean of a curve is not the curve of the mean). Carry is
predicted from the measured launch, so that drag and lift are not taught by a misread club.
``known`` is reading error and what the session's true club mean leaves open: the club means are
posterior means, which makes their error one of the Berkson kind (Berkson 1950, J. Am. Stat.
Assoc. 45:164), and that does not flatten a slope as a raw misread regressor would. What all
sessions read by one method share, the method's uncertain bias, is a nuisance with a prior.

The sampler works in coordinates whitened by the linear model's covariance at the mode: drag,
lift and the flight's shape are so entangled that it would crawl in their own. The model itself
knows only how many players and biases there are, so that it can be compiled before any ball is
read; the rows are its one data variable.
"""

from collections.abc import Mapping

import numpy as np
import pymc as pm
from numpy.typing import NDArray

from models.calibration_data import (
    CARRY_RESIDUAL_SCALE,
    CONSTANTS,
    FLIGHT_CONSTANTS,
    IMPACT_CONSTANTS,
    IMPACT_TRAITS,
    OFFSET_SCALE,
    OFFSETS,
    RESIDUAL_SCALE,
    CalibrationData,
    calibration_prior,
    mode,
)
from models.calibration_density import calibration_density_op, packed_rows

Floats = NDArray[np.float64]

SAMPLED = ["white", "offset_sd", "offset_raw", "residual", "carry_residual"]
"""What the sampler's report must cover; constants and heads follow from it."""


def build_calibration_model(players: int, biases: int, rows: Floats | None = None) -> pm.Model:
    """Return the unsampled model for so many players and biases.

    Without ``rows`` it holds none yet: compile it, then give it ``packed_calibration`` data.
    """
    size = len(CONSTANTS) + biases
    if rows is None:
        rows = np.zeros(2 + size * size + size)
    coords = {"offset": list(OFFSETS), "impact_trait": list(IMPACT_TRAITS)}
    with pm.Model(coords=coords) as model:
        white = pm.Flat("white", shape=size)
        offset_sd = pm.HalfNormal("offset_sd", 1.0, dims="offset")
        offset_raw = pm.Normal("offset_raw", shape=(players, len(OFFSETS)))
        residual = pm.HalfNormal("residual", 1.0, dims="impact_trait")
        carry_residual = pm.HalfNormal("carry_residual", 1.0, shape=1)
        found = calibration_density_op(
            white, offset_sd, offset_raw, residual, carry_residual, pm.Data("rows", rows)
        )
        pm.Potential("balls", found[0])
    return model


def packed_calibration(data: CalibrationData, biases: int) -> Floats:
    """Return the rows as the model's data vector; biases beyond those there are mean nothing."""
    middle, prior_covariance = calibration_prior()
    flights, constants = len(FLIGHT_CONSTANTS), len(CONSTANTS)
    known = constants + data.bias_sd.size
    size = constants + biases
    if size < known:
        msg = f"room for {biases} method biases, but the rows have {data.bias_sd.size}"
        raise ValueError(msg)
    top, factor = _whitening(data)
    own = np.array([IMPACT_CONSTANTS.index(name) for name in OFFSETS])
    start = top.copy()
    start[:constants] -= data.centre
    impact = np.zeros((*data.slope.shape[:2], known))
    impact[:, :, flights:constants], impact[:, :, constants:] = data.slope, data.bias_slope
    ball = (data.observed - data.predicted - impact @ start) / RESIDUAL_SCALE
    carry = data.carry_observed - data.carry_predicted - data.carry_slope @ start[:flights]
    to_normal = np.zeros((known, known))
    to_normal[:constants, :constants] = np.linalg.inv(np.linalg.cholesky(prior_covariance))
    to_normal[constants:, constants:] = np.diag(1 / data.bias_sd)
    prior_slope, prior_start = np.eye(size), np.zeros(size)
    prior_slope[:known, :known] = to_normal @ factor
    prior_start[:known] = to_normal @ (top - np.concatenate([middle, np.zeros(data.bias_sd.size)]))
    ball_slope = np.zeros((*data.slope.shape[:2], size))
    ball_slope[..., :known] = (impact @ factor) / RESIDUAL_SCALE[:, None]
    carry_slope = np.zeros((len(carry), size))
    carry_slope[:, :known] = data.carry_slope @ factor[:flights] / CARRY_RESIDUAL_SCALE
    return packed_rows(
        prior_slope=prior_slope,
        prior_start=prior_start,
        player=data.player,
        ball=ball,
        ball_variance=data.known_variance / RESIDUAL_SCALE**2,
        ball_slope=ball_slope,
        by_head=data.slope[:, :, own] * OFFSET_SCALE / RESIDUAL_SCALE[:, None],
        carry=carry / CARRY_RESIDUAL_SCALE,
        carry_variance=data.carry_known_variance / CARRY_RESIDUAL_SCALE**2,
        carry_slope=carry_slope,
    )


def constants_and_heads(
    data: CalibrationData, draws: Mapping[str, Floats]
) -> tuple[Floats, Floats]:
    """Return draws of the constants (sample, 12) and of what heads differ by, (sample, player, 2).

    ``draws`` holds ``white``, ``offset_sd`` and ``offset_raw``, draws first.
    """
    top, factor = _whitening(data)
    known = len(top)
    found = top + draws["white"][:, :known] @ factor.T
    head = draws["offset_sd"][:, None, :] * draws["offset_raw"] * OFFSET_SCALE
    return found[:, : len(CONSTANTS)], head


def _whitening(data: CalibrationData) -> tuple[Floats, Floats]:
    """Return the mode of constants and biases and the Cholesky factor of their covariance."""
    top, covariance = mode(data)
    return top, np.linalg.cholesky(covariance)
