"""The compiled likelihood of one player against dense normals, and its slopes by differences."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial.hermite import hermgauss
from scipy.special import logsumexp
from scipy.stats import multivariate_normal, norm
from scipy.stats import t as student

from models.sampling.sampler import peak
from models.tendency.density import tendency_target
from models.tendency.jump_filter import (
    ROWS,
    change_mixture,
    filter_forward,
    slope_terms,
    sweep_back,
)
from models.tendency.likelihood import (
    ALIKE,
    DAY_SD,
    DRIFT,
    ENOUGH,
    FIXED,
    JUMP_RATE,
    JUMP_SD,
    MU,
    NODES,
    SHOT_MEAN,
    SHOT_SPREAD,
    SPREAD,
    centre_and_scale,
    node_row,
    player_loglik,
    pooled_sessions,
    scatter_terms,
    squad_loglik,
    student5,
)
from models.tendency.smoother import parameter_rows
from tests.models.tendency.dense import (
    Season,
    Values,
    integrated,
    known_constant,
    season_logp,
)
from tests.models.tendency.seasons import PRIOR, SEASONS, made, peak_of, squad, values_for


def loglik(par, season: Season, information: float | None = None):
    best, found = peak_of(season)
    information = found if information is None else information
    gradient = np.zeros(par.size)
    value = player_loglik(
        par, season.gap, season.count, season.mean, season.scatter, season.scatter_df,
        season.reading2, season.missed, season.centre, season.half, season.other_inside, best,
        information, np.array(season.change_at, np.int64), np.array(season.change_drill, np.int64),
        gradient,
    )  # fmt: skip
    return value, gradient


OTHER = {
    "usual": {},
    "days that are not alike": {"day_alike": 0.0},
    "no unlogged change": {"jump_rate": 0.0, "jump_sd": 0.0},
    "players all alike": {"spread": 0.0, "drift": 0.0},
    "little scatter": {"log_shot_mean": 1.0, "session_sd": 0.2, "jump_rate": 0.2},
}


@pytest.mark.parametrize("other", OTHER.values(), ids=OTHER)
@pytest.mark.parametrize("season", SEASONS.values(), ids=SEASONS)
def test_it_is_the_dense_density_summed_over_the_same_nodes(season, other):
    v = values_for(season, **other)
    best, information = peak_of(season)
    middle, scale = centre_and_scale(v.vector(), best, information)
    places, weights = hermgauss(NODES[node_row(information)])
    terms = [
        np.log(w) + z**2 + season_logp(v, season, middle + np.sqrt(2) * scale * z)
        for z, w in zip(places, weights, strict=True)
    ]
    exact = logsumexp(terms) + np.log(np.sqrt(2) * scale) + known_constant(season)
    assert loglik(v.vector(), season)[0] == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize("shape", SEASONS)
def test_it_is_the_dense_density_integrated(shape):
    """Largest where means contradict the scatter, which alone places the nodes.

    Most of the error is the same whatever the parameters; see below for what is not.
    """
    season = SEASONS[shape]
    v = values_for(season)
    exact = integrated(v, season) + known_constant(season)
    limit = 0.05 if shape == "one session" else 0.02
    assert loglik(v.vector(), season)[0] == pytest.approx(exact, abs=limit)


@pytest.mark.parametrize("other", OTHER.values(), ids=OTHER)
@pytest.mark.parametrize("season", SEASONS.values(), ids=SEASONS)
def test_every_slope_matches_finite_differences(season, other):
    v = values_for(season, **other)
    par = v.vector()
    found = loglik(par, season)[1]
    for place in range(par.size):
        if par[place] == 0 and place < 10:
            continue  # SDs and chances that are fixed at 0 are not sampled
        h = np.eye(par.size)[place] * 1e-5 * max(abs(par[place]), 0.1)
        up, down = loglik(par + h, season)[0], loglik(par - h, season)[0]
        assert found[place] == pytest.approx((up - down) / (2 * h[place]), rel=1e-5, abs=1e-5), (
            place
        )


@pytest.mark.parametrize("df", [0.0, 1.0, 3.0, 12.0, 16.0, 60.0, 600.0])
@pytest.mark.parametrize("other", [{}, {"log_shot_spread": 0.6}, {"log_shot_spread": 0.1}])
def test_slopes_match_however_much_is_known_of_the_scatter(df, other):
    season = made(df=df, seed=20)
    par = values_for(season, **other).vector()
    found = loglik(par, season)[1]
    for place in (5, 6, 3, 1):
        h = np.eye(par.size)[place] * 1e-5
        slope = (loglik(par + h, season)[0] - loglik(par - h, season)[0]) / 2e-5
        assert found[place] == pytest.approx(slope, rel=1e-5, abs=1e-5), place


def integrated_sweeps(par, season: Season, best: float, information: float) -> float:
    """The same filter as the likelihood's, over a log shot SD on a fine grid; no logged change."""
    size = season.gap.size
    work, chance, flat = np.zeros((ROWS, size)), np.empty((size, 3)), np.zeros(size)
    pooled, var = np.empty(size), np.empty(size)
    middle, scale = centre_and_scale(par, best, information)
    grid = middle + scale * np.linspace(-7, 8, 34)
    values = []
    for x in grid:
        value = scatter_terms(
            x, season.scatter, season.scatter_df, season.reading2, 0.0, 0.0, 50.0, 1.0
        )[0]
        value += norm.logpdf(x, par[SHOT_MEAN], par[SHOT_SPREAD])
        value += pooled_sessions(
            x, par[FIXED : FIXED + 1], season.count, season.mean, season.reading2, pooled, var
        )
        value += filter_forward(
            pooled, var, season.gap, flat, flat, par[DRIFT] ** 2, par[MU], par[SPREAD] ** 2,
            par[DAY_SD] ** 2, par[ALIKE], work,
        )  # fmt: skip
        sweep_back(work, size)
        r, n = slope_terms(season.gap, work)
        jump2 = par[JUMP_SD] ** 2
        value += change_mixture(season.gap, par[JUMP_RATE], jump2, r, n, work, chance)
        values.append(value)
    return float(logsumexp(values) + np.log(grid[1] - grid[0]) + 0.5 * np.log(np.pi))


