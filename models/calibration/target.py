"""The drive's constants learned from a squad's own balls.

Around a centre c (the mode), session means respond to the constants almost linearly:

    impact:  ball_r  ~ Normal(f_r + F_r (theta + head_p - c), known_r + residual^2)
    flight:  carry_s ~ Normal(g_s + G_s (theta - c), known_s + residual^2)
    theta    ~ Normal(prior mean, prior covariance)     shared by the squad
    head_p   ~ Normal(0, spread)                        restitution and CG height by player
    shots:   ball_i less its session's mean ~ Normal(the same of f_i + F_i (theta - c), V_i)

``ball`` is ball speed, launch and spin of a session, predicted from the club's session mean with
the player's own scatter around it (the mean of a curve is not the curve of the mean). Carry is
predicted from the measured launch, so that drag and lift are not taught by a misread club.
``known`` is reading error and what the session's true club mean leaves open: the club means are
posterior means, which makes their error one of the Berkson kind (Berkson 1950, J. Am. Stat.
Assoc. 45:164), and that does not flatten a slope as a raw misread regressor would. What all
sessions read by one method share, the method's uncertain bias, is a nuisance with a prior.

How shots differ within a session tells most of what an off-centre strike costs. That part is
Gaussian in theta and the biases alone, worked out beforehand, and stands with their prior.

The sampler works in the constants of the players' average head, theta + mean head, since balls
tell of that and not of the two apart, and in coordinates whitened by the linear model's covariance
at the mode: drag, lift and the flight's shape are so entangled that it would crawl in their own.
What is sampled is a ``LogDensity`` worked by hand; ``tests/reference`` states the same model in
PyMC.
"""

from collections.abc import Mapping

import numpy as np

from models.arrays import Floats, Indices
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
    mode,
)
from models.calibration.density import FIELDS, callback, log_density, packed_rows
from models.sampling.packing import packed
from models.sampling.sampler import Compiled, LogDensity

SAMPLED = ("white", "offset_sd", "head", "residual", "carry_residual")
"""What the sampler's report must cover; constants and heads follow from it."""

USUAL_SDS = (0.25, 0.3)
"""Heads' and residual SDs, in units of their scales, at which coordinates are chosen."""


def calibration_target(data: CalibrationData) -> LogDensity:
    """Return what is sampled; heads and SDs are named in units of their half-normal scales.

    A head that the balls tell is sampled as it is, one that they leave open over its SD, and what
    lies between as far between (Papaspiliopoulos, Roberts & Skold 2007, Stat. Sci. 22:59): else one
    of the two would hold up the SD. Given the SDs all else is normal: it is sampled in the
    coordinates in which that normal is the standard one at ``USUAL_SDS``.
    """
    size, offsets = len(CONSTANTS) + data.bias_sd.size, len(OFFSETS)
    players, traits = len(data.players), len(IMPACT_TRAITS)
    sizes, rows = (size, offsets, traits), packed_calibration(data)
    centred = np.ones((players, offsets))
    ends = np.cumsum([size, offsets, players * offsets, traits, 1])

    usual = np.zeros(int(ends[-1]))
    for place, sd in zip((slice(size, ends[1]), slice(ends[2], None)), USUAL_SDS, strict=True):
        usual[place] = np.log(sd)
    linear = np.r_[0:size, ends[1] : ends[2]]
    points = _steps(usual, linear)

    def normal() -> tuple[Floats, Floats]:
        slopes = np.stack([log_density(p, sizes, centred, rows)[1][linear] for p in points])
        precision = slopes[0] - slopes[1:]
        return slopes[0], (precision + precision.T) / 2

    left = np.diag(np.linalg.inv(normal()[1]))[size:].reshape(centred.shape)
    centred = np.clip(1.0 - left / USUAL_SDS[0] ** 2, 0.0, 1.0)
    pull, precision = normal()
    factor = np.eye(usual.size)
    factor[np.ix_(linear, linear)] = np.linalg.inv(np.linalg.cholesky(precision)).T
    usual[linear] = np.linalg.solve(precision, pull)

    def value_and_slope(x: Floats) -> tuple[float, Floats]:
        found: tuple[float, Floats] = log_density(x, sizes, centred, rows)
        return found

    def named(x: Floats) -> Mapping[str, Floats]:
        parts = np.split(x, ends[:-1], axis=-1)
        white, log_sd, heads, residual, carry_residual = parts
        offset_sd = np.exp(log_sd)
        raw = heads.reshape(*x.shape[:-1], players, offsets)
        return {
            "white": white,
            "offset_sd": offset_sd,
            "head": raw * np.exp((1.0 - centred) * log_sd[..., None, :]),
            "residual": np.exp(residual),
            "carry_residual": np.exp(carry_residual),
        }

    held = packed(FIELDS, {"sizes": sizes, "centred": centred, "rows": rows})
    return LogDensity(usual.size, value_and_slope, named, usual, factor, Compiled(callback(), held))


