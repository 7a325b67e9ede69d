"""One drive from the club's delivery to the ball at rest, for a few drives or for clouds of them.

``drive`` and ``fly`` check that their inputs are a driver's; ``drive_cloud`` takes what a posterior
gives it, row by row with the row's own parameters, in blocks. The physics is the same.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, Final, Literal, overload

import numpy as np

from models.arrays import Floats
from models.drive.air import Air, air_at
from models.drive.ball import ball_named
from models.drive.errors import DriveInputError, require_range
from models.drive.flight import STEP_S, launch_rows, launch_shape, start_rows
from models.drive.flight_lanes import ROW, fly_starts
from models.drive.ground import run_rows
from models.drive.heads import STANDARD, Head
from models.drive.impact import BallLaunch, Delivery, launch_of_rows, left_face_rows
from models.drive.impact_lanes import LEFT_FACE
from models.drive.parameters import DriveParameters, default_parameters
from models.drive.turf import turf_named

__all__ = [
    "BallLaunch",
    "Conditions",
    "Delivery",
    "Drive",
    "Head",
    "Landing",
    "drive",
    "drive_cloud",
    "fly",
]


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
    """Weather, turf and ball; ``humidity`` 0 to 1, crosswind + toward the open-face side.

    ``pressure_pa``, where measured, takes the place of the standard pressure at the altitude.
    """

    temperature_c: float = 20.0
    altitude_m: float = 0.0
    humidity: float = 0.5
    pressure_pa: float | None = None
    tailwind_mps: float = 0.0
    crosswind_mps: float = 0.0
    turf: str = "average"
    ball: str = "standard"

    def __post_init__(self) -> None:
        require_range("tailwind_mps", self.tailwind_mps, -30.0, 30.0, "m/s")
        require_range("crosswind_mps", self.crosswind_mps, -30.0, 30.0, "m/s")
        turf_named(self.turf)
        ball_named(self.ball)
        _air_of(self.temperature_c, self.altitude_m, self.humidity, self.pressure_pa)

    @property
    def air(self) -> Air:
        """Return the air of these conditions."""
        return _air_of(self.temperature_c, self.altitude_m, self.humidity, self.pressure_pa)


@lru_cache(maxsize=256)
def _air_of(
    temperature_c: float, altitude_m: float, humidity: float, pressure_pa: float | None
) -> Air:
    return air_at(temperature_c, altitude_m, humidity, pressure_pa)


@dataclass(frozen=True, slots=True, eq=False)
class Landing:
    """Where the ball comes down, without the run: see ``Drive``."""

    carry_m: Floats
    side_m: Floats
    apex_m: Floats
    land_angle_deg: Floats
    hang_s: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """What the ball did, each entry an array of the inputs' broadcast shape."""

    ball_speed_mps: Floats
    launch_deg: Floats
    side_deg: Floats
    spin_rpm: Floats
    axis_deg: Floats
    carry_m: Floats
    run_m: Floats
    """Along the landing direction, negative when the ball spins back."""
    total_m: Floats
    """The straight line from the tee to where it stops."""
    side_m: Floats
    """Where it lands, + toward the open-face side."""
    rest_side_m: Floats
    """Where it stops, likewise."""
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
    outer = _outer(delivery, parameters)
    return _rest(left_face_rows(delivery, parameters, head, outer), outer, conditions, parameters)


def fly(
    ball: BallLaunch,
    conditions: Conditions = Conditions(),
    parameters: DriveParameters | None = None,
) -> Drive:
    """Return flight and run of every launch.

    Raises ``DriveInputError`` for an input outside ``BALL_RANGES``.
    """
    _check(ball, BALL_RANGES)
    parameters = parameters or default_parameters()
    outer = np.broadcast_shapes(launch_shape(ball), parameters.shape)
    launch = launch_rows(ball, outer)
    left = np.empty((len(launch), len(LEFT_FACE)))
    left[:, :7] = start_rows(launch)
    left[:, 7], left[:, 8] = np.cos(launch[:, 4]), np.sin(launch[:, 4])
    return _rest(left, outer, conditions, parameters)


@overload
def drive_cloud(
    delivery: Delivery,
    parameters: DriveParameters | None = None,
    conditions: Conditions = ...,
    head: Head = ...,
    *,
    run: Literal[True] = True,
) -> Drive: ...


@overload
def drive_cloud(
    delivery: Delivery,
    parameters: DriveParameters | None = None,
    conditions: Conditions = ...,
    head: Head = ...,
    *,
    run: Literal[False],
) -> Landing: ...


