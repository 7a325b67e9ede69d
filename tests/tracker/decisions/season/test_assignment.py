"""A plan never takes more than there is, and none is better: every small one is tried."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracker.decisions.season.assignment import (
    EARLIER,
    Capacity,
    Demand,
    assigned,
    sessions_used,
)
from tracker.errors import BadRequest


def taken(demands, starts, capacity):
    """Sessions of the coach by week, counted one by one."""
    weeks = [0] * capacity.weeks
    for week in range(capacity.weeks):
        practising = measured = 0
        for demand, start in zip(demands, starts, strict=True):
            if start is not None and start <= week < start + len(demand.practice):
                practising += demand.practice[week - start]
                measured += demand.measured[week - start]
        weeks[week] = practising + int(np.ceil(measured / capacity.devices))
    return weeks


def worth(demands, starts):
    return sum(
        d.value * (1 - EARLIER * s) for d, s in zip(demands, starts, strict=True) if s is not None
    )


def best_of_all(demands, capacity):
    """The most that any of all possible plans is worth."""
    choices = [
        [None, *range(capacity.weeks - len(d.practice) + 1)]
        if len(d.practice) <= capacity.weeks
        else [None]
        for d in demands
    ]
    return max(
        worth(demands, starts)
        for starts in product(*choices)
        if max(taken(demands, starts, capacity)) <= capacity.sessions_a_week
    )


weeks_of_one = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 3)).filter(lambda w: w != (0, 0)),
    min_size=1,
    max_size=4,
)
programmes = st.builds(
    lambda value, weeks: Demand(value, tuple(p for p, _ in weeks), tuple(m for _, m in weeks)),
    st.floats(0.1, 9.0),
    weeks_of_one,
)
capacities = st.builds(Capacity, st.integers(1, 5), st.integers(1, 4), st.integers(1, 3))


@given(st.lists(programmes, min_size=1, max_size=4), capacities)
@settings(max_examples=60)
def test_no_plan_is_worth_more_and_capacity_holds_every_week(demands, capacity):
    starts = assigned(demands, capacity)
    used = taken(demands, starts, capacity)
    assert max(used) <= capacity.sessions_a_week
    assert sessions_used(demands, starts, capacity).tolist() == used
    assert worth(demands, starts) == pytest.approx(best_of_all(demands, capacity), abs=1e-6)


def test_the_more_valuable_of_two_that_collide_is_kept():
    small, large = Demand(1.0, (1, 0), (0, 1)), Demand(2.0, (1, 0), (0, 1))
    assert assigned([small, large], Capacity(2, 1, 1)) == (None, 0)


def test_two_small_ones_beat_a_large_one_when_they_are_worth_more_together():
    large = Demand(3.0, (2, 2), (0, 0))
    small = Demand(2.0, (1, 1), (0, 0))
    assert assigned([large, small, small], Capacity(2, 2, 1)) == (None, 0, 0)


def test_a_second_device_lets_two_be_measured_at_once():
    measured = Demand(1.0, (0,), (1,))
    assert assigned([measured, measured], Capacity(1, 1, 1)).count(None) == 1
    assert assigned([measured, measured], Capacity(1, 1, 2)) == (0, 0)


def test_what_is_too_long_or_worth_nothing_is_left_out():
    long, useless = Demand(5.0, (1, 1, 1), (0, 0, 0)), Demand(-1.0, (1,), (0,))
    assert assigned([long, useless], Capacity(2, 9, 9)) == (None, None)


def test_it_starts_as_early_as_it_can():
    assert assigned([Demand(1.0, (1,), (0,))], Capacity(6, 3, 1)) == (0,)


@pytest.mark.parametrize(
    ("numbers", "words"), [((0, 1, 1), "weeks"), ((1, 0, 1), "sessions a week"), ((1, 1, 0), "dev")]
)
def test_a_season_without_room_is_refused(numbers, words):
    with pytest.raises(BadRequest, match=words):
        Capacity(*numbers)


def test_a_squad_of_a_hundred_is_planned_within_capacity():
    rng = np.random.default_rng(4)
    demands = [
        Demand(float(rng.uniform(0.5, 6)), (1,) * int(rng.integers(1, 4)) + (0,) * 4, ())
        for _ in range(100)
    ]
    demands = [Demand(d.value, d.practice, (0,) * (d.weeks - 4) + (1,) * 4) for d in demands]
    capacity = Capacity(12, 10, 2)
    starts = assigned(demands, capacity)
    assert max(taken(demands, starts, capacity)) <= 10
    left = [d.value for d, s in zip(demands, starts, strict=True) if s is None]
    assert np.mean(left) < np.mean([d.value for d in demands])