def _steps(start: Floats, places: Indices) -> Floats:
    """Return a point and the points one unit from it along some of its axes."""
    points = np.tile(start, (len(places) + 1, 1))
    points[np.arange(1, len(points)), places] += 1.0
    return points


def packed_calibration(data: CalibrationData) -> Floats:
    """Return the rows as the density's one data vector."""
    middle, covariance = calibration_prior()
    flights, constants = len(FLIGHT_CONSTANTS), len(CONSTANTS)
    size = constants + data.bias_sd.size
    top, factor = whitening(data)
    own = np.array([IMPACT_CONSTANTS.index(name) for name in OFFSETS])
    start = top.copy()
    start[:constants] -= data.centre
    impact = np.zeros((*data.slope.shape[:2], size))
    impact[:, :, flights:constants], impact[:, :, constants:] = data.slope, data.bias_slope
    ball = (data.observed - data.predicted - impact @ start) / RESIDUAL_SCALE
    carry = data.carry_observed - data.carry_predicted - data.carry_slope @ start[:flights]

    # Prior of the squad's constants, of biases, and what the shots say of the average head.
    to_normal = np.zeros((size, size))
    to_normal[:constants, :constants] = np.linalg.inv(np.linalg.cholesky(covariance))
    to_normal[constants:, constants:] = np.diag(1 / data.bias_sd)
    by_head = np.zeros((2 * size - flights, len(OFFSETS)))
    by_head[:size] = to_normal[:, flights + own] * OFFSET_SCALE
    shot_rows, wanted = _normals(data.shots_precision, data.shots_vector)
    shots = np.zeros((len(shot_rows), size))
    shots[:, flights:] = shot_rows
    before = np.concatenate([middle, np.zeros(data.bias_sd.size)])
    return packed_rows(
        prior_slope=np.concatenate([to_normal, shots]) @ factor,
        prior_start=np.concatenate([to_normal @ (top - before), shots @ start - wanted]),
        prior_by_head=by_head,
        player=data.player,
        ball=ball,
        ball_variance=data.known_variance / RESIDUAL_SCALE**2,
        ball_slope=(impact @ factor) / RESIDUAL_SCALE[:, None],
        by_head=data.slope[:, :, own] * OFFSET_SCALE / RESIDUAL_SCALE[:, None],
        carry=carry / CARRY_RESIDUAL_SCALE,
        carry_variance=data.carry_known_variance / CARRY_RESIDUAL_SCALE**2,
        carry_slope=data.carry_slope @ factor[:flights] / CARRY_RESIDUAL_SCALE,
    )


def _normals(precision: Floats, vector: Floats) -> tuple[Floats, Floats]:
    """Return A, b such that |A d - b|^2 is d' precision d - 2 vector' d up to a constant.

    The precision may be singular: a bias of path says nothing where the shots do not turn on it.
    """
    values, directions = np.linalg.eigh(precision)
    root = np.sqrt(np.maximum(values, 0.0))
    some = root > 1e-9 * max(float(root.max(initial=0.0)), 1e-12)
    over = np.where(some, 1.0 / np.where(some, root, 1.0), 0.0)
    return (root * some)[:, None] * directions.T, over * (directions.T @ vector)


def constants_and_heads(
    data: CalibrationData, draws: Mapping[str, Floats]
) -> tuple[Floats, Floats]:
    """Return draws of the constants (sample, 15) and of what heads differ by, (sample, player, 2).

    ``draws`` holds ``white`` and ``head``, draws first. The constants are the
    players' average head; the differences sum to 0.
    """
    top, factor = whitening(data)
    found = top + draws["white"] @ factor.T
    head = draws["head"] * OFFSET_SCALE
    return found[:, : len(CONSTANTS)], head - head.mean(axis=1, keepdims=True)


def whitening(data: CalibrationData) -> tuple[Floats, Floats]:
    """Return the mode of constants and biases and the Cholesky factor of their covariance."""
    top, covariance = mode(data)
    return top, np.linalg.cholesky(covariance)
