"""Days that resemble their neighbours: found in a squad's sessions, and allowed for in levels."""

from dataclasses import replace

import numpy as np
import pytest

from models.smoother import smooth_levels
from models.traits import MODELLED
from tests.fits import day, make_fit
from tracker.decisions.change import judge_change
from tracker.decisions.history import player_history
from tracker.decisions.likeness import (
    Likeness,
    apart,
    contrast_moments,
    neighbour_likeness,
    neighbouring_days,
    window_levels,
)
from tracker.errors import NotEnoughData
from tracker.posterior import Window

TRAIT = "strike_up_mm"
WEEKLY = tuple(range(0, 84, 7))
EARLY, LATE = Window(day(0), day(27)), Window(day(56), day(77))
SESSION_SD = 3.0


def academy(correlation, seed=4, players=20, traits=(TRAIT,), drift=0.05, samples=200):
    """A squad whose days differ by an autoregression and whose levels stand still at 0, 1, 2..."""
    rng = np.random.default_rng(seed)
    today = np.zeros((players, 12))
    today[:, 0] = rng.standard_normal(players)
    for s in range(1, 12):
        fresh = np.sqrt(1 - correlation**2) * rng.standard_normal(players)
        today[:, s] = correlation * today[:, s - 1] + fresh
    means = {(f"P{i}", TRAIT): i + SESSION_SD * today[i] for i in range(players)}
    return make_fit(
        {f"P{i}": {TRAIT: float(i)} for i in range(players)},
        days=WEEKLY,
        traits=traits,
        samples=samples,
        raw_mean=means,
        shots=400,
        session_sd={TRAIT: SESSION_SD},
        drift={TRAIT: drift},
        spread={TRAIT: 12.0},
        reading_sd={TRAIT: 0.1},
    )


@pytest.mark.parametrize(("truth", "low", "high"), [(0.0, 0.0, 0.15), (0.5, 0.35, 0.6)])
def test_likeness_is_learned_from_the_squad(truth, low, high):
    assert low <= neighbour_likeness(academy(truth), TRAIT).mean <= high


def test_drawn_days_have_the_correlation_asked_for():
    days = neighbouring_days(np.full(20_000, 0.4), 6, np.random.default_rng(1))
    assert days.std(axis=0) == pytest.approx(np.ones(6), abs=0.02)
    assert np.corrcoef(days[:, 2], days[:, 3])[0, 1] == pytest.approx(0.4, abs=0.02)
    assert np.corrcoef(days[:, 2], days[:, 4])[0, 1] == pytest.approx(0.16, abs=0.02)


def test_moments_are_those_of_the_conditional_normal():
    """Worked with the joint covariance written out, for days alike by .3."""
    fit = academy(0.3, players=3)
    history = player_history(fit, TRAIT, 1)
    contrasts = np.array([[0.25] * 4 + [0] * 8, [0] * 8 + [0.25] * 4])
    mean, cov = contrast_moments(history, contrasts, Likeness(np.array([7]), np.array([0.3])))
    weeks = np.arange(12.0)
    level = 12.0**2 + 0.05**2 * np.minimum.outer(weeks, weeks)
    shot = float(fit.shot_sd[7, 1, 0] ** 2 + 0.1**2) / 400
    read = level + 9.0 * 0.3 ** np.abs(np.subtract.outer(weeks, weeks)) + shot * np.eye(12)
    gain = np.linalg.solve(read, level @ contrasts.T).T
    centre = float(fit.mu[7, 0])
    expected = centre + gain @ (fit.raw_mean[1, :, 0] - centre)
    assert mean[0] == pytest.approx(expected, rel=1e-8)
    left = contrasts @ level @ contrasts.T - gain @ level @ contrasts.T
    assert cov[0] == pytest.approx(left, rel=1e-6)


def smoothed(fit, seed=5):
    """The same fit with levels drawn from their posterior, as a real fit has them."""
    level = smooth_levels(
        {
            "mu": fit.mu,
            "spread": fit.spread,
            "drift": fit.drift,
            "session_sd": fit.session_sd,
            "log_shot_sd": np.log(fit.shot_sd),
            "bias": fit.bias,
        },
        count=fit.counts.astype(float),
        mean=np.nan_to_num(fit.raw_mean)[None],
        gap=np.tile([0.0] + [1.0] * 11, (len(fit.players), 1)),
        reading_sd=fit.reading_sd,
        step=np.zeros(fit.level.shape),
        rng=np.random.default_rng(seed),
    )
    return replace(fit, level=level)


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.6])
def test_levels_of_a_real_fit_become_those_of_the_surrogate(correlation):
    fit = smoothed(academy(0.0, drift=1.0, samples=4000))
    likeness = Likeness(apart(fit).draws, np.full(96, correlation))
    early, late = window_levels(fit, "P3", TRAIT, (EARLY, LATE), likeness)
    history = player_history(fit, TRAIT, fit.player_index("P3"))
    contrasts = np.array([[0.25] * 4 + [0] * 8, [0] * 8 + [0.25] * 4])
    mean, cov = contrast_moments(history, contrasts, likeness)
    found = np.stack([early, late])
    assert found.mean(axis=1) == pytest.approx(mean[0], abs=0.08)
    assert np.cov(found) == pytest.approx(cov[0], rel=0.1, abs=0.05)


def test_days_alike_make_a_change_less_sure():
    fit = smoothed(academy(0.0, drift=1.0))
    draws = apart(fit).draws
    spread = [
        float(np.std(np.subtract(*window_levels(fit, "P3", TRAIT, (LATE, EARLY), likeness))))
        for likeness in (Likeness(draws, np.full(96, r)) for r in (0.0, 0.3, 0.6))
    ]
    assert spread[0] < spread[1] < spread[2]


def test_a_verdict_uses_the_likeness_it_is_given():
    fit = academy(0.0, players=4, traits=MODELLED, drift=1.0)
    plain = judge_change(fit, "P3", TRAIT, EARLY, LATE, likeness=apart(fit))
    alike = Likeness(apart(fit).draws, np.full(96, 0.6))
    careful = judge_change(fit, "P3", TRAIT, EARLY, LATE, likeness=alike)
    width = [v.change.high90 - v.change.low90 for v in (plain, careful)]
    assert width[1] > 1.1 * width[0]


def test_a_window_without_readings_is_refused():
    fit, nowhere = academy(0.0), Window(day(300), day(310))
    with pytest.raises(NotEnoughData, match="pick dates"):
        window_levels(fit, "P3", TRAIT, (EARLY, nowhere), apart(fit))
