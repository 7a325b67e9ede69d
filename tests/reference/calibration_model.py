"""The calibration of ``models.calibration.target`` stated in PyMC, term by term.

Nothing samples it: it is the specification that the hand-written density is tested against.
"""

import numpy as np
import pymc as pm
import pytensor.tensor as pt

from models.calibration.data import (
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
)
from models.calibration.target import whitening


def build_calibration_model(data: CalibrationData) -> pm.Model:
    """Return the unsampled model; heads and SDs are in units of their half-normal scales."""
    top, factor = whitening(data)
    middle, covariance = calibration_prior()
    flights, constants = len(FLIGHT_CONSTANTS), len(CONSTANTS)
    coords = {"player": list(data.players), "offset": list(OFFSETS)}
    coords |= {"impact_trait": list(IMPACT_TRAITS)}
    with pm.Model(coords=coords) as model:
        white = pm.Flat("white", shape=len(top))
        offset_sd = pm.HalfNormal("offset_sd", 1.0, dims="offset")
        offset_raw = pm.Normal("offset_raw", dims=("player", "offset"))
        residual = pm.HalfNormal("residual", 1.0, dims="impact_trait")
        carry_residual = pm.HalfNormal("carry_residual", 1.0, shape=1)

        found = top + factor @ white
        average, bias = found[:constants], found[constants:]
        own = [CONSTANTS.index(name) for name in OFFSETS]
        head = offset_sd * offset_raw * OFFSET_SCALE
        theta = pt.inc_subtensor(average[own], -head.mean(axis=0))
        prior = pm.MvNormal.dist(middle, covariance)
        pm.Potential("constants", pm.logp(prior, theta))
        if data.bias_sd.size:
            pm.Potential("biases", pm.logp(pm.Normal.dist(0.0, data.bias_sd), bias).sum())
        moved = average - data.centre
        impact = pm.math.concatenate([moved[flights:], bias])
        pm.Potential(
            "shots",
            data.shots_vector @ impact - 0.5 * (impact @ data.shots_precision @ impact),
        )
        apart = head - head.mean(axis=0)
        own = [IMPACT_CONSTANTS.index(name) for name in OFFSETS]
        ball = (
            data.predicted
            + pm.math.dot(np.concatenate([data.slope, data.bias_slope], axis=2), impact)
            + (data.slope[:, :, own] * apart[data.player][:, None, :]).sum(axis=2)
        )
        ball_sd = pm.math.sqrt(data.known_variance + (residual * RESIDUAL_SCALE) ** 2)
        pm.Normal("ball", ball, ball_sd, observed=data.observed)
        carry = data.carry_predicted + pm.math.dot(data.carry_slope, moved[:flights])
        known = data.carry_known_variance
        carry_sd = pm.math.sqrt(known + (carry_residual * CARRY_RESIDUAL_SCALE) ** 2)
        pm.Normal("carry_m", carry, carry_sd, observed=data.carry_observed)
    return model
