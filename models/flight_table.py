"""Landings for clouds of drives: a table per air, checked against the integrator cell by cell.

A launch outside the grid (``models.flight_grid``), or in a cell that failed its check when the
table was built, is integrated instead, so the table is never far off.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.air import Air
from models.flight import ROW, STEP_S, Flight, flight_of_rows, fly_rows, launch_rows, launch_shape
from models.flight_grid import (
    BASE,
    COARSE,
    FINE,
    HIGH,
    LAUNCH_OFFSET_DEG,
    LOW,
    MOST_TILT,
    N_OUT,
    N_SHAPE,
    PAIRS,
    SERIES,
    TILTS,
    look_up,
)
from models.flight_shape import shape_coordinates
from models.impact import BallLaunch

type Floats = NDArray[np.float64]
type Singles = NDArray[np.float32]
type Constants = tuple[float, float, float, float]
type Landings = Callable[[Floats, float, Floats], Floats]

CELL_TOLERANCE_M: Final = 0.03
"""Largest error of carry at default parameters, at a cell's centre, for the cell to be used."""

SERIES_TOLERANCE_M: Final = 1.0
"""The same for two test shapes, about 2.4 prior standard deviations away either way."""

_SERIES_TILTS: Final = (math.radians(12.0), math.radians(40.0))
_CHECK_TILTS: Final = (0.0, math.radians(36.0))
_BUILD_STEP_S: Final = 0.2
_RPM: Final = math.pi / 30.0
_SIDEWAYS: Final = [ROW.index("sideways"), ROW.index("v_y")]


