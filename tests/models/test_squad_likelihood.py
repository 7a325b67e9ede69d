"""The marginal likelihood against brute force: every reading as one entry of a dense normal."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from models.squad_likelihood import squad_loglik

PLAYERS, SESSIONS, TRAITS, METHODS = 2, 4, 2, 2


@pytest.fixture
def squad():
    """Readings one by one, and the same as session summaries."""
    rng = np.random.default_rng(8)
    weeks = np.array([[0.0, 1.0, 3.0, 3.5], [0.5, 0.7, 4.0, 6.0]])
    readings = []
    for p in range(PLAYERS):
        for k in range(TRAITS):
            for s in range(SESSIONS):
                for m in range(METHODS):
                    if (p, k, s) != (1, 0, 1):  # one session without readings of trait 0
                        size = rng.integers(0, 5)
                        readings += [(p, k, s, m, v) for v in rng.normal(k, 2, size)]
    table = np.array(readings)
    shape = (METHODS, PLAYERS, SESSIONS, TRAITS)
    count, mean = np.zeros(shape), np.zeros(shape)
    scatter = np.zeros((METHODS, PLAYERS, TRAITS))
    freedom = np.zeros_like(scatter)
    for m, p, s, k in np.ndindex(shape):
        rows = (table[:, :4] == (p, k, s, m)).all(axis=1)
        values = table[rows, 4]
        if values.size:
            count[m, p, s, k], mean[m, p, s, k] = values.size, values.mean()
            scatter[m, p, k] += ((values - values.mean()) ** 2).sum()
            freedom[m, p, k] += values.size - 1
    started = np.array([[0.0, 1.0, 1.0, 1.0]])
    gap = np.diff(weeks, axis=1, prepend=weeks[:, :1])
    reading_sd = np.array([[0.3, 0.4], [0.8, 0.2]])
    data = (
        count, mean, scatter, freedom, reading_sd, gap, np.array([1]), np.array([0]), started,
    )  # fmt: skip
    return table, weeks, data


ALIKE = {"apart": (0.0, 0.0), "alike": (0.3, 0.6), "one trait alike": (0.0, 0.5)}


def parameters(seed, alike=(0.0, 0.0)):
    rng = np.random.default_rng(seed)
    return [
        rng.normal(0.5, 0.5, TRAITS),
        rng.uniform(0.5, 1.5, TRAITS),
        rng.uniform(0.2, 0.8, TRAITS),
        rng.uniform(0.3, 1.0, TRAITS),
        rng.normal(0.4, 0.3, (PLAYERS, TRAITS)),
        rng.normal(0, 0.5, (METHODS, TRAITS)),
        rng.normal(0, 1, 1),
        np.array(alike),
    ]


def by_brute_force(table, weeks, values, reading_sd):
    mu, spread, drift, session_sd, log_shot_sd, bias, effect, alike = values
    total = 0.0
    for p in range(PLAYERS):
        for k in range(TRAITS):
            rows = table[(table[:, 0] == p) & (table[:, 1] == k)]
            if not len(rows):
                continue
            s, m = rows[:, 2].astype(int), rows[:, 3].astype(int)
            since = weeks[p] - weeks[p][0]
            walk = drift[k] ** 2 * np.minimum.outer(since[s], since[s])
            order = np.searchsorted(np.unique(s), s)  # sessions that were read, in order
            same = session_sd[k] ** 2 * alike[k] ** np.abs(order[:, None] - order[None, :])
            own = np.diag(np.exp(2 * log_shot_sd[p, k]) + reading_sd[m, k] ** 2)
            centre = mu[k] + bias[m, k] + (effect[0] * (s >= 1) if (p, k) == (1, 0) else 0)
            cov = spread[k] ** 2 + walk + same + own
            total += multivariate_normal(np.broadcast_to(centre, len(rows)), cov).logpdf(rows[:, 4])
    return total


@pytest.mark.parametrize("alike", ALIKE.values(), ids=ALIKE)
def test_summaries_lose_nothing_against_single_readings(squad, alike):
    table, weeks, data = squad
    differences = []
    for first, second in ((1, 2), (3, 4), (5, 6)):
        a, b = parameters(first, alike), parameters(second, alike)
        exact = by_brute_force(table, weeks, a, data[4]) - by_brute_force(table, weeks, b, data[4])
        ours = squad_loglik(*a, *data)[0] - squad_loglik(*b, *data)[0]
        differences.append(ours - exact)
    np.testing.assert_allclose(differences, 0, atol=1e-9)


@pytest.mark.parametrize("alike", ALIKE.values(), ids=ALIKE)
@pytest.mark.parametrize("which", range(8))
def test_every_derivative_matches_finite_differences(squad, which, alike):
    data = squad[2]
    values = parameters(9, alike)
    found = squad_loglik(*values, *data)[1 + which]
    h = 1e-6
    for place in np.ndindex(values[which].shape):
        if which == 7 and values[which][place] == 0:
            continue  # a fixed 0: days have nothing to do with one another
        up, down = ([v.copy() for v in values] for _ in range(2))
        up[which][place] += h
        down[which][place] -= h
        slope = (squad_loglik(*up, *data)[0] - squad_loglik(*down, *data)[0]) / (2 * h)
        assert found[place] == pytest.approx(slope, rel=1e-6, abs=1e-6)