@pytest.mark.parametrize("enough", ENOUGH)
def test_fewer_nodes_move_a_squads_log_likelihood_by_hundredths(enough):
    """What ``ENOUGH`` says: 19 players who all lie just above one of its limits.

    The SD over a posterior is what can bend it; an error that is always the same cannot.
    """
    rng = np.random.default_rng(5)
    seasons = []
    for i in range(19):
        season = made(sessions=8, methods=1, seed=100 + i)
        x = rng.normal(np.log(8), 0.25)
        df = 0.525 * enough * (1 + np.exp(-2 * x)) ** 2
        level = rng.normal(0, 6) + np.cumsum(rng.normal(0, 0.6, 8) * np.sqrt(season.gap))
        count = np.full(8, max(1.0, df / 8 + 1))
        mean = level + rng.normal(0, 3, 8) + rng.normal(0, np.exp(x), 8) / np.sqrt(count)
        scatter = (np.exp(2 * x) + 1) * rng.chisquare(df)
        seasons.append(
            replace(
                season,
                count=count[:, None],
                mean=mean[:, None],
                scatter_df=np.array([df]),
                scatter=np.array([scatter]),
            )
        )
    series = squad(seasons)
    assert ENOUGH.index(enough) in {node_row(i) for i in series.information}
    target = tendency_target(series, PRIOR)
    draws = target.named(peak(target).draws(20, rng))
    errors = []
    for par in parameter_rows(draws, series):
        exact = [
            integrated_sweeps(par, s, b, i)
            for s, b, i in zip(seasons, series.best, series.information, strict=True)
        ]
        errors.append(squad_loglik(par, series.rows())[0] - sum(exact))
    assert np.std(errors) < 0.04


