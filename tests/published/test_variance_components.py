"""The tendency model's likelihood against published variance components and meta-analysis."""

from pathlib import Path

import arviz as az
import numpy as np
import pandas as pd
import pytest
import statsmodels
from scipy.optimize import minimize

from models.local_level import filter_series
from models.squad_likelihood import squad_loglik

EFFECTS_OFF = (np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))


def one_trait(count, mean, scatter, freedom, gap, mu, spread, drift, session_sd, shot_sd):
    """The squad likelihood for one trait, one method, no reading error."""
    players, sessions = count.shape
    shape = (1, players, sessions, 1)
    one = np.ones(1)
    return squad_loglik(
        mu * one,
        spread * one,
        drift * one,
        session_sd * one,
        np.log(np.broadcast_to(shot_sd, players).astype(float))[:, None].copy(),
        np.zeros((1, 1)),
        np.zeros(0),
        count.reshape(shape),
        mean.reshape(shape),
        scatter.reshape(1, players, 1),
        freedom.reshape(1, players, 1),
        np.zeros((1, 1)),
        gap,
        *EFFECTS_OFF,
        np.zeros((0, sessions)),
    )[0]


def test_paste_strength_three_levels():
    """Strength of 60 samples from 30 casks of 10 batches.

    Data: Davies & Goldsmith 1972, Statistical Methods in Research and Production (4th ed.), p.
    136, as shipped in statsmodels. Expected: REML estimates printed for these data by Bates,
    lme4: Mixed-effects modeling with R (2010), ch. 2: mean 60.0533, variances between batches
    1.657, between casks 8.434, within casks .678. A batch stands for a player, a cask for a
    session, a sample for a shot; the mean is integrated out under a flat prior, which makes the
    likelihood the restricted one.
    """
    folder = Path(statsmodels.__file__).parent / "regression/tests/results"
    table = pd.read_csv(folder / "pastes.csv")
    batch, cask = pd.factorize(table["batch"])[0], pd.factorize(table["cask"])[0]
    count, mean = np.zeros((10, 3)), np.zeros((10, 3))
    scatter, freedom = np.zeros(10), np.zeros(10)
    for (b, c), values in table["strength"].groupby([batch, cask]):
        count[b, c], mean[b, c] = len(values), values.mean()
        scatter[b] += ((values - values.mean()) ** 2).sum()
        freedom[b] += len(values) - 1
    gap = np.zeros((10, 3))

    def at(mu, sds):
        return one_trait(count, mean, scatter, freedom, gap, mu, sds[0], 0.0, sds[1], sds[2])

    def best_mean_and_restricted(log_sds):
        sds = np.exp(log_sds)
        low, middle, high = (at(mu, sds) for mu in (59.0, 60.0, 61.0))
        slope, curve = (high - low) / 2, high - 2 * middle + low
        top = 60.0 - slope / curve
        return top, at(top, sds) + 0.5 * np.log(2 * np.pi / -curve)

    found = minimize(
        lambda x: -best_mean_and_restricted(x)[1],
        np.log([1.0, 2.0, 1.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000},
    )
    batch_sd, cask_sd, sample_sd = np.exp(found.x)
    assert batch_sd**2 == pytest.approx(1.657, abs=0.002)
    assert cask_sd**2 == pytest.approx(8.434, abs=0.002)
    assert sample_sd**2 == pytest.approx(0.678, abs=0.001)
    assert best_mean_and_restricted(found.x)[0] == pytest.approx(60.0533, abs=1e-3)


def test_eight_schools():
    """Coaching effects in eight schools with known standard errors.

    Data: Rubin 1981, J. Educ. Stat. 6:377, as shipped in ArviZ. Expected: posterior means 4.41
    and 3.60 of the mean effect and the SD between schools under Normal(0, 5) and half-Cauchy(5)
    (reference posterior ``eight_schools_noncentered`` of posteriordb). A school stands for a
    player with one session of one shot whose SD is the school's standard error.
    """
    data = az.load_arviz_data("centered_eight")
    effect = data["observed_data"].dataset["obs"].to_numpy().astype(float)
    error = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])  # Rubin 1981, table 1
    count, none, gap = np.ones((8, 1)), np.zeros(8), np.zeros((8, 1))
    mus, taus = np.linspace(-25, 35, 121), np.linspace(0.05, 80, 800)
    log_density = np.array(
        [
            [
                one_trait(count, effect[:, None], none, none, gap, mu, tau, 0.0, 0.0, error)
                for tau in taus
            ]
            for mu in mus
        ]
    )
    log_density += -0.5 * (mus[:, None] / 5) ** 2 - np.log1p((taus[None, :] / 5) ** 2)
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    assert float((weight.sum(axis=1) * mus).sum()) == pytest.approx(4.41, abs=0.05)
    assert float((weight.sum(axis=0) * taus).sum()) == pytest.approx(3.60, abs=0.05)


def test_nile_local_level():
    """Annual flow of the Nile at Aswan 1871-1970, shipped in statsmodels.

    Expected: maximum likelihood variances 15099 of the observation and 1469 of the level, Durbin
    & Koopman 2012, Time Series Analysis by State Space Methods (2nd ed.), sec. 2.10.
    """
    from statsmodels.datasets import nile

    flow = nile.load_pandas().data["volume"].to_numpy(dtype=np.float64)
    gap = np.ones(flow.size)
    gap[0] = 0.0
    kept = [np.zeros(flow.size) for _ in range(3)]

    def diffuse(log_variances):
        observed, walk = np.exp(log_variances)
        var = np.full(flow.size, observed)
        return -filter_series(flow, var, gap, walk, 0.0, 1e10, *kept)

    found = minimize(
        diffuse,
        np.log([10_000.0, 1000.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10},
    )
    observed, walk = np.exp(found.x)
    assert observed == pytest.approx(15099, rel=0.001)
    assert walk == pytest.approx(1469, rel=0.003)
