import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from tests.fits import make_fit, noise
from tracker.decisions.verdict.settle import (
    Reading,
    reading_of,
    sessions_to_settle,
    settled_chance,
    small_limit,
)


def test_noise_of_more_sessions_is_worked_by_hand():
    # 4 sessions of 16 shots: (9 + 64/16)/4 + 0.5 * 5*9/24 = 3.25 + 0.9375
    reading = Reading(16, session_variance=9.0, shot_variance=64.0, walk_variance=0.5)
    assert reading.noise_variance(4) == pytest.approx(3.25 + 0.9375)


def test_days_that_resemble_their_neighbours_count_for_fewer():
    # 3 days alike by .5: (3 + 2 (2 * .5 + .25)) / 9 = .611 of one day's variance instead of 1/3
    reading = Reading(10, session_variance=9.0, shot_variance=0.0, walk_variance=0.0, day_alike=0.5)
    assert reading.noise_variance(3) == pytest.approx(9.0 * (3 + 2 * (2 * 0.5 + 0.25)) / 9)
    assert reading.noise_variance(1) == pytest.approx(9.0)


def test_mean_of_a_random_walk_has_the_variance_the_formula_claims():
    # simulated: mean of the first 6 steps of a walk with unit steps
    walk = np.random.default_rng(4).standard_normal((200_000, 6)).cumsum(axis=1).mean(axis=1)
    still = Reading(1, 0.0, 0.0, 1.0)
    assert walk.var() == pytest.approx(still.noise_variance(6), rel=0.02)


def test_reading_error_counts_beside_shot_scatter():
    fit = make_fit(
        {"Ana": {}}, shots=20, session_sd={"strike_up_mm": 3.0}, shot_sd={"strike_up_mm": 9.0},
        reading_sd={"strike_up_mm": 2.0}, drift={"strike_up_mm": 0.5}, days=(0, 14, 28),
        day_alike={"strike_up_mm": 0.3},
    )  # fmt: skip
    reading = reading_of(fit, "Ana", "strike_up_mm")
    assert reading.shots == 20
    assert reading.session_variance == pytest.approx(9.0)
    assert reading.shot_variance == pytest.approx(81.0 + 4.0)
    assert reading.day_alike == pytest.approx(0.3)
    assert reading.walk_variance == pytest.approx(0.25 * 2)  # two weeks between sessions


@given(worthwhile=st.floats(0.1, 10), sd=st.floats(0.05, 10))
def test_the_small_limit_leaves_nine_in_ten_inside(worthwhile, sd):
    limit = small_limit(worthwhile, sd)
    inside = norm.cdf((worthwhile - limit) / sd) - norm.cdf((-worthwhile - limit) / sd)
    if limit > 0:
        assert inside == pytest.approx(0.9, abs=1e-6)
    else:
        assert inside <= 0.9


def test_settled_chance_agrees_with_drawing_the_new_mean():
    rng = np.random.default_rng(8)
    mean, variance, gained, worthwhile = 1.0, 4.0, 3.0, 1.5
    left = np.sqrt(variance - gained)
    new = rng.normal(mean, np.sqrt(gained), 400_000)
    real = norm.cdf(np.abs(new) / left) >= 0.99
    inside = norm.cdf((worthwhile - new) / left) - norm.cdf((-worthwhile - new) / left)
    expected = np.mean(real | (inside >= 0.9))
    got = settled_chance(mean, variance, gained, worthwhile, 0.99, "direction")
    assert got == pytest.approx(expected, abs=0.004)
    beyond = norm.cdf((np.abs(new) - worthwhile) / left) >= 0.9
    got = settled_chance(mean, variance, gained, worthwhile, 0.99, "size")
    assert got == pytest.approx(np.mean(beyond | (inside >= 0.9)), abs=0.004)


def test_variance_left_after_new_sessions_is_that_of_a_conjugate_update():
    # before ~ N(0, 1), after ~ N(3, 2^2) independent; 3 sessions with noise variance 6 / 3 = 2:
    # after keeps 1 / (1/4 + 1/2) = 4/3, so the change keeps 1 + 4/3 and loses 8/3.
    z = noise(100_000, 2, seed=3)
    before, after = z[:, 0], 3 + 2 * z[:, 1]
    moments = np.cov(after - before, after)
    noise_variance = Reading(1, 6.0, 0.0, 0.0).noise_variance(3)
    gained = moments[0, 1] ** 2 / (moments[1, 1] + noise_variance)
    assert gained == pytest.approx(8 / 3, rel=0.02)


def test_a_large_change_needs_few_sessions_and_a_hopeless_one_says_so():
    z = noise(4000, 2, seed=5)
    sharp = Reading(15, 1.0, 15.0, 0.0)
    few, chance = sessions_to_settle(z[:, 0] * 0.3, 5 + 2 * z[:, 1], sharp, 2.0, 0.99, "direction")
    assert few <= 2
    assert chance >= 0.8
    blunt = Reading(1, 400.0, 400.0, 0.0)
    most, chance = sessions_to_settle(z[:, 0] * 3, 1 + 3 * z[:, 1], blunt, 2.0, 0.99, "direction")
    assert most == 12
    assert chance < 0.8