def test_a_squad_is_the_sum_of_its_players():
    seasons = [SEASONS[n] for n in ("two changes", "one session", "five changes", "nothing read")]
    series = squad(seasons, drills=2)
    par = values_for(seasons[0]).vector()
    value, slope = squad_loglik(par, series.rows())
    alone = [loglik(par, s) for s in seasons]
    assert value == pytest.approx(sum(v for v, _ in alone), rel=1e-12)
    np.testing.assert_allclose(slope, sum(g for _, g in alone), rtol=1e-10)


def test_who_was_never_read_says_nothing_of_any_parameter():
    value, slope = loglik(values_for(made()).vector(), SEASONS["nothing read"])
    assert value == pytest.approx(0.5 * np.log(np.pi), abs=1e-9)
    np.testing.assert_allclose(slope, 0, atol=1e-9)


def test_missed_faces_make_wide_scatter_likelier():
    season = SEASONS["missed faces"]
    told = [
        loglik(par, season)[0] - loglik(par, replace(season, missed=0.0))[0]
        for par in (values_for(season, log_shot_mean=x).vector() for x in (1.5, 2.0, 2.5))
    ]
    assert told[0] < told[1] < told[2] < 0


def test_the_tail_of_missed_faces_is_students():
    points = np.array([-6.0, -1.3, 0.0, 0.4, 9.0])
    found = [student5(x) for x in points]
    np.testing.assert_allclose(found, student(5).cdf(points), atol=1e-12)


def test_equal_players_leave_no_spread():
    """Means all alike: the likelihood falls with the spread, and its slope at 0 is finite."""
    seasons = [
        replace(made(sessions=2, methods=1, seed=s), mean=np.zeros((2, 1))) for s in range(6)
    ]
    rows = squad(seasons).rows()
    found = [squad_loglik(Values(mu=0.0, spread=b, bias=(0.0,)).vector(), rows) for b in (0, 2, 5)]
    assert found[0][0] > found[1][0] > found[2][0]
    assert found[0][1][1] == 0  # by the SD, at 0
    assert np.isfinite(found[0][1]).all()


def test_a_squad_without_spread_has_a_density_everywhere():
    seasons = [
        replace(made(sessions=2, methods=1, seed=s), mean=np.zeros((2, 1))) for s in range(6)
    ]
    target = tendency_target(squad(seasons), PRIOR)
    rng = np.random.default_rng(0)
    for size in (0.0, 1.0, 5.0, 30.0):
        value, slope = target.log_density(size * rng.standard_normal(target.size).clip(-1.2, 1.2))
        assert np.isfinite(value)
        assert np.isfinite(slope).all()


def test_summaries_lose_nothing_against_single_readings():
    """Every reading as one entry of a dense normal; the same up to a constant."""
    rng = np.random.default_rng(8)
    season = made()
    count = season.count.astype(int)
    s, m = (np.repeat(i.ravel(), count.ravel()) for i in np.indices(count.shape))
    reading = rng.normal(2, 8, s.size)
    mean, scatter = np.zeros(count.shape), np.zeros(2)
    for i, j in np.argwhere(count > 0):
        own = reading[(s == i) & (m == j)]
        mean[i, j] = own.mean()
        scatter[j] += ((own - own.mean()) ** 2).sum()
    freedom = np.maximum(count - 1, 0).sum(axis=0).astype(float)
    season = replace(season, mean=mean, scatter=scatter, scatter_df=freedom)
    order = np.unique(s, return_inverse=True)[1]
    apart = []
    for x, other in ((1.6, {}), (2.3, {"day_alike": 0.7, "mu": 4.0}), (1.9, {"drift": 3.0})):
        v = Values(jump_rate=0.0, jump_sd=0.0, **other)
        cov = v.spread**2 + v.drift**2 * np.minimum.outer(season.weeks[s], season.weeks[s])
        cov += v.session_sd**2 * v.day_alike ** np.abs(np.subtract.outer(order, order))
        cov += np.diag(np.exp(2 * x) + season.reading2[m])
        exact = multivariate_normal(v.mu + np.array(v.bias)[m], cov).logpdf(reading)
        exact += norm.logpdf(x, v.log_shot_mean, v.log_shot_spread)
        apart.append(season_logp(v, season, x) - exact)
    np.testing.assert_allclose(apart, apart[0], atol=1e-9)
