from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from tests.fits import day, make_fit
from tracker.errors import NotEnoughData, UnknownPlayer
from tracker.fits.codec import decode, encode
from tracker.player_trait import Window
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


def test_the_trend_is_the_slope_a_month_with_the_logged_step_taken_out(fit):
    # 0, 2, 4, 6 less the ladder's 1.5 from the third week on: 0, 2, 2.5, 4.5, slope 1.4 a week
    assert fit.of("Ann", UP).trend().mean() == pytest.approx(1.4 / 7 * 365.25 / 12, rel=1e-4)


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


def test_a_players_trait_holds_only_what_is_the_players_own():
    fit = make_fit(
        {"Ann": {UP: [0.0, 2.0]}, "Bo": {UP: [1.0, 1.0, 5.0]}},
        days={"Ann": (0, 7), "Bo": (0, 7, 14)},
        methods=("photo", "spray"),
        shots={("Ann", UP): np.array([[9, 0], [0, 6]]), ("Bo", UP): 0},
        changes=[
            Change("Bo", day(8), "drill", "ladder", UP),
            Change("Ann", day(5), "setup", "ball forward", "attack_deg"),
            Change("Ann", day(6), "equipment", "new shaft"),
        ],
        change_effect={0: {UP: 1.5}, 2: {UP: -0.5}},
    )
    ann, bo = fit.of("Ann", UP), fit.of("Bo", UP)
    assert ann.starts == fit.sessions("Ann")
    assert ann.path.shape == (fit.samples, 2)
    assert bo.path.shape == (fit.samples, 3)
    assert [c.name for c in ann.changes] == ["new shaft"]
    assert [c.name for c in bo.changes] == ["ladder"]
    assert ann.change_effect[0][0] == -0.5
    assert bo.change_effect[0][0] == 1.5
    assert (ann.readings, ann.is_read, ann.places_read.tolist()) == (15, True, [0, 1])
    assert (bo.readings, bo.is_read, bo.places_read.tolist()) == (0, False, [])
    assert ann.methods_in(np.array([1])) == {"spray"}


def test_the_squad_is_asked_by_names(fit):
    squad = fit.squad(UP)
    assert list(squad.players) == list(squad.levels) == ["Ann", "Bo"]
    assert squad.levels["Ann"].mean() == pytest.approx(6.0, abs=1e-5)
    assert squad.levels["Bo"].mean() == pytest.approx(1.0, abs=1e-5)
    assert list(squad.drill_effect) == ["ladder"]
    assert squad.drill_effects([]).shape == (fit.samples, 0)
    assert squad.drill_effects(["ladder", "ladder"]).shape == (fit.samples, 2)
    assert squad.is_read
    assert not make_fit({"Ann": {}}, shots=0).squad(UP).is_read
    assert fit.knows("Bo")
    assert not fit.knows("Cy")


def test_a_method_that_only_another_trait_has_is_no_method_of_this_one():
    fewer = replace(
        make_fit({"Ann": {UP: 0.0}}, methods=("photo", "spray")),
        methods=(("photo",), *[("photo", "spray")] * 6),
    )
    toe, up = fewer.of("Ann", fewer.traits[0]), fewer.of("Ann", fewer.traits[1])
    assert (toe.methods, toe.counts.shape[0], toe.bias.shape[1]) == (("photo",), 1, 1)
    assert (len(up.methods), up.counts.shape[0], up.reading_sd.size) == (2, 2, 2)


def test_an_unmodelled_trait_is_refused_with_the_modelled_ones(fit):
    for ask in (lambda: fit.of("Ann", "carry_m"), lambda: fit.squad("carry_m")):
        with pytest.raises(NotEnoughData, match="'carry_m' is not in the fit; it holds strike_toe"):
            ask()


def test_a_single_step_is_no_trend_whether_logged_or_found():
    # +4 mm before the third of four sessions, logged for Ann and found for Ben, while Cy creeps
    step, creep = np.array([0.0, 0.0, 4.0, 4.0]), np.array([0.0, 1.0, 2.0, 3.0])
    draws = {"Ann": step, "Ben": step, "Cy": creep}
    fit = make_fit(
        {name: {UP: np.tile(path, (8, 1))} for name, path in draws.items()},
        samples=8,
        changes=[Change("Ann", day(14), "drill", "ladder", UP)],
        change_effect={0: {UP: 4.0}},
        jumps={("Ben", UP): (2, 4.0)},
    )
    assert fit.of("Ann", UP).trend() == pytest.approx(0.0)
    assert fit.of("Ben", UP).trend() == pytest.approx(0.0)
    assert fit.of("Cy", UP).trend() == pytest.approx(365.25 / 12 / 7, rel=1e-4)
    assert fit.of("Cy", UP).trend(np.array([0, 3])) == pytest.approx(365.25 / 12 / 7, rel=1e-4)
