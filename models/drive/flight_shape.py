"""Coordinates in which a landing depends on the flight's uncertain numbers almost linearly.

Lift enters as CL at two spin parameters in place of its scale and exponent; the six numbers are
then turned to the principal directions of their prior covariance and scaled to its standard
deviations. On the default prior a second-order series in these coordinates leaves half the
error that it leaves in scale and exponent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from models.drive.air import Air
from models.drive.flight import fly
from models.drive.impact import BallLaunch
from models.drive.parameters import default_parameters, shape_covariance

SPIN_PARAMETERS: Final = (0.08, 0.20)
"""The spin parameters at which lift is taken: an ordinary drive's at launch and at landing."""

type Floats = NDArray[np.float64]


class ShapeCoordinates:
    """Turns flight shapes (..., 6) into principal coordinates and back."""

    def __init__(self, centre: Floats, covariance: Floats) -> None:
        self.centre = centre
        self.origin = np.stack(self._with_lifts(centre), axis=-1)
        jacobian = np.eye(6)
        scale, exponent = centre[4], centre[5]
        for k, s in enumerate(SPIN_PARAMETERS):
            jacobian[4 + k, 4:] = (s**exponent, scale * s**exponent * math.log(s))
        values, vectors = np.linalg.eigh(jacobian @ covariance @ jacobian.T)
        self.from_u = vectors * np.sqrt(values)
        self.to_u = np.linalg.inv(self.from_u)

    @staticmethod
    def _with_lifts(shape: Any) -> list[Any]:
        low, high = SPIN_PARAMETERS
        scale, exponent = shape[..., 4], shape[..., 5]
        return [shape[..., k] for k in range(4)] + [scale * low**exponent, scale * high**exponent]

    def u_of(self, shape: Any, xp: Any = np) -> Any:
        """Return the coordinates of flight shapes; ``xp`` may be a symbolic namespace."""
        away = xp.stack(self._with_lifts(shape), axis=-1) - self.origin
        return xp.dot(away, self.to_u.T)

    def shape_of(self, u: Floats) -> Floats:
        """Return the flight shapes of coordinates."""
        values = self.origin + u @ self.from_u.T
        low, high = SPIN_PARAMETERS
        exponent = np.log(values[..., 5] / values[..., 4]) / math.log(high / low)
        scale = values[..., 4] / low**exponent
        return np.concatenate([values[..., :4], scale[..., None], exponent[..., None]], axis=-1)


@lru_cache(maxsize=1)
def shape_coordinates() -> ShapeCoordinates:
    """Return the coordinates of the default prior."""
    return ShapeCoordinates(default_parameters().flight_shape(), shape_covariance())


@dataclass(frozen=True, slots=True, eq=False)
class CarrySeries:
    """Carry of given launches as a second-order series in the shape's coordinates ``u``.

    ``carry_m`` (n,), ``gradient`` (n, 6), ``hessian`` (n, 6, 6):
    carry = carry_m + gradient.u + 1/2 u.hessian.u, in metres.
    """

    carry_m: Floats
    gradient: Floats
    hessian: Floats

    def at(self, u: Floats) -> Floats:
        """Return the carries at the coordinates ``u`` (6,) or (n, 6)."""
        linear = (self.gradient * u).sum(axis=-1)
        quadratic = ((self.hessian @ u[..., None])[..., 0] * u).sum(axis=-1)
        return np.asarray(self.carry_m + linear + 0.5 * quadratic)


def carry_series(
    ball: BallLaunch, air: Air, constants: tuple[float, float, float, float]
) -> CarrySeries:
    """Integrate the series of each launch (a one-dimensional array of them).

    It lets a sampler differentiate carry by drag and lift without differentiating a flight.
    """
    frame = shape_coordinates()
    steps = np.eye(6)

    def carry(u: Floats) -> Floats:
        return np.atleast_1d(fly(ball, air, frame.shape_of(u), constants).carry_m)

    middle = carry(np.zeros(6))
    ahead = [carry(step) for step in steps]
    behind = [carry(-step) for step in steps]
    gradient = np.stack([0.5 * (a - b) for a, b in zip(ahead, behind, strict=True)], axis=-1)
    hessian = np.empty((len(middle), 6, 6))
    for i in range(6):
        hessian[:, i, i] = ahead[i] + behind[i] - 2.0 * middle
        for j in range(i):
            cross = 0.5 * (
                carry(steps[i] + steps[j]) + carry(-steps[i] - steps[j]) + 2.0 * middle
                - ahead[i] - behind[i] - ahead[j] - behind[j]
            )  # fmt: skip
            hessian[:, i, j] = hessian[:, j, i] = cross
    return CarrySeries(middle, gradient, hessian)
