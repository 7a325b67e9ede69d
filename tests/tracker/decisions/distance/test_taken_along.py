"""What a moved attack angle takes along: against the whole Gaussian model, solved at once."""

import numpy as np
import pytest

from tests.fits import day, make_fit
from tracker.decisions.distance.taken_along import (
    AIMED_ANEW_SD,
    FOLLOWING,
    PLANE_SLOPE_SD,
    PLAYER_SD,
    SHOTS_SD,
    own_slope_draws,
    plane_slopes,
    player_follows,
    players_taught,
    squad_follows,
)
from tracker.decisions.distance.taught import taught_slope
from tracker.records import Change

N = 20_000
DAYS = (0, 7, 14, 21, 28, 35)
SDS = {"attack_deg": 1.2, "path_deg": 1.8}
CORR = {("attack_deg", "path_deg"): -0.3}
EVERY = np.arange(N)
NAMES = ("Ana", "Bo", "Cy")


def follows(fit, player):
    return player_follows(fit, player, "path_deg", EVERY, plane_slopes(N, 1), 1)


def squad(path_of_bo=(-3.0,) * 6, names=NAMES, **kwargs):
    """Bo's attack goes up by 2.5 degrees at the fourth session; everybody's shots tell -.45."""
    up = Change("Bo", day(21), "drill", "tilt", "attack_deg", 1.0)
    levels = {name: {} for name in names} | {"Bo": {"path_deg": list(path_of_bo)}}
    return make_fit(
        levels, days=DAYS, samples=N, level_sd=0.0, shot_sd=SDS, session_sd={"path_deg": 0.3},
        corr=CORR, changes=(up,), change_effect={0: {"attack_deg": np.full(N, 2.5)}}, **kwargs,
    )  # fmt: skip


def solved(fit):
    """Mean and SD of t, of d and of every player's slope, all players at once."""
    known = FOLLOWING["path_deg"]
    names = [p.name for p in fit.players]
    size = 2 + len(names)
    prior = np.zeros((size, size))
    prior[0, :] = prior[:, 0] = known.squad_sd**2
    prior[2:, 2:] = known.squad_sd**2 + PLAYER_SD**2 * np.eye(len(names))
    prior[1, :] = prior[:, 1] = 0.0
    prior[1, 1] = SHOTS_SD**2
    mean = np.array([known.mean, 0.0, *[known.mean] * len(names)])
    rows, seen, errors = [], [], []
    for i, name in enumerate(names):
        own, taught = own_slope_draws(fit, name, "path_deg"), taught_slope(fit, name, "path_deg")
        if own is not None:
            rows.append(np.eye(size)[1] + np.eye(size)[2 + i])
            seen.append(own.mean())
            errors.append(own.var() + SHOTS_SD**2)
        if taught.weight:
            rows.append(np.eye(size)[2 + i])
            seen.append(taught.slope)
            errors.append(1 / taught.weight)
    design = np.array(rows)
    gain = prior @ design.T @ np.linalg.inv(design @ prior @ design.T + np.diag(errors))
    after = prior - gain @ design @ prior
    return mean + gain @ (np.array(seen) - design @ mean), np.sqrt(np.diag(after))


def test_before_anything_is_seen_the_inclined_plane_speaks_and_may_be_aimed_anew():
    # -1 / tan 47 = -.9325; it changes by 1 / sin(47)^2 = 1.87 a radian: 5 degrees are .163
    assert pytest.approx(0.163, abs=0.001) == PLANE_SLOPE_SD
    slopes = plane_slopes(N, 1)
    assert slopes.mean() == pytest.approx(-0.9325, abs=0.01)
    assert slopes.std() == pytest.approx(
        np.sqrt(0.163**2 + AIMED_ANEW_SD**2 + PLAYER_SD**2), rel=0.02
    )


@pytest.mark.parametrize("bo", [(-3.0,) * 6, (-3.0,) * 3 + (-5.3,) * 3])
def test_everybody_s_draws_are_those_of_the_whole_model(bo):
    fit = squad(bo)
    mean, sd = solved(fit)
    for i, name in enumerate(NAMES):
        draws = follows(fit, name)
        assert draws.mean() == pytest.approx(mean[2 + i], abs=0.01)
        assert draws.std() == pytest.approx(sd[2 + i], rel=0.03)
    average = squad_follows(fit, "path_deg", plane_slopes(N, 1))
    assert average.mean() == pytest.approx(mean[0], abs=0.01)
    assert average.std() == pytest.approx(np.hypot(sd[0], PLAYER_SD), rel=0.03)


def test_a_path_that_stayed_when_attack_was_changed_tells_of_everybody():
    still, turned = squad(), squad((-3.0,) * 3 + (-5.3,) * 3)
    for name in ("Bo", "Ana"):
        assert follows(still, name).mean() > follows(turned, name).mean() + 0.15
    assert abs(follows(still, "Bo").mean()) < abs(follows(still, "Ana").mean())
    assert players_taught(still) == 1


def test_the_more_are_changed_the_less_the_shots_count():
    """Five whose path stayed: near 0, though everybody's shots say -.45."""
    names = tuple("ABCDEF")
    changes = tuple(Change(n, day(21), "drill", "tilt", "attack_deg", 1.0) for n in names[:5])
    fit = make_fit(
        {n: {"path_deg": -3.0} for n in names}, days=DAYS, samples=N, level_sd=0.0, shot_sd=SDS,
        session_sd={"path_deg": 0.3}, corr=CORR, changes=changes,
        change_effect={i: {"attack_deg": np.full(N, 2.5)} for i in range(5)},
    )  # fmt: skip
    assert players_taught(fit) == 5
    assert abs(follows(fit, "F").mean()) < 0.2
    mean, sd = solved(fit)
    assert follows(fit, "F").mean() == pytest.approx(mean[7], abs=0.02)
    assert follows(fit, "F").std() == pytest.approx(sd[7], rel=0.03)


def test_a_draw_s_slope_belongs_with_that_draw_s_scatter():
    fit = squad()
    a, b = fit.trait_index("attack_deg"), fit.trait_index("path_deg")
    rho = np.random.default_rng(4).uniform(-0.6, 0.0, N)
    fit.corr[:, 0, a, b] = fit.corr[:, 0, b, a] = rho
    assert np.corrcoef(follows(fit, "Ana"), rho)[0, 1] > 0.2


def test_slopes_stay_inside_what_golfers_do():
    low, high = FOLLOWING["path_deg"].range
    draws = follows(squad(), "Ana")
    assert low <= draws.min() <= draws.max() <= high
