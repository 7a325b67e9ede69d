"""The physical constants of one drive with their joint uncertainty (``drive_prior.json``).

Flight shape, impact and turf were fitted together to published drives, so their errors are
strongly correlated: ``draw_parameters`` draws them jointly. Drawn one by one they would spread
carry by some 15 m, which nobody who has seen a drive believes.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final, Self

import numpy as np

from models.arrays import Floats

type Number = float | Floats

KAPPA_MEAN: Final = 0.7
KAPPA_SD: Final = 0.25
"""How far delivered loft follows attack; no published value, wide on purpose."""

CG_HEIGHT_SD_M: Final = 0.003

STRIKE_MOMENTS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "restitution_falloff": (0.03, 0.009),
        "closure_per_s": (55.0, 15.0),
        "pitch_per_s": (-10.0, 10.0),
    }
)
"""Mean and SD of what an off-centre strike meets (estimates, no source). The fall of restitution
is known to 30 %, so that a strike 18 mm out loses .015 to .045 of it in nine cases of ten: a face
whose rim is as lively as half that, or duller than the upper end, is not seen."""

_FIELD_OF_PRIOR_NAME: Final = {
    "CD1": "drag_constant",
    "CD2": "drag_spin",
    "CD22": "drag_spin_squared",
    "CD3": "drag_reynolds",
    "CL1": "lift_scale",
    "p": "lift_exponent",
    "th0": "turf_tilt_factor",
    "roll": "roll_friction_factor",
    "e0": "restitution",
    "e_t": "tangential_restitution",
    "g": "gear_gain",
}

_PHYSICAL_RANGE: Final = {
    "drag_constant": (0.10, 0.40),
    "drag_spin": (0.0, 1.0),
    "drag_spin_squared": (0.0, 2.0),
    "drag_reynolds": (0.0, 0.12),
    "lift_scale": (0.20, 1.0),
    "lift_exponent": (0.20, 0.80),
    "turf_tilt_factor": (0.5, 1.5),
    "roll_friction_factor": (0.3, 2.5),
    "restitution": (0.75, 0.90),
    "tangential_restitution": (-0.40, 0.30),
    "gear_gain": (0.70, 2.0),
    "loft_follows_attack": (0.0, 1.2),
    "cg_height_m": (-0.009, 0.009),
    "restitution_falloff": (0.0, 0.08),
    "closure_per_s": (0.0, 120.0),
    "pitch_per_s": (-50.0, 30.0),
}

SHAPE_NAMES: Final = (
    "drag_constant",
    "drag_spin",
    "drag_spin_squared",
    "drag_reynolds",
    "lift_scale",
    "lift_exponent",
)
"""The six uncertain numbers of the flight, in the order of ``DriveParameters.flight_shape``."""


@dataclass(frozen=True, slots=True, eq=False)
class DriveParameters:
    """Every physical constant of one drive: plain numbers, or arrays with one entry per draw."""

    drag_constant: Number
    drag_spin: Number
    drag_spin_squared: Number
    drag_reynolds: Number
    lift_scale: Number
    lift_exponent: Number
    restitution: Number
    tangential_restitution: Number
    gear_gain: Number
    drag_factor: Number = 1.0
    lift_factor: Number = 1.0
    turf_tilt_factor: Number = 1.0
    """Multiplies the turf preset's own value, so that the one uncertainty serves every turf."""
    roll_friction_factor: Number = 1.0
    """Likewise."""
    loft_follows_attack: Number = KAPPA_MEAN
    cg_height_m: Number = 0.0
    """Adds to the head's own."""
    restitution_falloff: Number = STRIKE_MOMENTS["restitution_falloff"][0]
    """Lost at 18 mm across or 12 mm up."""
    closure_per_s: Number = STRIKE_MOMENTS["closure_per_s"][0]
    """The face's speed gained per metre toward the toe ..."""
    pitch_per_s: Number = STRIKE_MOMENTS["pitch_per_s"][0]
    """... and up."""
    # The rest is held fixed: never drawn, one number for all draws.
    reynolds_onset: float = 9e4
    reynolds_width: float = 2e5
    lift_spin_cap: float = 0.35
    spin_decay: float = 2e-5
    restitution_slope_s_per_m: float = -0.002
    face_friction: float = 0.40
    turf_friction: float = 0.40

    def flight_shape(self) -> Floats:
        """Return the six numbers of the flight with drag and lift factors in, shape (..., 6)."""
        drag, lift = self.drag_factor, self.lift_factor
        columns = np.broadcast_arrays(
            drag * np.asarray(self.drag_constant),
            drag * np.asarray(self.drag_spin),
            drag * np.asarray(self.drag_spin_squared),
            drag * np.asarray(self.drag_reynolds),
            lift * np.asarray(self.lift_scale),
            np.asarray(self.lift_exponent),
        )
        return np.stack(columns, axis=-1).astype(np.float64)

    def flight_constants(self) -> tuple[float, float, float, float]:
        """Return what all flights share: Reynolds onset and width, lift's spin cap, spin decay."""
        return (self.reynolds_onset, self.reynolds_width, self.lift_spin_cap, self.spin_decay)

    @property
    def shape(self) -> tuple[int, ...]:
        """Return the shape that all constants broadcast to; ``()`` for plain numbers."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))

    def _mapped(self, change: Any) -> Self:
        arrays = {
            f.name: change(value)
            for f in fields(self)
            if isinstance(value := getattr(self, f.name), np.ndarray) and value.ndim
        }
        return replace(self, **arrays)

    def as_column(self) -> Self:
        """Return the draws with shape (n, 1), to meet arrays of shape (n, shots)."""
        return self._mapped(lambda value: value[:, None])

    def take(self, index: Any) -> Self:
        """Return the draws at ``index`` (an integer, slice or index array on the first axis)."""
        return self._mapped(lambda value: value[index])


@lru_cache(maxsize=1)
def _prior() -> tuple[tuple[str, ...], Floats, Floats]:
    text = files("models.drive").joinpath("drive_prior.json").read_text(encoding="utf-8")
    stored = json.loads(text)
    mean = np.asarray(stored["map"], dtype=np.float64)
    covariance = np.asarray(stored["cov"], dtype=np.float64)
    # The ground was fitted on firm turf; relative to it, the same draws serve any turf.
    scale = np.ones_like(mean)
    for name in ("th0", "roll"):
        i = stored["names"].index(name)
        scale[i] = 1.0 / mean[i]
    names = tuple(_FIELD_OF_PRIOR_NAME[name] for name in stored["names"])
    return names, mean * scale, covariance * np.outer(scale, scale)


def prior_moments() -> tuple[tuple[str, ...], Floats, Floats]:
    """Return names (fields of ``DriveParameters``), means and covariance of the drive prior."""
    names, mean, covariance = _prior()
    return names, mean.copy(), covariance.copy()


def default_parameters() -> DriveParameters:
    """Return the fitted means as plain numbers."""
    names, mean, _ = _prior()
    return DriveParameters(**dict(zip(names, mean.tolist(), strict=True)))


def draw_parameters(n: int, rng: np.random.Generator) -> DriveParameters:
    """Return ``n`` joint draws from the drive prior, as arrays of shape ``(n,)``.

    Drag and lift factors stay at 1: the drawn shape already carries the flight's uncertainty.
    Draws are clipped to what is physically possible (a negative drag coefficient is not).
    """
    names, mean, covariance = _prior()
    joint = rng.multivariate_normal(mean, covariance, size=n, method="eigh")
    drawn = dict(zip(names, joint.T, strict=True))
    drawn["loft_follows_attack"] = rng.normal(KAPPA_MEAN, KAPPA_SD, n)
    drawn["cg_height_m"] = rng.normal(0.0, CG_HEIGHT_SD_M, n)
    for name, (middle, sd) in STRIKE_MOMENTS.items():
        drawn[name] = rng.normal(middle, sd, n)
    return DriveParameters(
        **{name: np.clip(value, *_PHYSICAL_RANGE[name]) for name, value in drawn.items()}
    )
