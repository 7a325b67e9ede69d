import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.decisions.distance.order import lever_order

EVEN = {"a": 1.0, "b": 1.0, "c": 1.0}


def test_chances_regret_and_ties_of_four_draws_are_worked_by_hand():
    gains = {
        "a": np.array([5.0, 5.0, 1.0, 5.0]),
        "b": np.array([4.0, 9.0, 2.0, 1.0]),
        "c": np.array([0.0, 0.0, 0.0, 6.0]),
    }
    # means 4, 4, 1.5; best in each draw: a, b, b, c
    order = lever_order(gains, EVEN)
    assert order.p_best == {"a": 0.25, "b": 0.5, "c": 0.25}
    assert order.p_top2 == {"a": 1.0, "b": 0.75, "c": 0.25}
    assert order.regret_m["a"] == pytest.approx((0 + 4 + 1 + 1) / 4)
    assert order.regret_m["b"] == pytest.approx((1 + 0 + 0 + 5) / 4)
    assert order.regret_m["c"] == pytest.approx((5 + 9 + 2 + 0) / 4)
    assert order.keys[2] == "c"
    assert not order.clear
    assert set(order.tied) == {"a", "b", "c"}  # .5 + .25 is short of .9


def test_effort_halves_what_a_session_gains_and_reorders():
    gains = {"a": np.array([6.0, 6.0]), "b": np.array([4.0, 5.0])}
    assert lever_order(gains, {"a": 1.0, "b": 1.0}).keys == ("a", "b")
    costly = lever_order(gains, {"a": 2.0, "b": 1.0})  # 3 a session against 4.5
    assert costly.keys == ("b", "a")
    assert costly.p_best == {"a": 0.0, "b": 1.0}
    # two sessions spent on a give 6, spent on b would give 9
    assert costly.regret_m["a"] == pytest.approx(2 * 1.5)


def test_the_first_is_named_among_the_tied_though_it_is_hardly_ever_best():
    # a is second in every draw but the last, and first by its mean: 5.05 against 5 and 4.75
    gains = {
        "a": np.array([5.0] * 19 + [6.0]),
        "b": np.array([10.0, 0.0] * 10),
        "c": np.array([0.0, 10.0] * 9 + [0.0, 5.0]),
    }
    order = lever_order(gains, EVEN)
    assert order.keys[0] == "a"
    assert order.p_best == {"a": 0.05, "b": 0.5, "c": 0.45}
    assert not order.clear
    assert order.tied == ("a", "b", "c")


def test_the_same_effort_for_all_changes_nothing():
    rng = np.random.default_rng(3)
    gains = {t: rng.normal(m, 2, 300) for t, m in zip("abc", (4.0, 3.0, 1.0), strict=True)}
    one = lever_order(gains, EVEN)
    three = lever_order(gains, dict.fromkeys("abc", 3.0))
    assert one.p_best == three.p_best
    assert one.regret_m == pytest.approx(three.regret_m)


def test_clear_by_chance_or_by_small_regret():
    sure = lever_order({"a": np.full(10, 9.0), "b": np.arange(10.0)}, EVEN)
    assert sure.clear
    assert sure.tied == ("a",)
    close = {"a": np.array([5.0, 5.2] * 5), "b": np.array([5.1, 5.0] * 5)}  # regret .05 m
    assert lever_order(close, EVEN).clear


def test_tied_is_the_smallest_set_with_nine_in_ten():
    best = np.array([0] * 55 + [1] * 40 + [2] * 5)
    gains = {t: np.where(best == i, 9.0, 0.0) for i, t in enumerate("abc")}
    order = lever_order(gains, EVEN)
    assert order.p_best["a"] == pytest.approx(0.55)
    assert order.tied == ("a", "b")


@given(
    st.lists(st.lists(st.integers(-3, 6), min_size=3, max_size=3), min_size=1, max_size=25),
    st.permutations(["a", "b", "c"]),
)
def test_chances_are_shares_of_one_draw_whatever_the_order(rows, names):
    draws = np.array(rows, dtype=float)
    gains = {t: draws[:, i] for i, t in enumerate("abc")}
    order = lever_order(gains, EVEN)
    assert sum(order.p_best.values()) == pytest.approx(1.0)
    assert sum(order.p_top2.values()) == pytest.approx(2.0)
    for trait in "abc":
        assert 0 <= order.p_best[trait] <= order.p_top2[trait] <= 1 + 1e-12
        assert order.regret_m[trait] >= 0
    assert order.regret_m[order.keys[0]] == pytest.approx(min(order.regret_m.values()))
    shuffled = lever_order({t: gains[t] for t in names}, EVEN)
    assert shuffled.p_best == pytest.approx(order.p_best)


def test_a_lever_whose_best_lies_at_an_edge_is_never_clear():
    sure = {"a": np.full(10, 9.0), "b": np.arange(10.0) / 2}
    assert lever_order(sure, EVEN).clear
    edge = lever_order(sure, EVEN, frozenset({"a"}))
    assert not edge.clear
    assert edge.tied == ("a",)  # no other is ever best
    assert lever_order(sure, EVEN, frozenset({"b"})).clear