def drive_cloud(
    delivery: Delivery,
    parameters: DriveParameters | None = None,
    conditions: Conditions = Conditions(),
    head: Head = STANDARD,
    *,
    run: bool = True,
) -> Drive | Landing:
    """Return a cloud of drives, such as deliveries (draws, shots) with parameters (draws, 1).

    Without ``run`` it ends at the landing. A strike past the edge of the face counts as at the
    edge: a posterior's tail may go there. Raises ``DriveInputError`` for a delivery that is not
    a number.
    """
    parameters = parameters or default_parameters()
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
    outer = _outer(delivery, parameters)
    finish, kind = (_rest, Drive) if run else (_landing, Landing)
    if not outer:
        left = left_face_rows(delivery, parameters, head, outer)
        return finish(left, outer, conditions, parameters)

    per_block = max(1, _BLOCK_ROWS // max(math.prod(outer[1:]), 1))
    results = {f.name: np.empty(outer) for f in fields(kind)}
    for start in range(0, outer[0], per_block):
        block = slice(start, start + per_block)
        some = _block(parameters, outer, block)
        shape = (len(range(*block.indices(outer[0]))), *outer[1:])
        left = left_face_rows(_block(delivery, outer, block), some, head, shape)
        part = finish(left, shape, conditions, some)
        for name, array in results.items():
            array[block] = getattr(part, name)
    return kind(**results)


def _outer(delivery: Delivery, parameters: DriveParameters) -> tuple[int, ...]:
    """Return the shape that a delivery and its parameters broadcast to."""
    shapes = (np.shape(getattr(delivery, f.name)) for f in fields(delivery))
    return np.broadcast_shapes(*shapes, parameters.shape)


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


def _flown(
    left: Floats, outer: tuple[int, ...], conditions: Conditions, parameters: DriveParameters
) -> Floats:
    """Return the landings, as rows like ``ROW``, of balls that left the face."""
    rows = np.empty((len(left), len(ROW)))
    ball = ball_named(conditions.ball)
    in_air = replace(
        parameters,
        drag_factor=np.multiply(parameters.drag_factor, ball.drag_factor),
        lift_factor=np.multiply(parameters.lift_factor, ball.lift_factor),
    )
    shapes, rows_per_shape = _grouped(in_air.flight_shape(), outer)
    air = conditions.air
    fly_starts(
        left,
        shapes,
        rows_per_shape,
        parameters.flight_constants(),
        air.density,
        air.viscosity,
        (conditions.tailwind_mps, conditions.crosswind_mps, 0.0),
        STEP_S,
        rows,
    )
    return rows


def _landed(rows: Floats, outer: tuple[int, ...]) -> dict[str, Floats]:
    """Return the quantities of ``Landing`` by name."""
    x, y, apex, hang, v_x, v_y, v_z, _ = (rows[:, k].reshape(outer) for k in range(len(ROW)))
    return {
        "carry_m": np.asarray(np.hypot(x, y)),
        "side_m": y,
        "apex_m": apex,
        "land_angle_deg": np.asarray(np.degrees(np.arctan2(-v_z, np.hypot(v_x, v_y)))),
        "hang_s": hang,
    }


def _landing(
    left: Floats, outer: tuple[int, ...], conditions: Conditions, parameters: DriveParameters
) -> Landing:
    """Return where balls that left the face land."""
    return Landing(**_landed(_flown(left, outer, conditions, parameters), outer))


def _rest(
    left: Floats, outer: tuple[int, ...], conditions: Conditions, parameters: DriveParameters
) -> Drive:
    """Return launch, flight and run of balls that left the face."""
    rows = _flown(left, outer, conditions, parameters)
    x, y, _, _, v_x, v_y, v_z, spin = rows.T
    level = np.hypot(v_x, v_y)
    # Only the spin about the level axis grips the turf; side spin turns on the spot.
    landing = np.stack([level, -v_z, spin * left[:, 7]], axis=-1)
    run = np.empty(len(rows))
    run_rows(landing, _ground_rows(conditions, parameters, outer), parameters.turf_friction, run)
    reach = run / np.maximum(level, 1e-9)
    rest_x, rest_y = x + reach * v_x, y + reach * v_y
    ball = launch_of_rows(left, outer)
    return Drive(
        ball_speed_mps=ball.ball_speed_mps,
        launch_deg=ball.launch_deg,
        side_deg=ball.side_deg,
        spin_rpm=ball.spin_rpm,
        axis_deg=ball.axis_deg,
        run_m=run.reshape(outer),
        total_m=np.hypot(rest_x, rest_y).reshape(outer),
        rest_side_m=rest_y.reshape(outer),
        **_landed(rows, outer),
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
    return np.ascontiguousarray(np.broadcast_to(shape, (*outer, last)).reshape(-1, last)), 1


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
