from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from tests.fits import day, make_fit
from tracker.errors import NotEnoughData, UnknownPlayer
from tracker.fits.codec import decode, encode
from tracker.posterior import Window
from tracker.records import Change

UP = "strike_up_mm"


@pytest.fixture
def fit():
    return make_fit(
        {"Ann": {UP: [0.0, 2.0, 4.0, 6.0]}, "Bo": {UP: 1.0}},
        changes=[Change("Ann", day(10), "drill", "ladder", UP)],
        change_effect={0: {UP: 1.5}},
        drift={UP: 0.2},
    )


def test_a_stored_fit_reads_back_as_it_was(fit):
    back = decode(encode(fit), fit.info)
    for name in ("level", "shot_sd", "corr", "counts", "session_start", "affects"):
        np.testing.assert_array_equal(getattr(back, name), getattr(fit, name))
    assert back.players == fit.players
    assert back.changes == fit.changes
    assert back.methods == fit.methods


def test_calibrated_physics_and_ball_checks_are_kept_with_the_fit(fit):
    balls = {
        "trait": np.array(["carry_m"]), "player": np.array([1]), "session": np.array([2]),
        "observed": np.array([201.0]), "predicted": np.array([203.5]),
        "uncalibrated": np.array([211.0]), "standard_error": np.array([1.5]),
    }  # fmt: skip
    offsets = np.stack([np.zeros(fit.samples), np.ones(fit.samples)], axis=1)
    physics = {"drag_factor": np.full(fit.samples, 1.03), "restitution": offsets}
    back = decode(encode(replace(fit, physics=physics, ball_check=balls)), fit.info)
    assert back.is_calibrated
    assert not fit.is_calibrated
    assert back.physics_of("Bo")["restitution"].tolist() == [1.0] * fit.samples
    assert back.physics_of("Ann")["drag_factor"][0] == 1.03
    (check,) = back.ball_checks
    assert (check.trait, check.player, check.predicted) == ("carry_m", "Bo", 203.5)
    assert check.start == back.of("Bo", UP).session_means()[2].start


def test_a_window_averages_the_levels_of_its_sessions(fit):
    draws = fit.of("Ann", UP).tendency(Window(day(0), day(7)))
    assert draws.mean() == pytest.approx(1.0, abs=1e-5)


def test_an_empty_window_is_refused_with_what_to_do(fit):
    with pytest.raises(NotEnoughData, match="at least one session"):
        fit.of("Ann", UP).tendency(Window(day(1), day(2)))


def test_the_level_at_a_session_is_the_smoothed_one(fit):
    ann = fit.of("Ann", UP)
    np.testing.assert_allclose(ann.at(ann.starts[1]), ann.path[:, 1])
    np.testing.assert_allclose(ann.at(), ann.path[:, -1])
    np.testing.assert_allclose(ann.now, ann.path[:, -1])


def test_the_level_widens_away_from_the_last_session(fit):
    ann = fit.of("Ann", UP)
    starts, path = ann.starts, ann.path
    later = fit.of("Ann", UP).at(starts[-1] + timedelta(weeks=25))
    assert later.mean() == pytest.approx(path[:, -1].mean(), abs=0.2)
    assert later.var() == pytest.approx(path[:, -1].var() + 0.2**2 * 25, rel=0.15)
    again = fit.of("Ann", UP).at(starts[-1] + timedelta(weeks=25))
    np.testing.assert_array_equal(later, again)


def test_between_sessions_the_step_of_a_change_falls_on_its_day(fit):
    # sessions on days 7 and 14 with levels 2 and 4; the drill of 1.5 starts on day 10, so the
    # walk goes from 2 to 2.5 and half way it stands at 2.25: 2.25 before, 3.75 after the step
    start = datetime.combine(day(0), datetime.min.time())
    before = fit.of("Ann", UP).at(start + timedelta(days=9.99))
    after = fit.of("Ann", UP).at(start + timedelta(days=10.01))
    assert after.mean() - before.mean() == pytest.approx(1.5, abs=0.05)
    assert before.mean() == pytest.approx(2 + 0.5 * 3 / 7, abs=0.05)


def test_the_trend_is_the_slope_a_month(fit):
    assert fit.of("Ann", UP).trend().mean() == pytest.approx(2 / 7 * 365.25 / 12, rel=1e-4)


def test_shot_covariance_is_correlation_times_both_sds():
    fit = make_fit(
        {"Ann": {UP: 0.0}}, shot_sd={UP: 6.0, "attack_deg": 1.5}, corr={(UP, "attack_deg"): -0.3}
    )
    cov = fit.shot_covariance("Ann", (UP, "attack_deg")).mean(axis=0)
    np.testing.assert_allclose(cov, [[36, -2.7], [-2.7, 2.25]], rtol=1e-5)


def test_raw_session_means_come_with_their_counts(fit):
    means = fit.of("Ann", UP).session_means()
    assert [m.shots for m in means] == [15, 15, 15, 15]


def test_an_unknown_player_is_refused_with_the_known_ones(fit):
    with pytest.raises(UnknownPlayer, match="'Cy' is not in the fit; it holds Ann, Bo"):
        fit.of("Cy", UP)
