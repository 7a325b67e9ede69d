"""One drive from the club's delivery to the ball at rest, for a few drives or for clouds of them.

``drive`` and ``fly`` check their inputs and integrate every flight; ``drive_cloud`` takes the
same impact exactly, row by row with the row's own parameters, and looks the flight up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from models.air import Air, air_at
from models.drive_parameters import DriveParameters, default_parameters
from models.errors import DriveInputError, require_range
from models.flight import ROW, STEP_S, fly_rows, launch_rows, launch_shape, shape_rows
from models.flight_table import flight_table
from models.ground import run_rows, turf_named
from models.heads import STANDARD, Head
from models.impact import BallLaunch, Delivery, impact

__all__ = [
    "BallLaunch",
    "Conditions",
    "Delivery",
    "Drive",
    "Head",
    "drive",
    "drive_cloud",
    "fly",
]

type Floats = NDArray[np.float64]

DELIVERY_RANGES: Final[Mapping[str, tuple[float, float, str]]] = {
    "club_speed_mps": (10.0, 80.0, "m/s"),
    "attack_deg": (-20.0, 20.0, "degrees"),
    "loft_deg": (0.0, 35.0, "degrees"),
    "path_deg": (-25.0, 25.0, "degrees"),
    "face_deg": (-25.0, 25.0, "degrees"),
    "strike_toe_mm": (-50.0, 50.0, "mm"),
    "strike_up_mm": (-30.0, 30.0, "mm"),
}
"""What a driver can deliver: name, least, most, unit; the strike must be on the face."""

BALL_RANGES: Final[Mapping[str, tuple[float, float, str]]] = {
    "ball_speed_mps": (5.0, 110.0, "m/s"),
    "launch_deg": (-10.0, 50.0, "degrees"),
    "spin_rpm": (0.0, 15_000.0, "rpm"),
    "axis_deg": (-90.0, 90.0, "degrees"),
    "side_deg": (-45.0, 45.0, "degrees"),
}

_BLOCK_ROWS: Final = 4096  # temporaries of one block stay in the processor's cache


@dataclass(frozen=True, slots=True)
class Conditions:
    """Weather and turf; ``humidity`` 0 to 1, crosswind + toward the open-face side.

    ``pressure_pa``, where measured, takes the place of the standard pressure at the altitude.
    """

    temperature_c: float = 20.0
    altitude_m: float = 0.0
    humidity: float = 0.5
    pressure_pa: float | None = None
    tailwind_mps: float = 0.0
    crosswind_mps: float = 0.0
    turf: str = "average"

    def __post_init__(self) -> None:
        require_range("tailwind_mps", self.tailwind_mps, -30.0, 30.0, "m/s")
        require_range("crosswind_mps", self.crosswind_mps, -30.0, 30.0, "m/s")
        turf_named(self.turf)
        _air_of(self.temperature_c, self.altitude_m, self.humidity, self.pressure_pa)

    @property
    def air(self) -> Air:
        """Return the air of these conditions."""
        return _air_of(self.temperature_c, self.altitude_m, self.humidity, self.pressure_pa)

    @property
    def is_calm(self) -> bool:
        """Say whether there is no wind at all."""
        return self.tailwind_mps == 0.0 and self.crosswind_mps == 0.0


@lru_cache(maxsize=256)
def _air_of(
    temperature_c: float, altitude_m: float, humidity: float, pressure_pa: float | None
) -> Air:
    return air_at(temperature_c, altitude_m, humidity, pressure_pa)


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """What the ball did, each entry an array of the inputs' broadcast shape.

    ``side_m`` is where it lands and ``rest_side_m`` where it stops, + toward the open-face side;
    ``total_m`` is the straight line from the tee to where it stops. ``run_m`` is along the
    landing direction, negative when the ball spins back.
    """

    ball_speed_mps: Floats
    launch_deg: Floats
    side_deg: Floats
    spin_rpm: Floats
    axis_deg: Floats
    carry_m: Floats
    run_m: Floats
    total_m: Floats
    side_m: Floats
    rest_side_m: Floats
    apex_m: Floats
    land_angle_deg: Floats
    hang_s: Floats

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers by name (lists where there are several drives)."""
        return {f.name: np.asarray(getattr(self, f.name)).tolist() for f in fields(self)}


def drive(
    delivery: Delivery,
    conditions: Conditions = Conditions(),
    head: Head = STANDARD,
    parameters: DriveParameters | None = None,
) -> Drive:
    """Return what the ball does for every delivery; all inputs broadcast.

    Raises ``DriveInputError`` for an input outside ``DELIVERY_RANGES``.
    """
    _check(delivery, DELIVERY_RANGES)
    parameters = parameters or default_parameters()
    return _land(impact(delivery, parameters, head), conditions, parameters, exact=True)


def fly(
    ball: BallLaunch,
    conditions: Conditions = Conditions(),
    parameters: DriveParameters | None = None,
) -> Drive:
    """Return flight and run of every launch.

    Raises ``DriveInputError`` for an input outside ``BALL_RANGES``.
    """
    _check(ball, BALL_RANGES)
    return _land(ball, conditions, parameters or default_parameters(), exact=True)


