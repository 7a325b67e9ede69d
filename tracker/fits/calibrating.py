"""How a squad's balls answer to the drive's constants: predictions, slopes, what was learned."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.arrays import Bools, Floats, Indices
from models.calibration.data import (
    CONSTANTS,
    FLIGHT_CONSTANTS,
    IMPACT_CONSTANTS,
    IMPACT_TRAITS,
    OFFSETS,
    CalibrationData,
    calibration_prior,
    mode,
)
from models.drive.air import Air, air_at
from models.drive.flight import fly
from models.drive.impact import BallLaunch, Delivery
from models.drive.impact_facts import impact_facts
from models.drive.parameters import DriveParameters, default_parameters, draw_parameters
from models.traits import DELIVERY, TRAITS
from tracker.fits.ball_rows import GROSS, MAD_TO_SD, BallRows, ball_of, impact_traits
from tracker.posterior import FACT, Fit

ROUNDS = 2
"""Times that slopes are taken; taken anew at the mode they change carry by some cm."""
UNMODELLED = 4.0
"""What the impact leaves out of a head (its inertia, the depth of its weight) is the same in all
shots, so that their number promises too much: they count a quarter. Over five invented heads the
SDs of closure, pitch and fall-off were else 2.2 times too small."""
STEPS: Mapping[str, float] = {
    "restitution": 0.004,
    "tangential_restitution": 0.02,
    "gear_gain": 0.05,
    "cg_height_m": 0.001,
    "restitution_falloff": 0.005,
    "closure_per_s": 10.0,
    "pitch_per_s": 10.0,
}
"""Half-widths of the central differences of the impact, by constant."""


def calibration_data(rows: BallRows, players: tuple[str, ...]) -> CalibrationData:
    """Return the linearised rows at the mode of the constants."""
    centre, _ = calibration_prior()
    data = _linearised(rows, players, centre)
    for _ in range(ROUNDS - 1):
        data = _linearised(rows, players, mode(data)[0][: len(CONSTANTS)])
    return data


def _linearised(rows: BallRows, players: tuple[str, ...], centre: Floats) -> CalibrationData:
    """Return predictions and slopes of every row at ``centre``."""
    constants = dict(zip(CONSTANTS, centre.tolist(), strict=True))
    base = DriveParameters(**constants)
    cloud = rows.cloud
    shots = impact_traits(ball_of(cloud, base))
    slope = np.empty((*shots.shape, len(IMPACT_CONSTANTS)))
    for j, name in enumerate(IMPACT_CONSTANTS):
        step = STEPS[name]
        up, down = (
            DriveParameters(**{**constants, name: constants[name] + e}) for e in (step, -step)
        )
        moved = impact_traits(ball_of(cloud, up)) - impact_traits(ball_of(cloud, down))
        slope[..., j] = moved / (2 * step)
    bias_slope = _bias_slope(rows, cloud, base)
    precision, vector = _within(rows, shots, slope, bias_slope, base)
    flown = np.flatnonzero(np.isfinite(rows.carry))
    carry, carry_slope, carry_variance = _carries(rows, flown, constants)
    return CalibrationData(
        players=players,
        centre=centre,
        player=rows.player,
        observed=rows.means(rows.ball),
        predicted=rows.means(shots),
        known_variance=_from_reading(rows) + _from_club(rows, cloud, base),
        slope=_means_of(rows, slope),
        carry_observed=rows.carry[flown],
        carry_predicted=carry,
        carry_known_variance=rows.carry_variance[flown] + carry_variance,
        carry_slope=carry_slope,
        bias_slope=_means_of(rows, bias_slope),
        bias_sd=rows.bias_sd,
        shots_precision=precision,
        shots_vector=vector,
    )


def _ball_mean(rows: BallRows, cloud: Floats, parameters: DriveParameters) -> Floats:
    """Return the mean of ``IMPACT_TRAITS`` over each session's shots, (R, 3)."""
    return rows.means(impact_traits(ball_of(cloud, parameters)))


