"""The closed form against normals written out one by one, and against drawn levels."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy import stats

from models.tendency import density
from models.tendency.data import TraitSeries
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY, STEADY_WEEKS
from models.tendency.likelihood import EFFECT_VARIANCES
from models.tendency.smoother import smoothed
from models.tendency.surrogate import (
    HALF_YEAR_WEEKS,
    Scales,
    chance_edges,
    chances,
    judged,
    neighbouring_days,
    season,
    window_contrast,
)

WEEKS = np.array([0.0, 1.0, 3.0, 4.0, 8.0, 9.0])
STARTED = np.array([[False, False, False, True, True, True], [False] * 5 + [True]])
NOISE = np.array([[4.0, 5.0, np.inf, 4.0, 6.0, 4.0], [2.0, 2.5, np.inf, 2.0, 3.0, 2.0]])
READ = np.array([0, 1, 3, 4, 5])
SCALES = Scales(
    mean=np.array([1.0, -2.0]),
    between=np.array([36.0, 25.0]),
    drift=np.array([0.5, 0.1]),
    session=np.array([9.0, 4.0]),
    alike=np.array([0.4, 0.0]),
    rate=np.array([0.03, 0.06]),
    jump=np.array([25.0, 16.0]),
    change_mean=np.array([[1.5, -1.0], [0.0, 0.5]]),
    change=np.array([[16.0, 4.0], [9.0, 1.0]]),
    change_open=np.array([[0.0, 3.0], [2.0, 0.0]]),
)
MEANS = np.array([[0.0, 2.0, 0.0, 9.0, 8.0, 10.5], [3.0, 1.0, 0.0, 2.0, 0.0, 1.0]])
BIAS = np.array([[0.0] * 6, [0.5] * 6])
EARLY_LATE = np.array([-0.5, -0.5, 0.0, 1 / 3, 1 / 3, 1 / 3])


def components(draw, upto, contrast):
    """Weight, mean and variance of every component, from joint normals of readings and levels."""
    read = READ[upto > READ]
    weeks = WEEKS[upto - 1]
    place = np.arange(read.size)
    day = SCALES.session[draw] * SCALES.alike[draw] ** np.abs(np.subtract.outer(place, place))
    none = np.exp(-SCALES.rate[draw] * weeks)
    kinds = [(none, np.zeros(6), 0.0, -1)]
    for v in JUMP_VARIANCES:
        size = SCALES.jump[draw] * v
        kinds.append(((1 - none) * STEADY / 3, WEEKS, size / STEADY_WEEKS**2, 0))
        for s in range(1, upto):
            chance = (1 - none) * (1 - STEADY) / 3 * (WEEKS[s] - WEEKS[s - 1]) / weeks
            kinds.append((chance, 1.0 * (np.arange(6) >= s), size, s))
    found = []
    for parts in product(EFFECT_VARIANCES, repeat=2):
        for chance, x, size, s in kinds:
            cov = SCALES.between[draw] + SCALES.drift[draw] * np.minimum.outer(WEEKS, WEEKS)
            cov += size * np.outer(x, x)
            for c, part in enumerate(parts):
                step = SCALES.change[draw, c] * part + SCALES.change_open[draw, c]
                cov += step * np.outer(STARTED[c], STARTED[c])
            mean = SCALES.mean[draw] + SCALES.change_mean[draw] @ STARTED
            y_mean, y_cov = (mean + BIAS[draw])[read], cov[np.ix_(read, read)] + day
            y_cov = y_cov + np.diag(NOISE[draw, read])
            gain = np.linalg.solve(y_cov, cov[read] @ contrast)
            for y, row in enumerate(MEANS):
                told = stats.multivariate_normal(y_mean, y_cov).pdf(row[read])
                centre = contrast @ mean + gain @ (row[read] - y_mean)
                left = contrast @ cov @ contrast - gain @ cov[read] @ contrast
                found.append((y, chance / 9 * told, centre, left, s))
    return found


def expected(draws, upto, contrast, y, edge=0.0):
    rows = [r for d in draws for r in components(d, upto, contrast) if r[0] == y]
    weight, mean, var, place = (np.array([r[i] for r in rows]) for i in range(1, 5))
    share = weight / weight.sum()
    above = share @ stats.norm.sf(edge, mean, np.sqrt(var))
    centre = share @ mean
    by_place = [share[place == s].sum() for s in range(6)]
    return above, centre, share @ (mean**2 + var) - centre**2, by_place, weight.sum()


@pytest.mark.parametrize("upto", [2, 4, 6])
def test_answers_are_those_of_joint_normals_written_out(upto):
    known = season(SCALES, WEEKS, NOISE, STARTED, BIAS)
    found = judged(known, MEANS, [(upto, EARLY_LATE)], (0.0, 4.0))
    for y in range(2):
        above, mean, variance, by_place, told = expected((0, 1), upto, EARLY_LATE, y)
        beyond, *_ = expected((0, 1), upto, EARLY_LATE, y, 4.0)
        assert found.above[y, 0] == pytest.approx([above, beyond], abs=1e-5)
        assert found.mean[y, 0] == pytest.approx(mean, rel=1e-5)
        assert found.variance[y, 0] == pytest.approx(variance, rel=1e-5)
        assert found.unlogged[y, 0] == pytest.approx(by_place, abs=1e-5)
        assert found.jump[y, 0] == pytest.approx(sum(by_place[1:]), abs=1e-5)
        mixed = np.exp(found.evidence[y, 0]).mean(axis=0)
        assert mixed.sum() == pytest.approx(told, rel=1e-8)


def test_looks_of_a_season_are_those_of_its_first_sessions_alone():
    known = season(SCALES, WEEKS, NOISE, STARTED, BIAS)
    first = np.array([-1.0, 1.0, 0.0, 0.0, 0.0, 0.0])
    both = judged(known, MEANS, [(2, first), (6, EARLY_LATE)])
    short = season(SCALES, WEEKS[:2], NOISE[:, :2], STARTED[:, :2], BIAS[:, :2])
    alone = judged(short, MEANS[:, :2], [(2, first[:2])])
    assert both.above[:, 0] == pytest.approx(alone.above[:, 0], rel=1e-9)
    assert both.above[:, 1] == pytest.approx(judged(known, MEANS, [(6, EARLY_LATE)]).above[:, 0])


def test_draws_that_have_seen_the_first_sessions_are_not_told_them_again():
    known = season(SCALES, WEEKS, NOISE, STARTED, BIAS)
    seen = judged(known, MEANS, [(4, EARLY_LATE)], given=4)
    for y in range(2):
        by_draw = [expected((d,), 4, EARLY_LATE, y)[0] for d in (0, 1)]
        assert seen.above[y, 0, 0] == pytest.approx(np.mean(by_draw), abs=1e-5)
    more = judged(known, MEANS, [(6, EARLY_LATE)], given=4)
    told = [[expected((d,), n, EARLY_LATE, 0) for d in (0, 1)] for n in (4, 6)]
    fresh = np.array([told[1][d][4] / told[0][d][4] for d in (0, 1)])
    by_draw = np.array([told[1][d][0] for d in (0, 1)])
    assert more.above[0, 0, 0] == pytest.approx(fresh @ by_draw / fresh.sum(), abs=1e-5)


def test_a_gross_step_is_found_where_it_is_and_the_levels_follow():
    """Known scales, no walk: a step of 40 between SD-1 sessions leaves no doubt of its place."""
    one = Scales(*(np.array([v]) for v in (0.0, 100.0, 1e-8, 0.5, 0.0, 0.02, 49.0)),
                 *(np.zeros((1, 0)) for _ in range(3)))  # fmt: skip
    known = season(one, np.arange(8.0), np.full((1, 8), 0.5), np.zeros((0, 8), dtype=bool))
    means = np.array([[0.0] * 4 + [40.0] * 4])
    contrast = window_contrast(np.arange(4), np.arange(4, 8), 8)
    found = judged(known, means, [(8, contrast)], (0.0, 38.0, 42.0))
    assert found.unlogged[0, 0, 4] > 0.999
    # two means of four with variance 1 each: d-hat 40 with variance 1/2, shrunk a little
    assert found.mean[0, 0] == pytest.approx(40.0, abs=0.5)
    assert found.variance[0, 0] == pytest.approx(0.5, rel=0.05)


def series():
    """One player as the smoother takes it, the shot SD known from very many shots."""
    count = np.where(np.arange(6) == 2, 0.0, [16.0, 12.0, 1.0, 20.0, 9.0, 16.0])
    shots = 1e6
    return TraitSeries(
        first=np.array([0, 6]), gap=np.diff(WEEKS, prepend=0.0), count=count[:, None],
        mean=MEANS[0][:, None], scatter=np.array([[shots * 64.0]]),
        scatter_df=np.array([[shots]]), reading2=np.zeros(1), missed=np.zeros(1),
        centre=np.zeros(1), half=1.0, other_inside=np.zeros(1), best=np.log([8.0]),
        information=np.array([2 * shots]), change_first=np.array([0, 2]),
        change_at=np.array([3, 5]), change_group=np.array([0, 1]), effect=np.array([0, 1]),
        groups=np.array([0, 1]),
    )  # fmt: skip


def test_drawn_levels_and_jumps_of_the_smoother_agree():
    number = 40_000
    given = {
        "mu": 1.0, "spread": 6.0, "drift": 0.7, "session_sd": 3.0, "day_alike": 0.4,
        "log_shot_mean": np.log(8.0), "log_shot_spread": 0.2, "effect_sd": 3.0, "jump_sd": 5.0,
        "jump_chance": 0.5,
    }  # fmt: skip
    draws = {name: np.full(number, value) for name, value in given.items()}
    draws["group_effect"] = np.tile([1.5, -1.0], (number, 1))
    one = series()
    drawn = smoothed(draws, one, np.random.default_rng(5))
    scales = Scales(
        mean=np.array([1.0]), between=np.array([36.0]), drift=np.array([0.49]),
        session=np.array([9.0]), alike=np.array([0.4]), rate=np.array([np.log(2.0) / 26]),
        jump=np.array([25.0]), change_mean=np.array([[1.5, -1.0]]), change=np.full((1, 2), 9.0),
        change_open=np.zeros((1, 2)),
    )  # fmt: skip
    with np.errstate(divide="ignore"):
        noise = 64.0 / one.count.T
    known = season(scales, WEEKS, noise, STARTED)
    found = judged(known, MEANS[:1], [(6, EARLY_LATE)], (0.0, 5.0, 9.0))
    change = drawn.level @ EARLY_LATE
    error = 4 / np.sqrt(number)
    assert found.mean[0, 0] == pytest.approx(change.mean(), abs=error * change.std())
    assert found.variance[0, 0] == pytest.approx(change.var(), rel=0.04)
    for edge, above in zip((0.0, 5.0, 9.0), found.above[0, 0], strict=True):
        assert above == pytest.approx(np.mean(change > edge), abs=0.5 * error)
    for s in range(6):
        share = np.mean(drawn.jump_at == s)
        assert found.unlogged[0, 0, s] == pytest.approx(share, abs=0.5 * error)


def test_earlier_changes_than_the_last_three_are_normal():
    started = np.arange(6) >= np.arange(1, 5)[:, None]
    four = replace(
        SCALES,
        change_mean=np.zeros((2, 4)),
        change=np.full((2, 4), 4.0),
        change_open=np.zeros((2, 4)),
    )
    known = season(four, WEEKS, NOISE, started)
    assert known.level_cov.shape[0] == 27
    first_step = known.level_cov[:, 0, 1, 1] - 36.0 - 0.5
    assert first_step == pytest.approx(np.full(27, 4.0 * np.mean(EFFECT_VARIANCES)))


def test_chances_of_one_draw_are_those_of_a_normal():
    # d ~ N(2, 1): P(d > 0) = Phi(2), P(d > 1) = Phi(1), P(|d| < 1) = Phi(-1) - Phi(-3)
    edges = np.array(chance_edges(1.0))
    above = stats.norm.sf(edges[None] - np.array([[2.0], [-2.0]]))
    found = chances(above)
    assert found.sign.tolist() == [1.0, -1.0]
    assert found.direction == pytest.approx([0.977249868] * 2)
    assert found.worthwhile == pytest.approx([0.841344746] * 2)
    assert found.no_worthwhile == pytest.approx([0.158655254 - 0.001349898] * 2)


def test_half_a_year_is_as_long_as_in_the_density():
    assert HALF_YEAR_WEEKS == density.HALF_YEAR_WEEKS


def test_windows_average_their_sessions():
    weights = window_contrast(np.array([0, 1]), np.array([3, 4, 5]), 7)
    assert weights == pytest.approx([-0.5, -0.5, 0, 1 / 3, 1 / 3, 1 / 3, 0])


def test_drawn_days_have_the_correlation_asked_for():
    days = neighbouring_days(np.full(20_000, 0.4), 6, np.random.default_rng(1))
    assert days.std(axis=0) == pytest.approx(np.ones(6), abs=0.02)
    assert np.corrcoef(days[:, 2], days[:, 3])[0, 1] == pytest.approx(0.4, abs=0.02)
    assert np.corrcoef(days[:, 2], days[:, 4])[0, 1] == pytest.approx(0.16, abs=0.02)
