import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from models.drive.parameters import default_parameters, draw_parameters
from tests.fits import noise
from tracker.decisions.distance.gain_words import gain_sentence
from tracker.decisions.distance.order import adjusted_r2, first_fault_order, separating_reading
from tracker.words import fault_words

EVEN = {"a": 1.0, "b": 1.0, "c": 1.0}


def test_chances_regret_and_ties_of_four_draws_are_worked_by_hand():
    gains = {
        "a": np.array([5.0, 5.0, 1.0, 5.0]),
        "b": np.array([4.0, 9.0, 2.0, 1.0]),
        "c": np.array([0.0, 0.0, 0.0, 6.0]),
    }
    # means 4, 4, 1.5; best in each draw: a, b, b, c
    order = first_fault_order(gains, EVEN)
    assert order.p_best == {"a": 0.25, "b": 0.5, "c": 0.25}
    assert order.p_top2 == {"a": 1.0, "b": 0.75, "c": 0.25}
    assert order.regret_m["a"] == pytest.approx((0 + 4 + 1 + 1) / 4)
    assert order.regret_m["b"] == pytest.approx((1 + 0 + 0 + 5) / 4)
    assert order.regret_m["c"] == pytest.approx((5 + 9 + 2 + 0) / 4)
    assert order.traits[2] == "c"
    assert not order.clear
    assert set(order.tied) == {"a", "b", "c"}  # .5 + .25 is short of .9


def test_effort_halves_what_a_session_gains_and_reorders():
    gains = {"a": np.array([6.0, 6.0]), "b": np.array([4.0, 5.0])}
    assert first_fault_order(gains, {"a": 1.0, "b": 1.0}).traits == ("a", "b")
    costly = first_fault_order(gains, {"a": 2.0, "b": 1.0})  # 3 a session against 4.5
    assert costly.traits == ("b", "a")
    assert costly.p_best == {"a": 0.0, "b": 1.0}
    # two sessions spent on a give 6, spent on b would give 9
    assert costly.regret_m["a"] == pytest.approx(2 * 1.5)


def test_the_same_effort_for_all_changes_nothing():
    rng = np.random.default_rng(3)
    gains = {t: rng.normal(m, 2, 300) for t, m in zip("abc", (4.0, 3.0, 1.0), strict=True)}
    one = first_fault_order(gains, EVEN)
    three = first_fault_order(gains, dict.fromkeys("abc", 3.0))
    assert one.p_best == three.p_best
    assert one.regret_m == pytest.approx(three.regret_m)


def test_clear_by_chance_or_by_small_regret():
    sure = first_fault_order({"a": np.full(10, 9.0), "b": np.arange(10.0)}, EVEN)
    assert sure.clear
    assert sure.tied == ("a",)
    close = {"a": np.array([5.0, 5.2] * 5), "b": np.array([5.1, 5.0] * 5)}  # regret .05 m
    assert first_fault_order(close, EVEN).clear


def test_tied_is_the_smallest_set_with_nine_in_ten():
    best = np.array([0] * 55 + [1] * 40 + [2] * 5)
    gains = {t: np.where(best == i, 9.0, 0.0) for i, t in enumerate("abc")}
    order = first_fault_order(gains, EVEN)
    assert order.p_best["a"] == pytest.approx(0.55)
    assert order.tied == ("a", "b")


def test_a_first_fault_that_is_seldom_the_best_is_named_in_its_tie_all_the_same():
    # a pays 8 nearly always and 100 in one draw of ten, b 9 or nothing: a has the higher mean
    # (17.2 against 8.1), b is best in nine draws of ten, and by a .9 m are missed on average
    rare = np.arange(100) < 10
    gains = {
        "strike_up_mm": np.where(rare, 0.0, 9.0),
        "attack_deg": np.where(rare, 100.0, 8.0),
        "loft_deg": np.zeros(100),
    }
    order = first_fault_order(gains, dict.fromkeys(gains, 1.0))
    assert order.traits[0] == "attack_deg"
    assert order.p_best["strike_up_mm"] == pytest.approx(0.9)
    assert not order.clear
    assert order.tied == ("attack_deg", "strike_up_mm")
    faults = {"attack_deg": (-3.0, 2.0), "strike_up_mm": (-9.0, 2.0), "loft_deg": (10.0, 12.0)}
    said = gain_sentence("Ana", faults, order, worthwhile=True, trusted=True, system="yards")
    first, second = (fault_words(t, *faults[t]) for t in order.tied)
    assert said == (
        f"Ana: {first} and {second} are too close to call; the slight edge is to {first}."
    )


@given(
    st.lists(st.lists(st.integers(-3, 6), min_size=3, max_size=3), min_size=1, max_size=25),
    st.permutations(["a", "b", "c"]),
)
def test_chances_are_shares_of_one_draw_whatever_the_order(rows, names):
    draws = np.array(rows, dtype=float)
    gains = {t: draws[:, i] for i, t in enumerate("abc")}
    order = first_fault_order(gains, EVEN)
    assert sum(order.p_best.values()) == pytest.approx(1.0)
    assert sum(order.p_top2.values()) == pytest.approx(2.0)
    for trait in "abc":
        assert 0 <= order.p_best[trait] <= order.p_top2[trait] <= 1 + 1e-12
        assert order.regret_m[trait] >= 0
    assert order.regret_m[order.traits[0]] == pytest.approx(min(order.regret_m.values()))
    shuffled = first_fault_order({t: gains[t] for t in names}, EVEN)
    assert shuffled.p_best == pytest.approx(order.p_best)


def test_the_reading_that_separates_is_the_one_the_gap_hangs_on():
    z = noise(400, 3, seed=9)
    levels = {"x": z[:, 0], "y": z[:, 1]}
    fixed = default_parameters()
    assert separating_reading(0.2 * z[:, 0] + 2 * z[:, 1] + z[:, 2], levels, fixed) == "y"
    assert separating_reading((z[:, 0]) ** 2 + 0.2 * z[:, 1], levels, fixed) == "x"


def test_physics_is_named_when_the_order_hangs_on_it():
    physics = draw_parameters(400, np.random.default_rng(1))
    z = noise(400, 2, seed=9)
    levels = {"x": z[:, 0], "y": z[:, 1]}
    gap = 5 * (physics.loft_follows_attack - 0.7) + 0.1 * z[:, 0]
    assert separating_reading(gap, levels, physics) is None


def test_adjusted_r2_is_the_textbook_one():
    rng = np.random.default_rng(12)
    x = rng.normal(size=60)
    y = 0.7 * x + rng.normal(size=60)
    r = linregress(x, y).rvalue
    expected = 1 - (1 - r**2) * 59 / 58
    assert adjusted_r2(y, x[:, None]) == pytest.approx(expected)
    # a column that says the same again explains nothing more and costs nothing
    assert adjusted_r2(y, np.stack([x, 2 * x], axis=1)) == pytest.approx(expected)
    assert adjusted_r2(np.ones(60), x[:, None]) == 0.0