def _from_reading(rows: BallRows) -> Floats:
    """Return the variance of a session's ball means that reading errors leave, (R, 3)."""
    reading2 = np.array([TRAITS[name].reading_sd ** 2 for name in IMPACT_TRAITS])
    counts = np.stack(
        [np.bincount(rows.row, rows.kept[:, i], len(rows.player)) for i in range(3)], axis=1
    )
    return np.asarray(reading2 / counts)


def _from_club(rows: BallRows, cloud: Floats, parameters: DriveParameters) -> Floats:
    """Return the variance that the session's open club mean puts on its ball means, (R, 3)."""
    total = np.zeros((len(rows.player), len(IMPACT_TRAITS)))
    for i in range(len(DELIVERY)):
        step = np.sqrt(rows.club_variance[:, i])[rows.row][:, None]
        moved = []
        for sign in (1.0, -1.0):
            shifted = cloud.copy()
            shifted[:, :, i] += sign * step
            moved.append(_ball_mean(rows, shifted, parameters))
        total += ((moved[0] - moved[1]) / 2) ** 2
    return total


def _bias_slope(rows: BallRows, cloud: Floats, parameters: DriveParameters) -> Floats:
    """Return what one unit of each method bias does to the predicted balls, (T, 3, B)."""
    slope = np.zeros((len(cloud), len(IMPACT_TRAITS), rows.bias_trait.size))
    for j, trait in enumerate(rows.bias_trait):
        moved = []
        for sign in (0.25, -0.25):
            shifted = cloud.copy()
            shifted[:, :, trait] += sign
            moved.append(impact_traits(ball_of(shifted, parameters)))
        slope[:, :, j] = (moved[0] - moved[1]) / 0.5 * rows.bias_share[rows.row, j][:, None]
    return slope


def _means_of(rows: BallRows, slope: Floats) -> Floats:
    """Return the session means of slopes, (R, 3, constants) of (T, 3, constants)."""
    return np.stack([rows.means(slope[:, :, j]) for j in range(slope.shape[2])], axis=2)


def _within(
    rows: BallRows, predicted: Floats, slope: Floats, bias_slope: Floats, base: DriveParameters
) -> tuple[Floats, Floats]:
    """Return precision and vector of what shots tell by how they differ within their session.

    Off-centre losses show from shot to shot far better than from session to session. Each shot's
    covariance is that of its readings and of what is left open of its delivery, widened by the
    robust size of what is left over; a shot grossly apart from its session is left out.
    """
    covariance = _shot_covariance(rows, base)
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    apart = rows.ball - predicted
    slopes = np.concatenate([slope, bias_slope], axis=2)
    used = rows.kept.all(axis=1)
    for _ in range(2):  # the second time without what is grossly apart
        z = np.einsum("tij,tj->ti", whiten, _from_own_mean(rows, apart, used))
        scale = MAD_TO_SD * float(np.median(np.abs(z[used]))) if used.any() else 1.0
        used = used & (np.abs(z) <= GROSS * max(scale, 1.0)).all(axis=1)
    z = np.einsum("tij,tj->ti", whiten, _from_own_mean(rows, apart, used))[used]
    away = _from_own_mean(rows, slopes.reshape(len(slopes), -1), used).reshape(slopes.shape)
    steep = (whiten @ away)[used]
    variance = UNMODELLED * max(scale, 1.0) ** 2
    return (
        np.einsum("tij,tik->jk", steep, steep) / variance,
        np.einsum("tij,ti->j", steep, z) / variance,
    )


def _from_own_mean(rows: BallRows, values: Floats, used: Bools) -> Floats:
    """Return values less their session's mean over the used shots, (T, columns)."""
    count = np.maximum(np.bincount(rows.row, used, len(rows.player)), 1)
    total = np.zeros((len(rows.player), values.shape[1]))
    np.add.at(total, rows.row[used], values[used])
    return np.asarray(values - (total / count[:, None])[rows.row])


