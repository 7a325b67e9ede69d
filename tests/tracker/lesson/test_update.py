"""Shots since the fit, laid on the fit's draws, against plain normal algebra."""

from datetime import datetime

import numpy as np
import pytest

from models.tendency.jump_filter import JUMP_VARIANCES
from models.tendency.likelihood import EFFECT_VARIANCES
from tests.fits import day, make_fit
from tracker.lesson.update import live_fit
from tracker.records import Change, Shot
from tracker.store.store import Store

UP = "strike_up_mm"


@pytest.fixture
def store(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'live.db'}") as opened:
        yield opened


def stored(store, values, when, player="Cedar", method="photo", start=1):
    store.add_shots(
        [
            Shot(player, when, start + i, {UP: float(v)}, strike_method=method)
            for i, v in enumerate(values)
        ]
    )
    return store.shots_frame(player)


def one_trait_fit(**changes):
    return make_fit(
        {"Cedar": {UP: -4.0}, "Alder": {UP: 2.0}, "Birch": {UP: 0.0}},
        traits=(UP,), level_sd=1.0, samples=1000, reading_sd={UP: 1.0}, **changes,
    )  # fmt: skip


def normal_answer(mean, variance, values, noise2, session2):
    """Level after one session by the textbook formula for a normal mean."""
    data = session2 + noise2 / len(values)
    gain = variance / (variance + data)
    return mean + gain * (np.mean(values) - mean), variance * (1 - gain)


def test_new_session_moves_the_level_as_normal_algebra_says(store):
    fit = one_trait_fit(shot_sd={UP: 6.0}, session_sd={UP: 2.0}, drift={UP: 0.5})
    when = datetime.combine(day(28), datetime.min.time())
    values = np.linspace(-12, -2, 10)
    found = live_fit(fit, "Cedar", stored(store, values, when), (), when)
    mean, variance = normal_answer(-4.0, 1.0 + 0.25, values, 36 + 1, 4)
    assert found.posterior.level.average()[0] == pytest.approx(mean, abs=0.1)
    assert found.posterior.level.spread()[0] == pytest.approx(np.sqrt(variance), rel=0.06)
    assert found.read[0] == 10
    assert found.earlier[0] == 4 * 15
    assert found.known_player


def test_player_outside_the_fit_starts_from_the_squad(store):
    fit = one_trait_fit(shot_sd={UP: 6.0}, session_sd={UP: 2.0}, spread={UP: 3.0})
    when = datetime(2026, 3, 1)
    values = np.linspace(-12, -2, 10)
    found = live_fit(fit, "Rowan", stored(store, values, when, "Rowan"), (), when)
    mean, variance = normal_answer(0.0, 9.0, values, 36 + 1, 4)
    assert not found.known_player
    assert found.posterior.level.average()[0] == pytest.approx(mean, abs=0.1)
    assert found.posterior.level.spread()[0] == pytest.approx(np.sqrt(variance), rel=0.06)


def test_gross_misread_hardly_moves_the_day(store):
    fit = one_trait_fit(shot_sd={UP: 3.0}, session_sd={UP: 2.0})
    when = datetime.combine(day(28), datetime.min.time())
    clean = live_fit(fit, "Cedar", stored(store, [-4.0] * 9, when), (), when)
    wild = live_fit(fit, "Cedar", stored(store, [39.0], when, start=10), (), when)
    assert wild.posterior.today.average()[0] == pytest.approx(
        clean.posterior.today.average()[0], abs=0.05
    )


def test_unknown_method_leaves_room_for_its_bias(store):
    fit = one_trait_fit(shot_sd={UP: 3.0}, session_sd={UP: 0.5})
    when = datetime.combine(day(28), datetime.min.time())
    known = live_fit(fit, "Cedar", stored(store, [2.0] * 20, when), (), when)
    other = stored(store, [2.0] * 20, when, "Alder", "tape")
    fit_of_alder = live_fit(fit, "Alder", other, (), when)
    assert fit_of_alder.posterior.today.spread()[0] > 1.5 * known.posterior.today.spread()[0]


def test_change_logged_since_the_fit_lets_the_level_jump(store):
    fit = one_trait_fit(shot_sd={UP: 3.0}, session_sd={UP: 1.0}, drift={UP: 0.1})
    when = datetime.combine(day(28), datetime.min.time())
    frame = stored(store, [4.0] * 20, when)
    still = live_fit(fit, "Cedar", frame, (), when)
    change = Change("Cedar", day(25), "drill", "tee it higher", UP)
    jumped = live_fit(fit, "Cedar", frame, (change,), when)
    assert jumped.posterior.level.average()[0] > still.posterior.level.average()[0] + 2
    old = Change("Cedar", day(3), "drill", "in the fit's own time", UP)
    same = live_fit(fit, "Cedar", frame, (old,), when)
    assert same.posterior.level.average()[0] == pytest.approx(still.posterior.level.average()[0])


