"""What the devices say of the true shots: bias, error, gross misreads, missing readings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from synthetic_data.arrays import Bools, Floats, Indices
from synthetic_data.season import Timetable
from synthetic_data.spec import (
    BALL_READING_SD,
    BALL_TRAITS,
    DELIVERY,
    DELIVERY_METHODS,
    FACE_HALF_MM,
    GROSS_ERROR,
    READABLE,
    STRIKE,
    STRIKE_METHODS,
    TRAITS,
    AcademySpec,
)


@dataclass(frozen=True, slots=True, eq=False)
class DeviceReadings:
    """Readings (shot, trait), NaN where missing; ``misread`` marks gross errors that were kept."""

    values: Floats
    misread: Bools
    missed_face: Bools


def reading_error(season: Timetable, session_idx: Indices, rng: np.random.Generator) -> Floats:
    """Return bias plus random error of every club reading, shape (shot, trait)."""
    bias = np.zeros((len(season.day), len(TRAITS)))
    sd = np.zeros_like(bias)
    for methods, chosen, part in (
        (STRIKE_METHODS, season.strike_method, STRIKE),
        (DELIVERY_METHODS, season.delivery_method, DELIVERY),
    ):
        bias[:, part] = _by_trait([m.bias for m in methods], part)[chosen]
        sd[:, part] = _by_trait([m.sd for m in methods], part)[chosen]
    error: Floats = (
        bias[session_idx] + rng.normal(size=(len(session_idx), len(TRAITS))) * (sd[session_idx])
    )
    return error


def _by_trait(tables: Sequence[Mapping[str, float]], part: slice) -> Floats:
    return np.array([[table.get(trait, 0.0) for trait in TRAITS[part]] for table in tables])


def read_shots(
    delivered: Floats,
    error: Floats,
    flown: Floats | None,
    season: Timetable,
    session_idx: Indices,
    spec: AcademySpec,
    club: np.random.Generator,
    ball: np.random.Generator,
) -> DeviceReadings:
    """Return what is logged of every shot: the club traits, then the ball's where it flew."""
    values = delivered + error
    parts = [(STRIKE, spec.strike_missing_share), (DELIVERY, spec.delivery_missing_share)]
    names: tuple[str, ...] = TRAITS
    if flown is not None:
        names = TRAITS + BALL_TRAITS
        sd = np.array([BALL_READING_SD[t] for t in BALL_TRAITS])
        values = np.concatenate([values, flown + ball.normal(size=flown.shape) * sd], axis=1)
        parts.append((slice(len(TRAITS), len(names)), spec.ball_missing_share))

    misread = np.zeros(values.shape, dtype=bool)
    missing = np.zeros(values.shape, dtype=bool)
    for part, share in parts:
        rng = ball if part.start == len(TRAITS) else club
        size = np.array([GROSS_ERROR[t] for t in names[part]])
        wrong, gross = _gross_errors(len(values), size, spec.misread_share, rng)
        misread[:, part] = wrong
        values[:, part] += gross
        missing[:, part] = (rng.random(len(values)) < share)[:, None]

    off_face = np.hypot(delivered[:, 0] / FACE_HALF_MM[0], delivered[:, 1] / FACE_HALF_MM[1]) > 1
    has_strike = season.has_strike[session_idx]
    missed_face = off_face & has_strike & spec.missed_face_possible
    missing[:, STRIKE] |= (~has_strike | missed_face)[:, None]
    if flown is not None:
        missing[:, len(TRAITS) :] |= ~season.has_ball[session_idx][:, None]
    # A row with nothing on it would not have been logged: the club was read then.
    missing[missing.all(axis=1), DELIVERY] = False
    low, high = np.array([READABLE[t] for t in names]).T
    missing |= (values < low) | (values > high)
    values[missing] = np.nan
    return DeviceReadings(values, misread & ~missing, missed_face)


def _gross_errors(
    shots: int, size: Floats, share: float, rng: np.random.Generator
) -> tuple[Bools, Floats]:
    """Return which readings of one device are grossly wrong, and by how much (shot, trait)."""
    wrong = np.zeros((shots, len(size)), dtype=bool)
    struck = np.flatnonzero(rng.random(shots) < share)
    wrong[struck, rng.integers(0, len(size), len(struck))] = True
    error = rng.uniform(size[:, 0], size[:, 1], wrong.shape)
    sign = np.where(rng.random(wrong.shape) < 0.5, -1.0, 1.0)
    return wrong, wrong * error * sign
