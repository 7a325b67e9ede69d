from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.decisions.distance.shapley import owen_values, shapley_values, subsets


def test_the_glove_game_has_its_textbook_values():
    # one left glove (a), two right gloves (b, c): a pair is worth 1. Values 2/3, 1/6, 1/6
    # (worked by orders: a is pivotal in 4 of 6, b and c in one each).
    def worth(s):
        return np.array([1.0 if "a" in s and ("b" in s or "c" in s) else 0.0])

    values = shapley_values(["a", "b", "c"], worth)
    assert values["a"][0] == pytest.approx(2 / 3)
    assert values["b"][0] == pytest.approx(1 / 6)
    assert values["c"][0] == pytest.approx(1 / 6)


@given(st.lists(st.floats(-10, 10), min_size=16, max_size=16))
def test_values_are_the_average_over_all_orders_and_sum_exactly(numbers):
    groups = ["a", "b", "c", "d"]
    table = dict(zip(subsets(groups), numbers, strict=True))
    values = shapley_values(groups, lambda s: np.array([table[s]]))
    for group in groups:
        steps = []
        for order in permutations(groups):
            before = frozenset(order[: order.index(group)])
            steps.append(table[before | {group}] - table[before])
        assert values[group][0] == pytest.approx(np.mean(steps), abs=1e-9)
    total = sum(v[0] for v in values.values())
    assert total == pytest.approx(table[frozenset(groups)] - table[frozenset()], abs=1e-9)


def test_what_changes_nothing_gets_nothing_and_equals_get_equal():
    values = shapley_values(
        ["a", "b", "idle"], lambda s: np.array([("a" in s) * 2.0 + ("b" in s) * 2.0])
    )
    assert values["idle"][0] == 0
    assert values["a"][0] == values["b"][0] == pytest.approx(2.0)


@given(st.lists(st.floats(-10, 10), min_size=16, max_size=16))
def test_two_members_divide_their_groups_value_by_the_orders_that_keep_them_together(numbers):
    table = dict(zip(subsets(["x", "y", "b", "c"]), numbers, strict=True))

    def worth(s):
        members = frozenset({"x", "y"}) if "pair" in s else frozenset()
        return np.array([table[(s - {"pair"}) | members]])

    groups = ("pair", "b", "c")
    shares = owen_values(groups, "pair", ("x", "y"), worth)
    together = [
        o for o in permutations(["x", "y", "b", "c"]) if abs(o.index("x") - o.index("y")) == 1
    ]
    for member, share in shares.items():
        steps = []
        for order in together:
            before = frozenset(order[: order.index(member)])
            steps.append(table[before | {member}] - table[before])
        assert share[0] == pytest.approx(np.mean(steps), abs=1e-9)
    whole = shapley_values(groups, worth)["pair"][0]
    assert shares["x"][0] + shares["y"][0] == pytest.approx(whole, abs=1e-9)
