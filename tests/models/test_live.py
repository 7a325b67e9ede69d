"""The live update against dense normal algebra, ArviZ's smoothing, and a full fit."""

import numpy as np
import pandas as pd
import pytest
from arviz_stats.base import array_stats

from models.live import LiveParameters, Mixture, NewSession, Readings, live_update
from models.pareto_smoothing import effective_draws, smoothed_log_weights
from synthetic_data import AcademySpec, make_academy
from tracker.dataset import squad_data
from tracker.live_update import live_fit
from tracker.records import Change

SHOT, READ, SESSION, DRIFT = 6.0, 2.0, 2.5, 0.5


def readings(values=(), methods=1, method=0):
    values = np.asarray(values, dtype=float)
    count, mean, squares = (np.zeros((methods, 1)) for _ in range(3))
    if values.size:
        count[method], mean[method] = values.size, values.mean()
        squares[method] = ((values - values.mean()) ** 2).sum()
    return Readings(count, mean, squares)


def session(values, *, weeks=1.0, seen=(), samples=1, step=(0.0, 0.0)):
    mean, variance = (np.full((samples, 1), v) for v in step)
    return NewSession(weeks, mean, variance, readings(values), readings(seen))


def parameters(samples=1, session_sd=SESSION, bias=0.0):
    full = np.ones((samples, 1))
    return LiveParameters(
        DRIFT * full, session_sd * full, SHOT * full, np.full((samples, 1, 1), bias),
        np.array([[READ]]),
    )  # fmt: skip


def dense(mean, variance, sessions, bias=0.0):
    """Condition (levels, session effects) on every shot by plain normal algebra."""
    s = len(sessions)
    prior_mean, prior = np.zeros(2 * s), np.zeros((2 * s, 2 * s))
    level_mean, level_variance = mean, variance
    variances = []
    for j, (_, weeks, step) in enumerate(sessions):
        level_mean += step[0]
        level_variance += DRIFT**2 * weeks + step[1]
        prior_mean[j] = level_mean
        variances.append(level_variance)
    for i in range(s):
        for j in range(s):
            prior[i, j] = variances[min(i, j)]
        prior[s + i, s + i] = SESSION**2
    rows, values = [], []
    for j, (shots, _, _) in enumerate(sessions):
        for shot in shots:
            row = np.zeros(2 * s)
            row[j] = row[s + j] = 1
            rows.append(row)
            values.append(shot - bias)
    a = np.array(rows)
    f = a @ prior @ a.T + (SHOT**2 + READ**2) * np.eye(len(values))
    gain = prior @ a.T @ np.linalg.inv(f)
    after = prior_mean + gain @ (np.array(values) - a @ prior_mean)
    return after, prior - gain @ a @ prior, s


def test_one_draw_is_exact_over_several_sessions_and_a_logged_change():
    rng = np.random.default_rng(3)
    days = [
        (rng.normal(-5, 7, 8), 2.0, (0.0, 0.0)),
        (rng.normal(0, 7, 5), 1.0, (3.0, 1.5**2)),
        (rng.normal(1, 7, 11), 0.5, (0.0, 0.0)),
    ]
    found = live_update(
        parameters(bias=1.2), np.array([[-4.0]]), np.array([[9.0]]),
        [session(v, weeks=w, step=s) for v, w, s in days],
    )  # fmt: skip
    mean, cov, s = dense(-4.0, 9.0, days, bias=1.2)
    assert found.level.mean[0, 0] == pytest.approx(mean[s - 1])
    assert found.level.sd[0, 0] == pytest.approx(np.sqrt(cov[s - 1, s - 1]))
    assert found.effect.mean[0, 0] == pytest.approx(mean[-1])
    assert found.effect.sd[0, 0] == pytest.approx(np.sqrt(cov[-1, -1]))
    both = np.zeros(2 * s)
    both[[s - 1, 2 * s - 1]] = 1
    assert found.today.mean[0, 0] == pytest.approx(both @ mean)
    assert found.today.sd[0, 0] == pytest.approx(np.sqrt(both @ cov @ both))
    before, cov_before, t = dense(-4.0, 9.0, days[:2], bias=1.2)
    assert found.before.mean[0, 0] == pytest.approx(before[t - 1])
    widened = cov_before[t - 1, t - 1] + DRIFT**2 * 0.5
    assert found.before.sd[0, 0] == pytest.approx(np.sqrt(widened))


def test_level_draws_reweighed_give_the_exact_posterior():
    rng = np.random.default_rng(5)
    shots = rng.normal(-6, 7, 15)
    draws = rng.normal(-2.0, 2.0, (20_000, 1))
    found = live_update(
        parameters(20_000), draws, np.zeros_like(draws), [session(shots, samples=20_000)]
    )
    mean, cov, _ = dense(-2.0, 4.0, [(shots, 1.0, (0.0, 0.0))])
    assert found.level.average()[0] == pytest.approx(mean[0], abs=0.05)
    assert found.level.spread()[0] == pytest.approx(np.sqrt(cov[0, 0]), rel=0.03)
    assert found.effect.average()[0] == pytest.approx(mean[1], abs=0.05)
    assert found.k_hat[0] < 0.5
    assert found.trusted[0]


