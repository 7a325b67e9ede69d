"""What came along when attack was changed: steps by hand and against a library's least squares."""

import numpy as np
import pytest
import statsmodels.api as sm

from tests.fits import day, make_fit, noise
from tracker.decisions.distance.taught import taught_slope
from tracker.records import Change

DAYS = (0, 7, 14, 21, 28, 35)
UP = Change("Ana", day(21), "drill", "tilt", "attack_deg", 1.0)
SHOT, READING, DAY_SD = 1.8, 0.6, 0.7


def fit_with(path, changes=(UP,), moved=2.0, moved_sd=0.0, drift=0.0, **kwargs):
    doubt = moved_sd * noise(400, seed=3)
    return make_fit(
        {"Ana": {"path_deg": path}}, days=DAYS, level_sd=0.0,
        shot_sd={"path_deg": SHOT}, session_sd={"path_deg": DAY_SD}, drift={"path_deg": drift},
        reading_sd={"path_deg": READING}, changes=changes,
        change_effect={0: {"attack_deg": moved + doubt}}, **kwargs,
    )  # fmt: skip


def test_the_step_is_the_difference_of_the_means_and_its_slope_goes_by_the_move():
    # means -3 and -4.2 of three sessions each: -1.2 for 2 degrees
    found = taught_slope(fit_with([-3.2, -3.0, -2.8, -4.0, -4.2, -4.4]), "Ana", "path_deg")
    assert found.slope == pytest.approx(-0.6, abs=1e-6)
    # a session: .7^2 + (1.8^2 + .6^2) / 15 = .73; two means of three: .4867; over 2^2
    assert 1 / found.weight == pytest.approx((0.49 + 3.6 / 15) * 2 / 3 / 4, rel=1e-6)


def test_the_step_is_that_of_generalised_least_squares_with_a_random_walk():
    path = [-3.3, -2.6, -3.1, -4.4, -3.7, -4.9]
    found = taught_slope(fit_with(path, drift=0.3), "Ana", "path_deg")
    weeks = np.arange(6.0)
    covariance = 0.09 * np.minimum(weeks[:, None], weeks) + np.eye(6) * (0.49 + 3.6 / 15)
    design = np.column_stack([np.ones(6), np.arange(6) >= 3])
    told = sm.GLS(path, design, sigma=covariance).fit()
    assert 2.0 * found.slope == pytest.approx(told.params[1], abs=1e-6)
    assert 4.0 / found.weight == pytest.approx(told.normalized_cov_params[1, 1], rel=1e-6)


def test_a_move_that_is_hardly_known_tells_less():
    path = [-3.0] * 3 + [-4.0] * 3
    known = taught_slope(fit_with(path), "Ana", "path_deg")
    doubted = taught_slope(fit_with(path, moved_sd=1.0), "Ana", "path_deg")
    assert doubted.slope == pytest.approx(known.slope)
    assert 4.0 / doubted.weight == pytest.approx(4.0 / known.weight + 1.0, rel=1e-6)


def test_nothing_is_told_by_a_change_that_has_no_session_on_one_side():
    late = Change("Ana", day(36), "drill", "tilt", "attack_deg", 1.0)
    found = taught_slope(fit_with([-3.0] * 6, changes=(late,)), "Ana", "path_deg")
    assert (found.slope, found.weight) == (0.0, 0.0)


def test_a_change_of_the_path_itself_ends_what_is_looked_at():
    turned = Change("Ana", day(28), "drill", "gate", "path_deg", 1.0)
    # the gate's -6 begins at day 28; of the tilt only the session of day 21 is left
    found = taught_slope(
        fit_with([-3.0, -3.0, -3.0, -4.0, -10.0, -10.0], changes=(UP, turned)), "Ana", "path_deg"
    )
    assert found.slope == pytest.approx(-0.5, abs=1e-6)
    same_day = Change("Ana", day(21), "drill", "gate", "path_deg", 1.0)
    both = taught_slope(fit_with([-3.0] * 6, changes=(UP, same_day)), "Ana", "path_deg")
    assert both.weight == 0.0


def test_a_step_that_nobody_logged_is_taken_out_unless_it_came_with_the_change():
    path = [-3.0, -3.0, -3.0, -4.0, -4.0, -8.0]
    later = {("Ana", "path_deg"): (np.full(400, 5), np.full(400, -4.0))}
    found = taught_slope(fit_with(path, jumps=later), "Ana", "path_deg")
    assert found.slope == pytest.approx(-0.5, abs=1e-6)
    with_it = {("Ana", "path_deg"): (np.full(400, 3), np.full(400, -1.0))}
    kept = taught_slope(fit_with([*path[:5], -4.0], jumps=with_it), "Ana", "path_deg")
    assert kept.slope == pytest.approx(-0.5, abs=1e-6)


def test_the_bias_of_a_method_is_no_step():
    # the second method reads half a degree high and is used from the change on
    counts = np.array([[15, 15, 15, 0, 0, 0], [0, 0, 0, 15, 15, 15]])
    fit = fit_with(
        [-3.0, -3.0, -3.0, -3.5, -3.5, -3.5],
        shots={("Ana", "path_deg"): counts}, methods=("photo", "radar"),
    )  # fmt: skip
    fit.bias[:, 1, fit.trait_index("path_deg")] = -0.5
    assert taught_slope(fit, "Ana", "path_deg").slope == pytest.approx(0.0, abs=1e-6)