def drive_cloud(
    delivery: Delivery,
    parameters: DriveParameters | None = None,
    conditions: Conditions = Conditions(),
    head: Head = STANDARD,
) -> Drive:
    """Return a cloud of drives, such as deliveries (draws, shots) with parameters (draws, 1).

    A strike past the edge of the face counts as at the edge: a posterior's tail may go there.
    In wind there is no table and every flight is integrated. Raises ``DriveInputError`` for a
    delivery that is not a number.
    """
    parameters = parameters or default_parameters()
    outer = np.broadcast_shapes(*(np.shape(getattr(delivery, f.name)) for f in fields(delivery)))
    outer = np.broadcast_shapes(outer, parameters.shape)
    for name in DELIVERY_RANGES:
        values = np.asarray(getattr(delivery, name), dtype=np.float64)
        if not np.isfinite(values).all():
            found = f"{values[~np.isfinite(values)].flat[0]:g}"
            raise DriveInputError(name, found, "numbers without gaps")
    edge = {
        name: np.clip(getattr(delivery, name), *DELIVERY_RANGES[name][:2])
        for name in ("strike_toe_mm", "strike_up_mm")
    }
    delivery = replace(delivery, **edge)
    if not outer:
        return _land(impact(delivery, parameters, head), conditions, parameters, exact=False)

    per_block = max(1, _BLOCK_ROWS // math.prod(outer[1:]))
    results = {f.name: np.empty(outer) for f in fields(Drive)}
    for start in range(0, outer[0], per_block):
        block = slice(start, start + per_block)
        part = _land(
            impact(_block(delivery, outer, block), _block(parameters, outer, block), head),
            conditions,
            _block(parameters, outer, block),
            exact=False,
        )
        for name, array in results.items():
            array[block] = getattr(part, name)
    return Drive(**results)


def _block[T: (Delivery, DriveParameters)](inputs: T, outer: tuple[int, ...], block: slice) -> T:
    """Return the inputs with those that vary along the first axis cut to the block."""
    cut = {}
    for f in fields(inputs):
        value = getattr(inputs, f.name)
        if np.ndim(value) == len(outer) and np.shape(value)[0] == outer[0] > 1:
            cut[f.name] = value[block]
    return replace(inputs, **cut)


def _check(inputs: Delivery | BallLaunch, ranges: Mapping[str, tuple[float, float, str]]) -> None:
    for name, (low, high, unit) in ranges.items():
        require_range(name, getattr(inputs, name), low, high, unit)


def _land(
    ball: BallLaunch, conditions: Conditions, parameters: DriveParameters, *, exact: bool
) -> Drive:
    """Return flight and run; look the flight up unless ``exact`` or wind forbids it."""
    shape = parameters.flight_shape()
    outer = np.broadcast_shapes(launch_shape(ball), parameters.shape)
    launch = launch_rows(ball, outer)
    constants, air = parameters.flight_constants(), conditions.air
    if exact or not conditions.is_calm:
        rows = np.empty((len(launch), len(ROW)))
        wind = (conditions.tailwind_mps, conditions.crosswind_mps, 0.0)
        shapes = shape_rows(shape, outer)
        fly_rows(launch, shapes, constants, air.density, air.viscosity, wind, STEP_S, rows)
    else:
        shapes, rows_per_shape = _grouped(shape, outer)
        rows = flight_table(air, constants).rows(launch, shapes, rows_per_shape)

    x, y, apex, hang, v_x, v_y, v_z, spin = rows.T
    level = np.hypot(v_x, v_y)
    # Only the spin about the level axis grips the turf; side spin turns on the spot.
    landing = np.stack([level, -v_z, spin * np.cos(launch[:, 4])], axis=-1)
    run = np.empty(len(rows))
    run_rows(landing, _ground_rows(conditions, parameters, outer), parameters.turf_friction, run)
    reach = run / np.maximum(level, 1e-9)
    rest_x, rest_y = x + reach * v_x, y + reach * v_y

    def shaped(value: Any) -> Floats:
        return np.asarray(value, dtype=np.float64).reshape(outer)

    def spread(value: Any) -> Floats:
        return np.array(np.broadcast_to(value, outer), dtype=np.float64)

    return Drive(
        ball_speed_mps=spread(ball.ball_speed_mps),
        launch_deg=spread(ball.launch_deg),
        side_deg=spread(ball.side_deg),
        spin_rpm=spread(ball.spin_rpm),
        axis_deg=spread(ball.axis_deg),
        carry_m=shaped(np.hypot(x, y)),
        run_m=shaped(run),
        total_m=shaped(np.hypot(rest_x, rest_y)),
        side_m=shaped(y),
        rest_side_m=shaped(rest_y),
        apex_m=shaped(apex),
        land_angle_deg=shaped(np.degrees(np.arctan2(-v_z, level))),
        hang_s=shaped(hang),
    )


def _grouped(shape: Floats, outer: tuple[int, ...]) -> tuple[Floats, int]:
    """Return flight shapes as rows, and how many launches in turn share each."""
    rows = math.prod(outer)
    last = shape.shape[-1]
    if shape.size == last:
        return shape.reshape(1, last), max(rows, 1)
    leading = shape.shape[:-1]
    if len(leading) == len(outer) and leading[0] == outer[0] and math.prod(leading[1:]) == 1:
        return shape.reshape(-1, last), rows // outer[0]
    return shape_rows(shape, outer), 1


def _ground_rows(
    conditions: Conditions, parameters: DriveParameters, outer: tuple[int, ...]
) -> Floats:
    turf = turf_named(conditions.turf)
    tilt = np.multiply(parameters.turf_tilt_factor, math.radians(turf.tilt_deg))
    roll = np.multiply(parameters.roll_friction_factor, turf.roll_friction)
    if np.ndim(tilt) == 0 and np.ndim(roll) == 0:
        return np.array([[tilt, roll]])
    rows = np.empty((math.prod(outer), 2))
    rows[:, 0] = np.broadcast_to(tilt, outer).ravel()
    rows[:, 1] = np.broadcast_to(roll, outer).ravel()
    return rows
