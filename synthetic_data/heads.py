"""Drives of academies whose heads and balls differ: no squad hits the same driver."""

import numpy as np

from synthetic_data.ball import AcademyPhysics
from synthetic_data.flight import FlightParameters
from synthetic_data.impact import HeadParameters

HEAD_MOMENTS = {
    "e0": (0.842, 0.006),
    "e_t": (-0.128, 0.04),
    "gear_gain": (1.25, 0.12),
    "cg_height_mm": (0.5, 2.0),
    "e_loss": (0.030, 0.008),
    "toe_speed_per_s": (55.0, 15.0),
    "up_speed_per_s": (-10.0, 10.0),
    "cg_depth_mm": (36.0, 1.5),
    "inertia_heel_toe_g_cm2": (3200.0, 150.0),
    "inertia_vertical_g_cm2": (4800.0, 200.0),
}
"""Mean and SD of what drivers and the hands that swing them differ by (inventions)."""
BALL_MOMENTS = {"k_drag": (1.0, 0.025), "k_lift": (1.0, 0.04)}
FURTHEST = 2.0
"""SDs beyond which nothing is drawn."""


def drawn_drive(seed: int) -> AcademyPhysics:
    """Return the head and ball of one academy; the same seed gives the same ones."""
    rng = np.random.default_rng(np.random.SeedSequence(seed).spawn(8)[7])
    drawn = {
        name: mean + sd * float(np.clip(rng.standard_normal(), -FURTHEST, FURTHEST))
        for name, (mean, sd) in (HEAD_MOMENTS | BALL_MOMENTS).items()
    }
    return AcademyPhysics(
        HeadParameters(**{name: drawn[name] for name in HEAD_MOMENTS}),
        FlightParameters(**{name: drawn[name] for name in BALL_MOMENTS}),
    )