def _shot_covariance(rows: BallRows, base: DriveParameters) -> Floats:
    """Return the covariance of each shot's ball given its posterior mean delivery, (T, 3, 3)."""
    slope = np.empty((len(rows.delivery), len(IMPACT_TRAITS), len(DELIVERY)))
    for i in range(len(DELIVERY)):
        moved = []
        for sign in (0.25, -0.25):
            shifted = rows.delivery.copy()
            shifted[:, i] += sign
            moved.append(impact_traits(ball_of(shifted[:, None, :], base)))
        slope[:, :, i] = (moved[0] - moved[1]) / 0.5
    reading2 = np.diag([TRAITS[name].reading_sd ** 2 for name in IMPACT_TRAITS])
    return np.asarray(slope @ rows.left_open @ slope.transpose(0, 2, 1) + reading2)


def _carries(
    rows: BallRows, flown: Indices, constants: Mapping[str, float]
) -> tuple[Floats, Floats, Floats]:
    """Return mean carry from the measured launches, slopes by constants, and reading variance."""
    base = DriveParameters(**constants)
    steps = {"drag_factor": 0.01, "lift_factor": 0.02}
    carry, slope = np.empty(len(flown)), np.empty((len(flown), len(FLIGHT_CONSTANTS)))
    variance = np.empty(len(flown))
    weather = np.stack([rows.temperature_c[flown], rows.altitude_m[flown]], axis=1)
    for (temperature, altitude), mine in _alike(weather):
        air = air_at(temperature_c=temperature, altitude_m=altitude)
        balls = [rows.launches[flown[i]].ball for i in mine]
        together, ends = _joined(balls)

        def carries(
            parameters: DriveParameters, ball: BallLaunch = together, air: Air = air
        ) -> Floats:
            flight = fly(ball, air, parameters.flight_shape(), parameters.flight_constants())
            return np.atleast_1d(flight.carry_m)

        def row_means(values: Floats, ends: Indices = ends) -> Floats:
            return np.asarray(np.add.reduceat(values, ends[:-1]) / np.diff(ends))

        middle = carries(base)
        carry[mine] = row_means(middle)
        for j, name in enumerate(FLIGHT_CONSTANTS):
            step = steps.get(name, 0.02 * abs(constants[name]))
            up, down = (
                carries(DriveParameters(**{**constants, name: constants[name] + e}))
                for e in (step, -step)
            )
            slope[mine, j] = row_means(up - down) / (2 * step)
        error2 = np.zeros(len(middle))
        for name in IMPACT_TRAITS:
            nudged = _nudged(together, name, TRAITS[name].reading_sd)
            error2 += (carries(base, nudged) - middle) ** 2
        variance[mine] = row_means(error2) / np.diff(ends)
    return carry, slope, variance


def _alike(weather: Floats) -> Iterator[tuple[Floats, Indices]]:
    """Yield each weather with the rows that had it, so that their balls fly together."""
    kinds, which = np.unique(weather, axis=0, return_inverse=True)
    for k, kind in enumerate(kinds):
        yield kind, np.flatnonzero(which.ravel() == k)


def _joined(balls: Sequence[BallLaunch]) -> tuple[BallLaunch, Indices]:
    """Return the launches of several rows in one, and where each row's begin and the last end."""
    sizes = [np.size(ball.ball_speed_mps) for ball in balls]
    whole = {
        f: np.concatenate(
            [np.broadcast_to(getattr(b, f), n) for b, n in zip(balls, sizes, strict=True)]
        )
        for f in BallLaunch.__dataclass_fields__
    }
    return BallLaunch(**whole), np.cumsum([0, *sizes])


def _nudged(ball: BallLaunch, name: str, by: float) -> BallLaunch:
    values = {f: getattr(ball, f) for f in ball.__dataclass_fields__}
    return BallLaunch(**{**values, name: values[name] + by})