@dataclass(frozen=True, slots=True, eq=False)
class FlightTable:
    """Landings in one air; see the module's docstring."""

    density: float
    viscosity: float
    constants: Constants
    good: NDArray[np.bool_]
    base: Singles
    series: Singles

    def rows(self, launch: Floats, shape: Floats, rows_per_shape: int = 1) -> Floats:
        """Return landings as ``ROW`` for launches as rows for ``fly_rows``.

        ``shape`` (m, 6) has one row for each ``rows_per_shape`` launches in turn.
        """
        out, missed = self.interpolated(launch, shape, rows_per_shape)
        (left,) = np.nonzero(missed)
        if left.size:
            rest = np.empty((left.size, N_OUT))
            fly_rows(
                launch[left],
                shape[left // rows_per_shape],
                self.constants,
                self.density,
                self.viscosity,
                (0.0, 0.0, 0.0),
                STEP_S,
                rest,
            )
            out[left] = rest
        return out

    def interpolated(
        self, launch: Floats, shape: Floats, rows_per_shape: int = 1
    ) -> tuple[Floats, NDArray[np.bool_]]:
        """Return landings without the integrator's help, and which rows are therefore missing."""
        out = np.empty((launch.shape[0], N_OUT))
        missed = np.empty(launch.shape[0], dtype=np.bool_)
        u = shape_coordinates().u_of(shape)
        u[np.abs(u) < 1e-9] = 0.0  # the default shape itself needs no series
        span = np.subtract(HIGH, LOW)
        look_up(
            launch,
            u,
            rows_per_shape,
            np.asarray(LOW),
            np.subtract(FINE, 1) / span,
            np.subtract(COARSE, 1) / span,
            self.good,
            self.base,
            self.series,
            out,
            missed,
        )
        return out, missed

    def fly(self, ball: BallLaunch, shape: Floats) -> Flight:
        """Return the landing of every launch, with flight shapes (..., 6) that broadcast."""
        outer = np.broadcast_shapes(launch_shape(ball), shape.shape[:-1])
        launch = launch_rows(ball, outer)
        if shape.ndim == 1:
            rows = self.rows(launch, shape[None, :], max(len(launch), 1))
        else:
            full = np.broadcast_to(shape, (*outer, N_SHAPE)).reshape(-1, N_SHAPE)
            rows = self.rows(launch, full)
        return flight_of_rows(rows, outer)


def _nodes(counts: tuple[int, int, int]) -> Floats:
    """Return the launches (speed, angle, 0, spin, 0) at the nodes of a grid, in SI."""
    axes = [np.linspace(a, b, n) for a, b, n in zip(LOW, HIGH, counts, strict=True)]
    return _launches(*np.meshgrid(*axes, indexing="ij"))


def _launches(speed: Floats, log_launch: Floats, root_spin: Floats) -> Floats:
    rows = np.zeros((speed.size, 5))
    rows[:, 0] = speed.ravel()
    rows[:, 1] = np.radians(np.exp(log_launch.ravel()) - LAUNCH_OFFSET_DEG)
    rows[:, 3] = root_spin.ravel() ** 2 * _RPM
    return rows


@lru_cache(maxsize=4)
def _spline_filter(n: int) -> Floats:
    """Return the (n + 2, n) matrix from values to uniform cubic B-spline coefficients.

    The two spare conditions are not-a-knot: the third derivative runs through the second node.
    """
    system = np.zeros((n + 2, n + 2))
    for i in range(n):
        system[i, i : i + 3] = (1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0)
    system[n, :5] = (1.0, -4.0, 6.0, -4.0, 1.0)
    system[n + 1, -5:] = (1.0, -4.0, 6.0, -4.0, 1.0)
    return np.linalg.inv(system)[:, :n]


def build_table(density: float, viscosity: float, constants: Constants) -> FlightTable:
    """Integrate the grids of one air and return their table."""
    frame = shape_coordinates()

    def landings(nodes: Floats, tilt: float, u: Floats) -> Floats:
        launch = nodes.copy()
        launch[:, 4] = tilt
        rows = np.empty((len(launch), N_OUT))
        fly_rows(
            launch,
            frame.shape_of(u)[None, :],
            constants,
            density,
            viscosity,
            (0.0, 0.0, 0.0),
            _BUILD_STEP_S,
            rows,
        )
        rows[:, _SIDEWAYS] /= math.sin(tilt)
        return rows

    zero = np.zeros(N_SHAPE)
    # Chebyshev places of 1 - cos(tilt), so that the quadratic errs evenly and never divides by 0.
    places = np.cos((2 * np.arange(TILTS) + 1) * math.pi / (2 * TILTS))
    bends = (1.0 - math.cos(MOST_TILT)) * 0.5 * (1.0 + places)
    fine = _nodes(FINE)
    at_tilts = np.stack([landings(fine, math.acos(1.0 - bend), zero) for bend in bends])
    powers = np.linalg.inv(np.vander(bends, increasing=True))
    base = np.einsum("pt,tno->npo", powers, at_tilts).reshape(*FINE, BASE)
    for axis, n in enumerate(FINE):
        base = np.moveaxis(np.tensordot(_spline_filter(n), base, axes=(1, axis)), 0, axis)

    table = FlightTable(
        density=density,
        viscosity=viscosity,
        constants=constants,
        good=np.ones(tuple(n - 1 for n in FINE), dtype=np.bool_),
        base=np.ascontiguousarray(base, dtype=np.float32),
        series=_series(landings, _nodes(COARSE)),
    )
    _mark_bad_cells(table)
    return table


def _series(landings: Landings, nodes: Floats) -> Singles:
    """Return the first- and second-order terms at the nodes of the coarse grid."""
    steps = np.eye(N_SHAPE)
    first = np.empty((2, len(nodes), N_SHAPE, N_OUT))
    second = np.empty((len(nodes), len(PAIRS), N_OUT))
    for t, tilt in enumerate(_SERIES_TILTS):
        ahead = [landings(nodes, tilt, step) for step in steps]
        behind = [landings(nodes, tilt, -step) for step in steps]
        for k in range(N_SHAPE):
            first[t, :, k] = 0.5 * (ahead[k] - behind[k])
        if t > 0:
            continue
        middle = landings(nodes, tilt, np.zeros(N_SHAPE))
        for p, (i, j) in enumerate(PAIRS):
            if i == j:
                second[:, p] = 0.5 * (ahead[i] + behind[i] - 2.0 * middle)
            else:
                both = landings(nodes, tilt, steps[i] + steps[j])
                second[:, p] = both - ahead[i] - ahead[j] + middle
    bends = [1.0 - math.cos(tilt) for tilt in _SERIES_TILTS]
    slope = (first[1] - first[0]) / (bends[1] - bends[0])
    level = first[0] - bends[0] * slope
    terms = [part.reshape(len(nodes), -1) for part in (level, slope, second)]
    return np.concatenate(terms, axis=1).reshape(*COARSE, SERIES).astype(np.float32)


def _mark_bad_cells(table: FlightTable) -> None:
    """Take out of use the cells whose centres the table misses."""
    axes = [np.linspace(a, b, n) for a, b, n in zip(LOW, HIGH, FINE, strict=True)]
    centres = _launches(*np.meshgrid(*[0.5 * (x[1:] + x[:-1]) for x in axes], indexing="ij"))
    frame = shape_coordinates()
    checks = [(tilt, np.zeros(N_SHAPE), CELL_TOLERANCE_M) for tilt in _CHECK_TILTS]
    checks += [(0.0, u, SERIES_TOLERANCE_M) for u in (np.ones(N_SHAPE), -np.ones(N_SHAPE))]
    for tilt, u, tolerance in checks:
        centres[:, 4] = tilt
        shape = frame.shape_of(u)[None, :]
        exact = np.empty((len(centres), N_OUT))
        fly_rows(
            centres,
            shape,
            table.constants,
            table.density,
            table.viscosity,
            (0.0, 0.0, 0.0),
            _BUILD_STEP_S,
            exact,
        )
        close = table.interpolated(centres, shape, len(centres))[0]
        error = np.hypot(close[:, 0] - exact[:, 0], close[:, 1] - exact[:, 1])
        table.good[...] &= (error <= tolerance).reshape(table.good.shape)


@lru_cache(maxsize=8)
def _cached_table(density: float, viscosity: float, constants: Constants) -> FlightTable:
    return build_table(density, viscosity, constants)


def flight_table(air: Air, constants: Constants) -> FlightTable:
    """Return the table of one air, built at its first use in a process (about a second)."""
    return _cached_table(air.density, air.viscosity, constants)
