import numpy as np
import pytest

from models.drive.parameters import default_parameters, draw_parameters
from tests.fits import make_fit, noise
from tracker.decisions.distance.player_physics import (
    path_follows_attack,
    player_physics,
    squad_physics,
)
from tracker.decisions.distance.taken_along import (
    FOLLOWING,
    LEAST_READINGS,
    own_slope_draws,
    plane_slopes,
)

SDS = {"attack_deg": 1.2, "loft_deg": 1.5}
N = 20_000


def _fit(corr, **kwargs):
    pair = {("attack_deg", "loft_deg"): corr}
    return make_fit(
        {"Ana": {}}, samples=kwargs.pop("samples", 400), shot_sd=SDS, corr=pair, **kwargs
    )


def _kappa(fit, kept=None):
    places = np.arange(fit.samples) if kept is None else kept
    return player_physics(fit, "Ana", places, 1).loft_follows_attack


def test_own_slope_is_the_regression_of_loft_on_attack():
    # .48 * 1.5 / 1.2 = .6
    np.testing.assert_allclose(own_slope_draws(_fit(0.48), "Ana"), 0.6, rtol=1e-6)


def test_kappa_puts_slope_and_prior_together_by_precision():
    # prior .7 +- .25; slope .6 known exactly, standing for the habit to .2: precisions 16 and 25,
    # mean (.7 * 16 + .6 * 25) / 41 = .6390, SD 1 / sqrt(41) = .1562
    kappa = _kappa(_fit(0.48, samples=N))
    assert kappa.mean() == pytest.approx(0.6390, abs=0.005)
    assert kappa.std() == pytest.approx(0.1562, rel=0.03)


def test_a_slope_that_is_hardly_known_leaves_kappa_near_the_prior():
    fit = _fit(0.0, samples=N)
    a, b = fit.trait_index("attack_deg"), fit.trait_index("loft_deg")
    rho = np.clip(0.4 * noise(N, seed=4), -0.95, 0.95)  # slope 0 +- .5
    fit.corr[:, 0, a, b] = fit.corr[:, 0, b, a] = rho
    slope_sd = float((rho * 1.5 / 1.2).std())
    seen = 1 / (slope_sd**2 + 0.2**2)
    kappa = _kappa(fit)
    assert kappa.mean() == pytest.approx(0.7 * 16 / (16 + seen), abs=0.01)
    assert kappa.std() == pytest.approx(1 / np.sqrt(16 + seen), rel=0.05)
    # a draw's kappa goes with that draw's slope
    assert np.corrcoef(kappa, rho)[0, 1] > 0.2


@pytest.mark.parametrize("missing", ["attack_deg", "loft_deg"])
def test_without_enough_readings_of_both_kappa_is_the_prior(missing):
    few = [LEAST_READINGS // 4 - 1] * 4
    fit = _fit(0.8, shots={("Ana", missing): few})
    prior = draw_parameters(400, np.random.default_rng(1))
    assert own_slope_draws(fit, "Ana") is None
    np.testing.assert_allclose(_kappa(fit), prior.loft_follows_attack)


def test_kappa_calibrated_for_the_player_wins_and_keeps_its_draws():
    mine = np.linspace(0.2, 0.9, 400)
    fit = _fit(0.8, physics={"loft_follows_attack": mine[:, None]})
    np.testing.assert_array_equal(_kappa(fit), mine)
    np.testing.assert_array_equal(_kappa(fit, np.array([3, 250])), mine[[3, 250]])


def test_constants_that_were_not_calibrated_come_from_the_published_prior():
    fit = _fit(0.5, physics={"restitution": np.full(400, 0.81)})
    found = player_physics(fit, "Ana", np.arange(400), 1)
    assert set(np.unique(found.restitution)) == {0.81}
    drawn = draw_parameters(400, np.random.default_rng(1))
    np.testing.assert_array_equal(found.drag_constant, drawn.drag_constant)
    assert found.reynolds_onset == default_parameters().reynolds_onset


def test_own_shots_and_the_plane_are_put_together_by_precision():
    # own slope -.3 * 1.8 / 1.2 = -.45, standing for the habit to .2; before -.9325, of variance
    # .163^2 + .45^2 + .15^2 = .2516: weight .2516 / (.2516 + .04) = .863, mean -.516
    pair = {("attack_deg", "path_deg"): -0.3}
    fit = make_fit({"Ana": {}}, samples=N, shot_sd={"attack_deg": 1.2, "path_deg": 1.8}, corr=pair)
    slopes = path_follows_attack(fit, "Ana", np.arange(N), 1)
    assert slopes.mean() == pytest.approx(-0.516, abs=0.01)
    few = [LEAST_READINGS // 4 - 1] * 4
    unread = make_fit({"Ana": {}}, samples=N, shots={("Ana", "path_deg"): few}, corr=pair)
    np.testing.assert_allclose(
        path_follows_attack(unread, "Ana", np.arange(N), 1),
        np.clip(plane_slopes(N, 1), *FOLLOWING["path_deg"].range),
    )


def test_an_average_player_has_the_mean_of_the_squads_heads():
    heads = np.tile([0.79, 0.83], (400, 1))
    fit = make_fit({"Ana": {}, "Bo": {}}, physics={"restitution": heads})
    np.testing.assert_allclose(squad_physics(fit, np.arange(5), 1).restitution, 0.81)


@pytest.mark.parametrize(("readings", "asked"), [(20, True), (19, False)])
def test_an_own_slope_is_asked_from_twenty_readings_of_both_on(readings, asked):
    few = {("Ana", "loft_deg"): [readings - 3, 1, 1, 1]}
    assert (own_slope_draws(_fit(0.48, shots=few), "Ana") is not None) is asked