def squad_delivery(fit: Fit) -> Floats:
    """Return the squad's mean delivery at the last sessions, in the order of ``DELIVERY``."""
    now = [np.stack(list(fit.squad(trait).levels.values()), axis=1) for trait in DELIVERY]
    return np.array([float(levels.astype(np.float32).mean()) for levels in now])


def facts_of(fit: Fit, physics: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return what the balls tell of the impact at the squad's mean delivery, as a fit keeps it.

    Players' own heads are averaged.
    """
    mean: dict[str, Any] = {
        name: v if v.ndim == 1 else v.mean(axis=1) for name, v in physics.items()
    }
    delivery = Delivery(**dict(zip(DELIVERY, squad_delivery(fit).tolist(), strict=True)))
    found = impact_facts(delivery, DriveParameters(**mean))
    return {FACT + name: values for name, values in found.items()}


def session_predictions(
    rows: BallRows, players: Sequence[DriveParameters]
) -> tuple[Floats, Floats]:
    """Return ball means (R, 3) and mean carry (R,) predicted from the club alone.

    ``players`` holds each player's own constants as plain numbers.
    """
    cloud = rows.cloud
    shots = np.empty((len(cloud), len(IMPACT_TRAITS)))
    carries = np.empty(len(rows.player))
    for r, p in enumerate(rows.player):
        mine, own = rows.row == r, players[p]
        ball = ball_of(cloud[mine], own)
        shots[mine] = impact_traits(ball)
        air = air_at(temperature_c=rows.temperature_c[r], altitude_m=rows.altitude_m[r])
        flown = fly(ball, air, own.flight_shape(), own.flight_constants())
        carries[r] = float(flown.carry_m.mean())
    return rows.means(shots), carries


def calibrated_physics(theta: Floats, head: Floats, rng: np.random.Generator) -> dict[str, Floats]:
    """Return draws of the constants by name as a fit keeps them, (sample,) or (sample, player).

    ``theta`` (sample, 15) is in the order of ``CONSTANTS``, ``head`` (sample, player, 2) in that
    of ``OFFSETS``. The turf is not learned: its draws are the prior's.
    """
    physics = {name: theta[:, i] for i, name in enumerate(CONSTANTS)}
    for j, name in enumerate(OFFSETS):
        physics[name] = physics[name][:, None] + head[:, :, j]
    turf = draw_parameters(len(theta), rng)
    physics["turf_tilt_factor"] = np.asarray(turf.turf_tilt_factor, dtype=np.float64)
    physics["roll_friction_factor"] = np.asarray(turf.roll_friction_factor, dtype=np.float64)
    return physics


def ball_table(
    rows: BallRows, physics: Mapping[str, Floats], players: int
) -> dict[str, NDArray[np.generic]]:
    """Return session means read and predicted as a fit keeps them; see ``ball_checks``."""
    own = [
        DriveParameters(
            **{n: float(v.mean() if v.ndim == 1 else v[:, p].mean()) for n, v in physics.items()}
        )
        for p in range(players)
    ]
    ball, carry = session_predictions(rows, own)
    plain_ball, plain_carry = session_predictions(rows, [default_parameters()] * players)
    error = np.sqrt(_from_reading(rows))
    names = (*IMPACT_TRAITS, "carry_m")
    columns = {
        "observed": np.column_stack([rows.means(rows.ball), rows.carry]),
        "predicted": np.column_stack([ball, carry]),
        "uncalibrated": np.column_stack([plain_ball, plain_carry]),
        "standard_error": np.column_stack([error, np.sqrt(rows.carry_variance)]),
    }
    seen = np.isfinite(columns["observed"])
    table: dict[str, NDArray[np.generic]] = {name: v[seen] for name, v in columns.items()}
    shape = seen.shape
    table["trait"] = np.broadcast_to(np.array(names), shape)[seen]
    table["player"] = np.broadcast_to(rows.player[:, None], shape)[seen]
    table["session"] = np.broadcast_to(rows.session[:, None], shape)[seen]
    return table