def test_shots_that_the_fit_has_seen_are_not_counted_again(store):
    fit = one_trait_fit(shots=3)
    when = datetime.combine(day(21), datetime.min.time())
    frame = stored(store, [-4.0, -9.0, 1.0], when)
    found = live_fit(fit, "Cedar", frame, (), when)
    assert found.posterior.draws[0] == pytest.approx(1000)
    assert found.posterior.level.average()[0] == pytest.approx(-4.0, abs=1e-6)
    more = live_fit(fit, "Cedar", stored(store, [-20.0], when, start=4), (), when)
    assert more.posterior.level.average()[0] < -4.05


def test_session_between_fitted_ones_waits_for_the_next_fit(store):
    fit = one_trait_fit()
    stored(store, [0.0], datetime.combine(day(10), datetime.min.time()))
    when = datetime.combine(day(28), datetime.min.time())
    found = live_fit(fit, "Cedar", stored(store, [-4.0], when), (), when)
    assert found.skipped == 1


# --- the model is the fit's own ---

LEVEL, SPREAD, DRIFT, SESSION, SHOT, READ, ALIKE = 0.0, 3.0, 0.6, 3.0, 5.0, 1.0, 0.7
DAYS, BATCHES = (0, 14, 35, 42, 49), (10, 6, 14, 5, 8)
"""The last fitted session is the fourth, of which the fit has seen three readings."""
SEEN = (10, 6, 14, 3, 0)


def season(rng):
    """Shots of each session, from levels and days that go together."""
    level = LEVEL + SPREAD * rng.standard_normal() + 4 * DRIFT * rng.standard_normal(len(DAYS))
    alike = ALIKE ** np.abs(np.subtract.outer(range(len(DAYS)), range(len(DAYS))))
    effects = SESSION * np.linalg.cholesky(alike) @ rng.standard_normal(len(DAYS))
    return [
        m + SHOT * rng.standard_normal(n) for m, n in zip(level + effects, BATCHES, strict=True)
    ]


def dense_posterior(batches):
    """Mean and covariance of levels, then days, at the sessions of all batches."""
    n = len(batches)
    weeks = np.array(DAYS[:n]) / 7
    prior = np.zeros((2 * n, 2 * n))
    prior[:n, :n] = SPREAD**2 + DRIFT**2 * np.minimum.outer(weeks, weeks)
    prior[n:, n:] = SESSION**2 * ALIKE ** np.abs(np.subtract.outer(range(n), range(n)))
    a = np.hstack([np.eye(n), np.eye(n)])
    noise = (SHOT**2 + READ**2) / np.array([len(b) for b in batches])
    gain = prior @ a.T @ np.linalg.inv(a @ prior @ a.T + np.diag(noise))
    mean = np.concatenate([np.full(n, LEVEL), np.zeros(n)])
    error = np.array([np.mean(b) for b in batches]) - a @ mean
    return mean + gain @ error, prior - gain @ a @ prior


@pytest.mark.parametrize("sessions", [4, 5])
@pytest.mark.parametrize("seed", [1, 2])
def test_fit_and_new_shots_end_where_all_shots_at_once_end(store, sessions, seed):
    """Draws of the levels given what the fit has seen; then the rest of a session, and a new one.

    Neighbouring days are alike: what was read before the fit says how the new day should be.
    """
    rng = np.random.default_rng(seed)
    batches = season(rng)
    mean, cov = dense_posterior([b[:n] for b, n in zip(batches[:4], SEEN, strict=False)])
    samples = 20_000
    draws = rng.multivariate_normal(mean[:4], cov[:4, :4], samples)
    fit = make_fit(
        {"Cedar": {UP: draws}}, days=DAYS[:4], samples=samples, traits=(UP,),
        shots={("Cedar", UP): np.array(SEEN[:4])},
        raw_mean={("Cedar", UP): [b[:n].mean() for b, n in zip(batches[:4], SEEN, strict=False)]},
        shot_sd={UP: SHOT}, session_sd={UP: SESSION}, drift={UP: DRIFT}, reading_sd={UP: READ},
        day_alike={UP: ALIKE},
    )  # fmt: skip
    for number, values in zip(DAYS[:sessions], batches, strict=False):
        frame = stored(store, values, moment(number))
    found = live_fit(fit, "Cedar", frame, (), moment(DAYS[sessions - 1])).posterior
    mean, cov = dense_posterior(batches[:sessions])
    level = np.eye(len(mean))[sessions - 1]
    today = level + np.eye(len(mean))[2 * sessions - 1]
    for mixture, pick in ((found.level, level), (found.today, today)):
        sd = np.sqrt(pick @ cov @ pick)
        assert mixture.average()[0] == pytest.approx(pick @ mean, abs=0.04 * sd)
        assert mixture.spread()[0] == pytest.approx(sd, rel=0.04)
    assert found.trusted[0]


def moment(number):
    return datetime.combine(day(number), datetime.min.time())


