"""Which programmes fit into a season's weeks, and when each starts, for the largest total value.

In one of the coach's sessions either one player practises with the coach, or as many players as
there are devices are measured. With x[i, s] = 1 where programme i starts in week s, and m[w] the
sessions given to measuring in week w,
    sum over i, s of x[i, s] practice_i[w - s] + m[w] <= sessions a week,
    sum over i, s of x[i, s] measured_i[w - s] <= devices m[w],
    sum over s of x[i, s] <= 1,
and the sum of x[i, s] value_i (1 - EARLIER s) as large as can be, by the mixed-integer solver of
SciPy (HiGHS). Of equal plans the earlier wins; no gain worth noticing is given up for that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from models.arrays import Floats, Indices
from tracker.errors import BadRequest

EARLIER: Final = 1e-4
"""Share of its value that a programme loses by a week's delay: what tells equal plans apart."""
SOLVER_SECONDS: Final = 30.0
"""Longest search; after it the best plan so far stands."""


@dataclass(frozen=True, slots=True)
class Capacity:
    """What a squad's season can hold."""

    weeks: int
    sessions_a_week: int
    """Sessions that the coach can give in a week."""
    devices: int
    """Players who can be measured in one session."""

    def __post_init__(self) -> None:
        for name in ("weeks", "sessions_a_week", "devices"):
            if getattr(self, name) < 1:
                words = name.replace("_", " ")
                raise BadRequest(f"{words}: found {getattr(self, name)}, wanted 1 or more")


@dataclass(frozen=True, slots=True)
class Demand:
    """What one programme takes in each of its weeks, from its start, and what it is worth."""

    value: float
    practice: tuple[int, ...]
    """Sessions of practice by week."""
    measured: tuple[int, ...]
    """Measured sessions by week, as many weeks."""

    @property
    def weeks(self) -> int:
        """Return how many weeks it takes."""
        return len(self.practice)


def assigned(demands: Sequence[Demand], capacity: Capacity) -> tuple[int | None, ...]:
    """Return the week in which each programme starts, counted from 0; None for one left out.

    Programmes without value or too long for the season are left out.
    """
    places = [
        (i, start)
        for i, demand in enumerate(demands)
        if demand.value > 0
        for start in range(capacity.weeks - demand.weeks + 1)
    ]
    if not places:
        return (None,) * len(demands)
    chosen = _solved(demands, capacity, places)
    found: list[int | None] = [None] * len(demands)
    for (i, start), taken in zip(places, chosen, strict=True):
        if taken:
            found[i] = start
    return tuple(found)


def sessions_used(
    demands: Sequence[Demand], starts: Sequence[int | None], capacity: Capacity
) -> Indices:
    """Return the coach's sessions that are taken in each week, ``(week,)``."""
    practice, measured = _by_week(demands, starts, capacity.weeks)
    return np.asarray(practice + -(-measured // capacity.devices))


def _by_week(
    demands: Sequence[Demand], starts: Sequence[int | None], weeks: int
) -> tuple[Indices, Indices]:
    practice, measured = np.zeros(weeks, dtype=np.int64), np.zeros(weeks, dtype=np.int64)
    for demand, start in zip(demands, starts, strict=True):
        if start is not None:
            practice[start : start + demand.weeks] += demand.practice
            measured[start : start + demand.weeks] += demand.measured
    return practice, measured


def _solved(
    demands: Sequence[Demand], capacity: Capacity, places: Sequence[tuple[int, int]]
) -> list[bool]:
    """Return which of the places (programme, start) are taken."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # here, since it is slow to load
    from scipy.sparse import lil_matrix

    weeks, columns = capacity.weeks, len(places)
    rows = lil_matrix((2 * weeks + len(demands), columns + weeks))
    for column, (i, start) in enumerate(places):
        one = demands[i]
        for week, (practice, measured) in enumerate(
            zip(one.practice, one.measured, strict=True), start
        ):
            rows[week, column] = practice
            rows[weeks + week, column] = measured
        rows[2 * weeks + i, column] = 1
    for week in range(weeks):
        rows[week, columns + week] = 1
        rows[weeks + week, columns + week] = -capacity.devices
    most = np.concatenate(
        [np.full(weeks, capacity.sessions_a_week), np.zeros(weeks), np.ones(len(demands))]
    )
    value = np.array([demands[i].value * (1 - EARLIER * start) for i, start in places])
    upper = np.concatenate([np.ones(columns), np.full(weeks, capacity.sessions_a_week)])
    found = milp(
        c=-np.concatenate([value, np.zeros(weeks)]),
        constraints=LinearConstraint(rows.tocsr(), -np.inf, most),
        bounds=Bounds(0, upper),
        integrality=np.ones(columns + weeks, dtype=np.int64),
        options={"mip_rel_gap": 0.0, "time_limit": SOLVER_SECONDS},
    )
    if found.x is None:
        raise ValueError(f"a plan that leaves everybody out always fits, yet: {found.message}")
    return [bool(taken > 0.5) for taken in _floats(found.x)[:columns]]


def _floats(values: object) -> Floats:
    return np.asarray(values, dtype=np.float64)