def test_a_session_seen_in_part_ends_where_one_seen_at_once_ends():
    rng = np.random.default_rng(6)
    first, rest = rng.normal(-6, 7, 10), rng.normal(-6, 7, 6)
    whole, cov, _ = dense(-2.0, 4.0, [(np.concatenate([first, rest]), 0.0, (0.0, 0.0))])
    half, half_cov, _ = dense(-2.0, 4.0, [(first, 0.0, (0.0, 0.0))])
    draws = rng.normal(half[0], np.sqrt(half_cov[0, 0]), (40_000, 1))
    found = live_update(
        parameters(40_000), draws, np.zeros_like(draws),
        [session(rest, weeks=0.0, seen=first, samples=40_000)],
    )  # fmt: skip
    assert found.level.average()[0] == pytest.approx(whole[0], abs=0.05)
    assert found.effect.average()[0] == pytest.approx(whole[1], abs=0.05)
    assert found.effect.spread()[0] == pytest.approx(np.sqrt(cov[1, 1]), rel=0.03)


def test_scatter_of_the_day_weighs_the_draws_of_the_shot_sd():
    """Two draws of the shot SD, everything else known: weights are the two likelihoods' ratio."""
    rng = np.random.default_rng(8)
    shots = rng.normal(0, 9, 12)
    sds = np.array([[4.0], [9.0]])
    one = parameters(2)
    given = LiveParameters(one.drift, one.session_sd, sds, one.bias, one.reading_sd)
    found = live_update(given, np.zeros((2, 1)), np.zeros((2, 1)), [session(shots, samples=2)])
    logs = []
    for sd in (4.0, 9.0):
        f = (sd**2 + READ**2) * np.eye(12) + (SESSION**2 + DRIFT**2) * np.ones((12, 12))
        logs.append(-0.5 * (np.linalg.slogdet(f)[1] + shots @ np.linalg.solve(f, shots)))
    expected = 1 / (1 + np.exp(logs[0] - logs[1]))
    assert found.level.weight[1, 0] == pytest.approx(expected)


def test_two_methods_in_one_session_are_pooled_as_single_shots_would_be():
    rng = np.random.default_rng(9)
    by = [rng.normal(2, 7, 6), rng.normal(4, 7, 9)]
    read, bias = np.array([[1.0], [3.0]]), np.array([0.0, 1.5])
    sds = np.array([[5.0], [8.0]])
    full = np.ones((2, 1))
    given = LiveParameters(
        DRIFT * full, SESSION * full, sds, np.tile(bias[None, :, None], (2, 1, 1)), read
    )
    both = [readings(v, methods=2, method=m) for m, v in enumerate(by)]
    total = Readings(*(
        getattr(both[0], part) + getattr(both[1], part) for part in ("count", "mean", "squares")
    ))  # fmt: skip
    none = readings(methods=2)
    found = live_update(
        given, np.zeros((2, 1)), np.full((2, 1), 4.0),
        [NewSession(0.0, np.zeros((2, 1)), np.zeros((2, 1)), total, none)],
    )  # fmt: skip
    logs, levels = [], []
    y = np.concatenate([by[0] - bias[0], by[1] - bias[1]])
    for sd in (5.0, 8.0):
        noise = np.concatenate([np.full(6, sd**2 + 1.0), np.full(9, sd**2 + 9.0)])
        f = np.diag(noise) + (SESSION**2 + 4.0) * np.ones((15, 15))
        solved = np.linalg.solve(f, y)
        logs.append(-0.5 * (np.linalg.slogdet(f)[1] + y @ solved))
        levels.append(4.0 * solved.sum())
    assert found.level.mean[:, 0] == pytest.approx(levels)
    assert found.level.weight[1, 0] == pytest.approx(1 / (1 + np.exp(logs[0] - logs[1])))


def test_nothing_read_changes_nothing_but_the_drift():
    rng = np.random.default_rng(2)
    draws = rng.normal(size=(500, 1))
    found = live_update(
        parameters(500), draws, np.zeros((500, 1)), [session((), weeks=4.0, samples=500)]
    )
    assert found.level.mean == pytest.approx(draws)
    assert found.level.sd == pytest.approx(2 * DRIFT)
    assert found.effect.chance_above(0.0)[0] == pytest.approx(0.5)
    assert found.draws[0] == pytest.approx(500)
    assert found.trusted[0]