def test_a_day_alike_takes_part_of_a_surprise(store):
    """The last fitted day read 5 mm high; one that is alike is expected high as well."""
    apart, alike = (
        one_trait_fit(
            shot_sd={UP: 3.0}, session_sd={UP: 3.0}, day_alike={UP: phi},
            raw_mean={("Cedar", UP): [-4.0, -4.0, -4.0, 1.0]},
        )
        for phi in (0.0, 0.8)
    )  # fmt: skip
    frame = stored(store, [1.0] * 10, moment(28))
    levels = [
        live_fit(fit, "Cedar", frame, (), moment(28)).posterior.level.average()[0]
        for fit in (apart, alike)
    ]
    assert levels[1] < levels[0] - 0.3


def mixed_answer(level_sd, weeks, chances, sizes, values, noise2, session2):
    """Mean of the level after one session, a mixture of normal jumps before it."""
    logs, means = [], []
    for chance, size in zip(chances, sizes, strict=True):
        variance = level_sd**2 + 0.1**2 * weeks + size
        total = variance + session2 + noise2 / len(values)
        away = np.mean(values) + 4.0
        logs.append(np.log(chance) - 0.5 * (np.log(total) + away**2 / total))
        means.append(-4.0 + variance / total * away)
    weight = np.exp(np.array(logs) - max(logs))
    return float(weight @ means / weight.sum())


@pytest.mark.parametrize("values", [np.linspace(-6, 0, 12), np.linspace(7, 15, 12)])
def test_an_unlogged_change_since_the_fit_is_likely_where_shots_say_so(store, values):
    fit = one_trait_fit(
        shot_sd={UP: 3.0}, session_sd={UP: 1.5}, drift={UP: 0.1}, jump_chance=0.4, jump_sd={UP: 6.0}
    )
    found = live_fit(fit, "Cedar", stored(store, values, moment(28)), (), moment(28)).posterior
    none = 0.6 ** (1 / 26)
    chances = [none, *[(1 - none) / 3] * 3]
    sizes = [0.0, *(36.0 * np.array(JUMP_VARIANCES))]
    expected = mixed_answer(1.0, 1.0, chances, sizes, values, 9 + 1, 1.5**2)
    assert found.level.average()[0] == pytest.approx(expected, abs=0.15)
    assert found.trusted[0]
    assert (found.level.average()[0] > 4) == (values.mean() > 0)


def test_a_player_whose_change_has_come_has_no_other(store):
    scales = {
        "shot_sd": {UP: 3.0}, "session_sd": {UP: 1.5}, "drift": {UP: 0.1}, "jump_sd": {UP: 6.0},
    }  # fmt: skip
    frame = stored(store, np.linspace(-2, 4, 12), moment(28))
    come = one_trait_fit(jump_chance=0.4, jumps={("Cedar", UP): (2, 4.0)}, **scales)
    never = one_trait_fit(**scales)
    found, expected = (live_fit(f, "Cedar", frame, (), moment(28)).posterior for f in (come, never))
    assert found.level.average()[0] == pytest.approx(expected.level.average()[0])


def test_a_steady_change_goes_on(store):
    scales = {"shot_sd": {UP: 3.0}, "session_sd": {UP: 1.5}}
    steady = one_trait_fit(jumps={("Cedar", UP): (0, 0.5)}, **scales)
    frame = stored(store, [-4.0], moment(28))
    found, still = (
        live_fit(f, "Cedar", frame, (), moment(35)).posterior.before.average()[0]
        for f in (steady, one_trait_fit(**scales))
    )
    assert found == pytest.approx(still + 2 * 0.5, abs=0.05)


def test_a_drill_begun_since_the_fit_is_expected_to_do_what_it_does(store):
    """A drill that others have done, one that nobody has; and one that the fit knew of already."""
    others = Change("Alder", day(3), "drill", "tee it higher", UP)
    begun = Change("Cedar", day(25), "drill", "tee it higher", UP)
    fit = one_trait_fit(
        changes=(others, begun), drill_effect={"tee it higher": {UP: 3.0}}, effect_sd={UP: 2.0},
        change_effect={1: {UP: 50.0}}, drift={UP: 0.001},
    )  # fmt: skip
    nothing = stored(store, [-4.0], moment(0))
    known = live_fit(fit, "Cedar", nothing, (begun,), moment(28)).posterior.before
    assert known.average()[0] == pytest.approx(-4 + 3)
    assert known.spread()[0] == pytest.approx(np.sqrt(1 + 4 * np.mean(EFFECT_VARIANCES)), rel=0.01)
    parts = np.unique(np.round(known.sd[:, 0] ** 2 / 4, 3))
    assert parts == pytest.approx(EFFECT_VARIANCES, abs=0.002)
    tape = Change("Cedar", day(25), "drill", "tape on the face", UP)
    unknown = live_fit(fit, "Cedar", nothing, (tape,), moment(28)).posterior.before
    scale = float(fit.drill_scale[0, 0])
    assert unknown.average()[0] == pytest.approx(-4)
    variance = 1 + scale**2 + 4 * np.mean(EFFECT_VARIANCES)
    assert unknown.spread()[0] == pytest.approx(np.sqrt(variance), rel=0.01)
