"""What drills do on average, new or done: the same prior and readings weighed by sampling."""

from dataclasses import replace

import numpy as np
import pytest

from tests.fits import day, make_fit, noise
from tracker.decisions.distance.drill_sizes import logged_drill_means, next_drill_means
from tracker.decisions.distance.lever_inputs import LeverInputs, Logged, Sizes, lever_inputs
from tracker.records import Change

UP, TOE, FACE = "strike_up_mm", "strike_toe_mm", "face_deg"
BETWEEN = {UP: 8.0, TOE: 10.0, FACE: 2.0}
SCALE = 3.0
"""The model's prior SD of a drill's mean, in B."""
N = 8000
EVERY = np.arange(N)


def inputs_of(*logged):
    sizes = {
        t: Sizes(np.full(N, b), np.zeros(N), np.full(N, SCALE * b)) for t, b in BETWEEN.items()
    }
    return LeverInputs(logged, sizes, {}, {}, None, tuple(BETWEEN))


def done(trait, share, error, way=1.0):
    """A drill whose readings alone say ``share`` of B, give or take ``error`` of B."""
    variance = 1 / (1 / error**2 + 1 / SCALE**2)
    mean = share * variance / error**2
    exact = (noise(N, seed=4) - noise(N, seed=4).mean()) / noise(N, seed=4).std()
    draws = way * BETWEEN[trait] * (mean + np.sqrt(variance) * exact)
    return Logged(f"{trait} {share}", "drill", trait, draws, (draws,), None, way=way)


def drawn(trait, *logged):
    return next_drill_means(inputs_of(*logged), trait, EVERY, np.random.default_rng(1))


def weighed(told, logged=None):
    """Mean and SD of the next drill, in B, by weighing a million draws of the prior.

    ``told``: (share, error, count) of each drill. With ``logged`` of that one of them.
    """
    rng = np.random.default_rng(2)
    number = 1_000_000
    s = np.sqrt(4 * 0.41**2 / rng.chisquare(4, number))
    s = s[s < 2]
    m = rng.normal(0.41, s / np.sqrt(2))
    log_weight = np.zeros(s.size)
    for share, error, count in told:
        variance = s**2 + error**2
        log_weight -= count * (np.log(variance) + (share - m) ** 2 / variance) / 2
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    if logged is not None:
        share, error, _ = told[logged]
        own = s**2 / (s**2 + error**2)
        means, variances = own * share + (1 - own) * m, own * error**2
    else:
        means, variances = m, s**2
    mean = float(weight @ means)
    return mean, float(np.sqrt(weight @ (variances + (means - mean) ** 2)))


DRILLS_AND_WHAT_THEY_TELL = [
    ((), ()),
    ((done(UP, 1.2, 0.2),), ((1.2, 0.2, 1.0),)),
    ((done(UP, 0.0, 0.1), done(TOE, 0.9, 0.3)), ((0.0, 0.1, 1.0), (0.9, 0.3, 0.5))),
    (
        (done(UP, -0.2, 0.2, way=-1.0), done(UP, 0.6, 0.2), done(FACE, 0.5, 0.4, way=-1.0)),
        ((-0.2, 0.2, 1.0), (0.6, 0.2, 1.0), (0.5, 0.4, 0.5)),
    ),
]


@pytest.mark.parametrize(("logged", "told"), DRILLS_AND_WHAT_THEY_TELL)
def test_it_is_what_the_prior_and_the_drills_done_say(logged, told):
    mean, sd = weighed(told)
    found = drawn(UP, *logged) / BETWEEN[UP]
    assert found.mean() == pytest.approx(mean, abs=0.01)
    assert found.std() == pytest.approx(sd, rel=0.03)


@pytest.mark.parametrize(("logged", "told"), DRILLS_AND_WHAT_THEY_TELL[1:])
def test_a_drill_that_was_done_is_drawn_toward_the_others(logged, told):
    for place, one in enumerate(logged):
        if one.trait != UP:
            continue  # counts are those of the drills of UP
        mean, sd = weighed(told, place)
        found = one.way * logged_drill_means(inputs_of(*logged), one, EVERY) / BETWEEN[UP]
        assert found.mean() == pytest.approx(mean, abs=0.01)
        assert found.std() == pytest.approx(sd, rel=0.03)


def test_a_logged_drill_keeps_the_standing_of_each_draw():
    one = done(UP, 0.8, 0.3)
    found = logged_drill_means(inputs_of(one), one, EVERY)
    np.testing.assert_array_equal(np.argsort(found), np.argsort(one.mean))


def test_a_drill_that_nobody_has_begun_is_what_the_model_says():
    waiting = replace(done(UP, 0.8, 0.3), responses=())
    found = logged_drill_means(inputs_of(waiting), waiting, EVERY)
    np.testing.assert_array_equal(found, waiting.mean)


def test_without_a_drill_in_the_log_one_chosen_to_help_does_harm_one_time_in_four_or_five():
    assert 1 / 5 < np.mean(drawn(UP) < 0) < 1 / 4


def test_drills_that_work_here_promise_more_of_a_new_one_most_for_their_own_trait():
    works = done(UP, 1.2, 0.2)
    own, other = drawn(UP, works) / BETWEEN[UP], drawn(TOE, works) / BETWEEN[TOE]
    nothing = drawn(UP, done(UP, 0.0, 0.1)) / BETWEEN[UP]
    assert own.mean() > other.mean() > 0.41 > nothing.mean()


def test_a_drill_that_the_readings_hardly_know_teaches_next_to_nothing():
    assert drawn(UP, done(UP, 3.0, 9.0)).mean() == pytest.approx(drawn(UP).mean(), rel=0.05)


def test_a_drill_is_meant_from_where_its_doers_began_toward_the_usual_best():
    on = day(10)
    low = Change("Ann", on, "drill", "up", UP, None)
    high = Change("Bo", on, "drill", "down", UP, None)
    fit = make_fit({"Ann": {UP: -30.0}, "Bo": {UP: 30.0}}, changes=[low, high])
    found = {one.name: one.way for one in lever_inputs(fit, None).logged}
    assert found == {"up": 1.0, "down": -1.0}
