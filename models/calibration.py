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
lift and the flight's shape are so entangled that it would crawl in their own.
"""

import numpy as np
import pymc as pm
import pytensor.tensor as pt

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


def build_calibration_model(data: CalibrationData) -> pm.Model:
    """Return the unsampled model; it reads nothing but its argument."""
    middle, prior_covariance = calibration_prior()
    flights, constants = len(FLIGHT_CONSTANTS), len(CONSTANTS)
    top, covariance = mode(data)
    factor = np.linalg.cholesky(covariance)
    whiten = np.linalg.inv(np.linalg.cholesky(prior_covariance))
    own = np.array([IMPACT_CONSTANTS.index(name) for name in OFFSETS])
    by_offset = data.slope[:, :, own] * OFFSET_SCALE
    impact_slope = np.concatenate([data.slope, data.bias_slope], axis=2)
    coords = {
        "constant": list(CONSTANTS),
        "offset": list(OFFSETS),
        "player": list(data.players),
        "impact_trait": list(IMPACT_TRAITS),
    }
    with pm.Model(coords=coords) as model:
        white = pm.Flat("white", shape=len(top))
        found = top + pt.dot(factor, white)
        theta = pm.Deterministic("theta", found[:constants], dims="constant")
        bias = found[constants:]
        prior = pt.sum(pt.dot(whiten, theta - middle) ** 2) + pt.sum((bias / data.bias_sd) ** 2)
        pm.Potential("prior", -0.5 * prior)
        offset_sd = pm.HalfNormal("offset_sd", 1.0, dims="offset")
        offset_raw = pm.Normal("offset_raw", dims=("player", "offset"))
        offset = offset_sd * offset_raw
        pm.Deterministic("head", offset * OFFSET_SCALE, dims=("player", "offset"))
        residual = pm.HalfNormal("residual", 1.0, dims="impact_trait")
        carry_residual = pm.HalfNormal("carry_residual", 1.0)

        away = theta - data.centre
        shared = pt.dot(impact_slope, pt.concatenate([away[flights:], bias]))
        heads = (by_offset * offset[data.player][:, None, :]).sum(axis=-1)
        spread = pt.sqrt(data.known_variance + (residual * RESIDUAL_SCALE) ** 2)
        pm.Normal("ball", data.predicted + shared + heads, spread, observed=data.observed)
        carry = data.carry_predicted + pt.dot(data.carry_slope, away[:flights])
        carry_spread = pt.sqrt(
            data.carry_known_variance + (carry_residual * CARRY_RESIDUAL_SCALE) ** 2
        )
        pm.Normal("carry", carry, carry_spread, observed=data.carry_observed)
    return model


SAMPLED = ["white", "offset_sd", "offset_raw", "residual", "carry_residual"]
"""What the sampler's report must cover; ``theta`` and ``head`` follow from it."""
