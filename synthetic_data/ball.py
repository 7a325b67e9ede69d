"""One drive of the invented academy: delivery to the seven things a ball device reads."""

from dataclasses import dataclass, field

import numpy as np

from synthetic_data.arrays import Floats
from synthetic_data.flight import FirstTouch, FlightParameters, fly, run_out
from synthetic_data.impact import HeadParameters, Launch, strike_ball


@dataclass(frozen=True, slots=True)
class AcademyPhysics:
    """Everything the drives of one academy depend on."""

    head: HeadParameters = field(default_factory=HeadParameters)
    flight: FlightParameters = field(default_factory=FlightParameters)


def drive(
    delivery: Floats,
    temperature_c: Floats,
    altitude_m: Floats,
    parameters: AcademyPhysics,
    e0_offset: Floats | float = 0.0,
    cg_height_offset_mm: Floats | float = 0.0,
) -> Floats:
    """Return what the ball did, shape (shot, 7), in the order and units of ``BALL_TRAITS``.

    ``delivery`` has shape (shot, 7) in the order and units of ``TRAITS``. Carry and total are
    level distances from the tee to first touch and to rest; side and axis are + toward
    the open-face side.
    """
    launch, landing = _struck(
        delivery, temperature_c, altitude_m, parameters, e0_offset, cg_height_offset_mm
    )
    velocity, spin = launch.velocity_mps, launch.spin_radps
    level = np.hypot(velocity[:, 0], velocity[:, 2])
    speed = np.hypot(level, velocity[:, 1])
    launch_rad = np.arctan2(velocity[:, 1], level)
    side_rad = np.arctan2(velocity[:, 2], velocity[:, 0])
    # spin in the axes of the flight: rightward is level and square to it, upward square to both
    rightward = spin[:, 2] * np.cos(side_rad) - spin[:, 0] * np.sin(side_rad)
    forward = spin[:, 0] * np.cos(side_rad) + spin[:, 2] * np.sin(side_rad)
    upward = spin[:, 1] * np.cos(launch_rad) - forward * np.sin(launch_rad)
    run = run_out(landing, parameters.flight)
    end = landing.velocity_mps
    x, z = landing.position_m[:, 0], landing.position_m[:, 2]
    onward = run / np.hypot(end[:, 0], end[:, 2])
    carry = np.hypot(x, z)
    total = np.hypot(x + onward * end[:, 0], z + onward * end[:, 2])
    return np.stack(
        [
            speed,
            np.degrees(launch_rad),
            np.degrees(side_rad),
            np.linalg.norm(spin, axis=1) * 60 / (2 * np.pi),
            np.degrees(np.arctan2(-upward, rightward)),
            carry,
            total,
        ],
        axis=1,
    )


def first_touch(
    delivery: Floats,
    temperature_c: Floats,
    altitude_m: Floats,
    parameters: AcademyPhysics,
    e0_offset: Floats | float = 0.0,
    cg_height_offset_mm: Floats | float = 0.0,
) -> Floats:
    """Return where balls first touch the ground, shape (shot, 2); arguments as in ``drive``.

    Metres along the target line, and aside of it with + toward the open-face side.
    """
    _, landing = _struck(
        delivery, temperature_c, altitude_m, parameters, e0_offset, cg_height_offset_mm
    )
    along_and_aside: Floats = landing.position_m[:, [0, 2]]
    return along_and_aside


def _struck(
    delivery: Floats,
    temperature_c: Floats,
    altitude_m: Floats,
    parameters: AcademyPhysics,
    e0_offset: Floats | float,
    cg_height_offset_mm: Floats | float,
) -> tuple[Launch, FirstTouch]:
    """Return how balls leave the face and where they land."""
    shots = len(delivery)
    head = parameters.head
    launch = strike_ball(
        delivery,
        head,
        np.broadcast_to(head.e0 + np.asarray(e0_offset), (shots,)),
        np.broadcast_to(head.cg_height_mm + np.asarray(cg_height_offset_mm), (shots,)),
    )
    return launch, fly(launch, temperature_c, altitude_m, parameters.flight)