def test_chance_that_the_day_differs_keeps_session_noise_in():
    """One wild shot says little of the day; many say more, but never forget the level's doubt."""
    level = np.array([[0.0]]), np.array([[1.0]])
    few = live_update(parameters(), *level, [session([-6.0])])
    many = live_update(parameters(), *level, [session([-6.0] * 400)])
    v, s2 = 1.0 + DRIFT**2, SESSION**2
    for found, n in ((few, 1), (many, 400)):
        total = v + s2 + (SHOT**2 + READ**2) / n
        mean, sd = -6 * s2 / total, np.sqrt(s2 - s2**2 / total)
        below = 1 - found.effect.chance_above(0.0)[0]
        z = -mean / sd
        assert below == pytest.approx(np.mean(np.random.default_rng(1).normal(size=10**6) < z),
                                      abs=0.002)  # fmt: skip


def test_a_day_unlike_anything_learned_is_no_longer_trusted():
    rng = np.random.default_rng(4)
    draws = rng.normal(0.0, 1.0, (1000, 1))
    narrow = parameters(1000, session_sd=0.3)
    found = live_update(
        narrow, draws, np.zeros((1000, 1)), [session([-25.0] * 20, weeks=0.1, samples=1000)]
    )
    assert found.k_hat[0] > 0.7 or found.draws[0] < 50
    assert not found.trusted[0]


@pytest.mark.parametrize("tail", [0.3, 0.6, 0.9, 1.5])
@pytest.mark.parametrize("samples", [200, 1000, 4000])
def test_smoothing_is_that_of_arviz(tail, samples):
    """ArviZ 1.x, array_stats.psislw: log weights in, smoothed normalised log weights out."""
    rng = np.random.default_rng(int(tail * 10) + samples)
    ratio = tail * rng.exponential(size=samples)
    expected, k_hat = array_stats.psislw(-ratio, r_eff=1.0)
    found, shape = smoothed_log_weights(ratio)
    assert shape == pytest.approx(float(k_hat), abs=1e-9)
    assert found == pytest.approx(np.asarray(expected), abs=1e-9)
    assert np.exp(found).sum() == pytest.approx(1.0)


def test_equal_ratios_need_no_smoothing():
    found, shape = smoothed_log_weights(np.full(100, 3.0))
    assert shape == -np.inf
    assert effective_draws(found) == pytest.approx(100)


def test_weighted_quantiles_are_those_of_the_mixture():
    weight = np.full((40_000, 1), 1 / 40_000)
    noise = np.random.default_rng(1).standard_normal((40_000, 1))
    mixture = Mixture(np.full((40_000, 1), 2.0), np.full((40_000, 1), 3.0), weight)
    found = mixture.quantiles((0.05, 0.5, 0.95), noise)[:, 0]
    assert found == pytest.approx([2 - 3 * 1.6449, 2.0, 2 + 3 * 1.6449], abs=0.08)


HELD_OUT = 4
"""Players whose last session is held out; the others are fitted whole both times."""


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_live_update_agrees_with_a_full_fit_on_held_out_sessions(capsys, monkeypatch):
    from tracker import fitting
    from tracker.fitting import fit_squad

    # all draws kept, so that the two fits' own sampling error stays well under what is asked
    monkeypatch.setattr(fitting, "KEPT_DRAWS", 1_000_000)

    academy = make_academy(21, AcademySpec(ball_data=False))
    shots = academy.shots.copy()
    shots["session"] = pd.to_datetime(shots["session"])
    for column in ("strike_method", "delivery_method"):
        shots[column] = shots[column].replace("", np.nan).fillna("unstated")
    changes = [
        Change(c.player, c.start, c.kind, c.name, c.trait, c.effort_sessions)
        for c in academy.changes
    ]
    last = shots.groupby("player")["session"].transform("max")
    out = sorted(shots["player"].unique())[:HELD_OUT]
    references = ("photo", "radar")
    whole = fit_squad(squad_data(shots, changes, references=references), seed=21)
    off = []
    for place, player in enumerate(out):
        held = (shots["player"] == player) & (shots["session"] == last)
        part = fit_squad(squad_data(shots[~held], changes, references=references), seed=22 + place)
        assert max(f.info.report.max_rhat for f in (whole, part)) < 1.02
        own = shots[shots["player"] == player]
        mine = [c for c in changes if c.player == player]
        when = own["session"].max().to_pydatetime()
        live = live_fit(part, player, own, mine, when)
        p = whole.player_index(player)
        s = int((~np.isnat(whole.session_start[p])).sum()) - 1
        level = whole.level[:, p, s].astype(np.float64)
        level_sd = level.std(axis=0)
        off.append((live.posterior.level.average() - level.mean(axis=0)) / level_sd)
        stale = live.posterior.before.average() - level.mean(axis=0)
        with capsys.disabled():
            print(f"\n{player}: live - full {np.round(off[-1], 2)} posterior SD, "
                  f"without the session {np.round(stale / level_sd, 2)}; "
                  f"k-hat {np.round(live.posterior.k_hat, 2)}, "
                  f"draws {np.round(live.posterior.draws)}")  # fmt: skip
    off = np.array(off)
    with capsys.disabled():
        print(f"root mean square {np.sqrt((off**2).mean()):.3f}, largest {np.abs(off).max():.3f}")
    assert np.sqrt((off**2).mean()) <= 0.1
    assert np.abs(off).max() <= 0.15
