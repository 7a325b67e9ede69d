"""Published variance components, series, meta-analysis and agreement, found without sampling."""

from functools import cache
from pathlib import Path

import arviz as az
import numpy as np
import pandas as pd
import statsmodels
from scipy.optimize import minimize
from statsmodels.datasets import nile

from models.tendency.jump_filter import ROWS, filter_forward
from models.tendency.likelihood import (
    DAY_SD,
    DRIFT,
    FIXED,
    MU,
    SHOT_MEAN,
    SHOT_SPREAD,
    SPREAD,
    SquadRows,
    squad_loglik,
)
from tests.published.anchor import Anchor
from tracker.fits.method_check import agreement, repeatability_sd
from tracker.readings.session_summary import ShotIndex, trait_summary

NEARLY_EQUAL = 1e-6
"""How far players' log shot SDs differ where a published model has one SD for all."""


def one_trait(
    count, mean, scatter, freedom, gap, mu, spread, drift, session_sd, shot_sd, shift=None
):
    """The squad likelihood of one method without reading error, up to a constant.

    Players are equal in ``shot_sd``; days are not alike and nothing changes unlogged. ``shift`` is
    the effect of one change of the first player and the session before which it comes.
    """
    players, sessions = count.shape
    par = np.zeros(FIXED + 1 + (shift is not None))
    par[[MU, SPREAD, DRIFT, DAY_SD]] = mu, spread, drift, session_sd
    par[SHOT_MEAN], par[SHOT_SPREAD] = np.log(shot_sd), NEARLY_EQUAL
    changes = np.zeros(0, dtype=np.int64)
    owned = np.zeros(players + 1, dtype=np.int64)
    if shift is not None:
        par[-1], changes = shift[0], np.array([shift[1]])
        owned[1:] = 1
    none = np.zeros(players)
    rows = SquadRows(
        first=np.arange(players + 1) * sessions,
        gap=gap.ravel(),
        count=count.reshape(-1, 1),
        mean=mean.reshape(-1, 1),
        scatter=scatter[:, None],
        scatter_df=freedom[:, None],
        reading2=np.zeros(1),
        missed=none,
        centre=none,
        half=1.0,
        other_inside=none,
        best=none,
        information=none,
        change_first=owned,
        change_at=changes,
        change_group=np.zeros_like(changes),
    )
    return squad_loglik(par, rows)[0]


def restricted_estimates(at, start, near, step):
    """Return the SDs at the top of the restricted likelihood, and the mean there.

    ``at`` gives the log likelihood at a mean and SDs. It is a quadratic in the mean, which is
    integrated out under a flat prior from its values at ``near`` and a ``step`` to either side.
    """

    def mean_and_height(sds):
        low, middle, high = (at(near + s * step, np.abs(sds)) for s in (-1.0, 0.0, 1.0))
        curve = (high - 2 * middle + low) / step**2
        mean = near - (high - low) / (2 * step) / curve
        return mean, at(mean, np.abs(sds)) + 0.5 * np.log(2 * np.pi / -curve)

    found = minimize(
        lambda sds: -mean_and_height(sds)[1],
        start,
        method="Nelder-Mead",
        options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 4000},
    )
    return np.abs(found.x), float(mean_and_height(found.x)[0])


@cache
def pastes() -> tuple[Anchor, ...]:
    """Strength of 60 samples from 30 casks of 10 batches: three levels.

    Data: Davies & Goldsmith 1972, Statistical Methods in Research and Production (4th ed.), p.
    136, as shipped in statsmodels. A batch stands for a player, a cask for a session, a sample
    for a shot; the mean is integrated out under a flat prior, which makes the likelihood the
    restricted one.
    """
    source = "REML estimates in Bates 2010, lme4: Mixed-effects modeling with R, ch. 2"
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

    (between, within, sample), top = restricted_estimates(at, (1.0, 2.0, 1.0), near=60.0, step=1.0)
    check = "Pastes, three levels"
    return (
        Anchor(check, "mean, strength", source, 60.0533, top, 0.001),
        Anchor(check, "variance between batches", source, 1.657, between**2, 0.002),
        Anchor(check, "variance between casks", source, 8.434, within**2, 0.002),
        Anchor(check, "variance within casks", source, 0.678, sample**2, 0.001),
    )


# Yields of 6 batches of 5. Dyestuff: Davies & Goldsmith 1972, table 6.2. Dyestuff2: made by Box &
# Tiao 1973, Bayesian Inference in Statistical Analysis, table 5.1.4. Both as shipped with lme4.
DYESTUFF = np.array([
    [1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560], [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445],
], dtype=float)  # fmt: skip
DYESTUFF2 = np.array([
    [7.298, 3.846, 2.434, 9.566, 7.990], [5.220, 6.556, 0.608, 11.788, -0.892],
    [0.110, 10.386, 13.434, 5.510, 8.166], [2.212, 4.852, 7.092, 9.288, 4.980],
    [0.282, 9.014, 4.458, 9.446, 7.198], [1.722, 4.782, 8.106, 0.758, 3.758],
])  # fmt: skip
LME4 = "REML estimates in Bates 2010, lme4: Mixed-effects modeling with R, ch. 1"


def batches_as_sessions(yields):
    """Restricted estimates with one player, a batch for a session and a yield for a shot."""
    batches, size = yields.shape
    scatter = np.array([((yields - yields.mean(axis=1, keepdims=True)) ** 2).sum()])
    freedom = np.array([batches * (size - 1.0)])
    count, mean, gap = (
        np.full((1, batches), float(size)),
        yields.mean(axis=1)[None],
        np.zeros((1, batches)),
    )

    def at(mu, sds):
        return one_trait(count, mean, scatter, freedom, gap, mu, 0.0, 0.0, sds[0], sds[1])

    spread = float(yields.std())
    return restricted_estimates(at, (0.7 * spread, spread), near=float(yields.mean()), step=spread)


@cache
def dyestuff() -> tuple[Anchor, ...]:
    """Batches that differ: the session SD is found where it is."""
    (between, within), mean = batches_as_sessions(DYESTUFF)
    check = "Dyestuff, batches differ"
    return (
        Anchor(check, "mean yield, g", LME4, 1527.5, mean, 0.1),
        Anchor(check, "SD between batches, g", LME4, 42.00, between, 0.01),
        Anchor(check, "residual SD, g", LME4, 49.51, within, 0.01),
    )


@cache
def dyestuff2() -> tuple[Anchor, ...]:
    """Batches that do not differ: the best session SD is exactly 0."""
    (between, within), mean = batches_as_sessions(DYESTUFF2)
    check = "Dyestuff2, batches do not differ"
    return (
        Anchor(check, "mean", LME4, 5.6656, mean, 0.0001),
        Anchor(check, "SD between batches", LME4, 0.0, between, 0.001),
        Anchor(check, "residual SD", LME4, 3.7157, within, 0.001),
    )


@cache
def eight_schools() -> tuple[Anchor, ...]:
    """Coaching effects in eight schools with known standard errors.

    Data: Rubin 1981, J. Educ. Stat. 6:377, as shipped in ArviZ; standard errors of its table 1.
    Priors Normal(0, 5) and half-Cauchy(5). A school stands for a player with one session of as
    many shots of SD 1 as give the school's standard error, whole or not.
    """
    source = "reference posterior eight_schools_noncentered of posteriordb; Rubin 1981"
    data = az.load_arviz_data("centered_eight")
    effect = data["observed_data"].dataset["obs"].to_numpy().astype(float)
    error = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
    count, none, gap = error[:, None] ** -2, np.zeros(8), np.zeros((8, 1))
    mus, taus = np.linspace(-25, 35, 121), np.linspace(0.05, 80, 800)

    def at(mu, tau):
        return one_trait(count, effect[:, None], none, none, gap, mu, tau, 0.0, 0.0, 1.0)

    log_density = np.array([[at(mu, tau) for tau in taus] for mu in mus])
    log_density += -0.5 * (mus[:, None] / 5) ** 2 - np.log1p((taus[None, :] / 5) ** 2)
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    mean = float((weight.sum(axis=1) * mus).sum())
    spread = float((weight.sum(axis=0) * taus).sum())
    check = "eight schools"
    return (
        Anchor(check, "posterior mean of the mean effect, points", source, 4.41, mean, 0.05),
        Anchor(check, "posterior mean of the SD between, points", source, 3.60, spread, 0.05),
    )


def _nile_flow():
    """Annual flow at Aswan 1871-1970, 10^8 m^3, as shipped in statsmodels."""
    return nile.load_pandas().data["volume"].to_numpy(dtype=np.float64)


@cache
def nile_local_level() -> tuple[Anchor, ...]:
    """The Nile as a level that walks from year to year, by the filter of the likelihood."""
    source = "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, sec. 2.10"
    flow = _nile_flow()
    gap = np.ones(flow.size)
    gap[0] = 0.0
    still, work = np.zeros(flow.size), np.zeros((ROWS, flow.size))

    def diffuse(log_variances):
        observed, walk = np.exp(log_variances)
        var = np.full(flow.size, observed)
        return -filter_forward(flow, var, gap, still, still, walk, 0.0, 1e10, 0.0, 0.0, work)

    found = minimize(
        diffuse,
        np.log([10_000.0, 1000.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10},
    )
    observed, walk = np.exp(found.x)
    check, unit = "Nile, local level", "(10^8 m^3)^2"
    return (
        Anchor(check, f"variance of the observation, {unit}", source, 15099.0, observed, 15.0),
        Anchor(check, f"variance of the level's step, {unit}", source, 1469.0, walk, 4.0),
    )


@cache
def nile_shift() -> tuple[Anchor, ...]:
    """The Nile as a steady level with one logged change: when, and how much.

    A year stands for a session of one reading; the change's effect is the drill effect's. Means
    before and after 1898 from memory of the published fit, 1097.75 and 849.97.
    """
    source = "Zeileis, Kleiber, Kraemer & Hornik 2003, Comput. Stat. Data Anal. 44:109 (Nile)"
    flow = _nile_flow()
    years = np.arange(1871, 1871 + flow.size)
    count, none = np.ones((1, flow.size)), np.zeros(1)
    gap = np.zeros((1, flow.size))

    def at(last_before, mu, effect):
        shift = (effect, int(np.sum(years <= last_before)))
        return one_trait(count, flow[None], none, none, gap, mu, 0.0, 0.0, 0.0, 125.0, shift)

    def top(last_before):
        """The top over mean and effect, exact at any fixed SD, where both enter as a quadratic."""
        places = np.array([(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1)]) * 100.0
        middle, right, left, up, down, both = (at(last_before, 1000.0 + m, e) for m, e in places)
        slope = np.array([right - left, up - down]) / 2
        cross = both - right - up + middle
        bend = np.array([[right + left - 2 * middle, cross], [cross, up + down - 2 * middle]])
        mu, effect = np.array([1000.0, 0.0]) - 100.0 * np.linalg.solve(bend, slope)
        return at(last_before, mu, effect), float(mu), float(effect)

    # the least-squares split is the likeliest at any SD, so the SD need not be fitted
    tops = {int(year): top(year) for year in years[14:-15]}
    last = max(tops, key=lambda year: tops[year][0])
    check, unit = "Nile, one shift", "10^8 m^3"
    return (
        Anchor(check, "last year before the shift", source, 1898.0, float(last), 0.5),
        Anchor(check, f"mean before, {unit}", source, 1097.75, tops[last][1], 0.01),
        Anchor(check, f"shift, {unit}", source, 849.97 - 1097.75, tops[last][2], 0.02),
    )


# Copper in wholemeal flour, 24 determinations in ug/g, one of them (28.95) with its point
# misplaced: Analytical Methods Committee 1989, Analyst 114:1693, as ``chem`` of R's MASS. From
# memory; the published plain mean, 4.2804, ties the figures down.
COPPER = np.array([
    2.90, 3.10, 3.40, 3.40, 3.70, 3.70, 2.80, 2.50, 2.40, 2.40, 2.70, 2.20,
    5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.40, 2.20, 3.50, 3.60, 3.70, 3.70,
])  # fmt: skip


@cache
def copper() -> tuple[Anchor, ...]:
    """A session of readings with one gross misread, against Huber's proposal 2.

    k = 1.5. The plain mean is 4.28 and the plain SD 5.30. The product drops what lies beyond its
    limit where Huber pulls it in, so the two agree to a fraction of the standard error, .14.
    """
    source = "Venables & Ripley 2002, Modern Applied Statistics with S, sec. 5.5 (from memory)"
    frame = pd.DataFrame({"strike_toe_mm": COPPER}).assign(strike_method="photo")
    zeros = np.zeros(COPPER.size, dtype=np.int64)
    found = trait_summary(frame, "strike_toe_mm", ShotIndex(zeros, zeros, 1, 1))
    scatter = float(np.sqrt(found.scatter[0, 0] / found.scatter_df[0, 0]))
    check = "copper with a misread, robust session mean"
    return (
        Anchor(check, "location, ug/g", source, 3.205, float(found.mean[0, 0, 0]), 0.03),
        Anchor(check, "SD, ug/g", source, 0.674, scatter, 0.05),
    )


# Peak expiratory flow of 17 people by two meters, two readings each (l/min): Bland & Altman 1986,
# Lancet i:307, table 1 (from memory; the paper's own results below tie the figures down).
LARGE = np.array([
    [494, 490], [395, 397], [516, 512], [434, 401], [476, 470], [557, 611], [413, 415],
    [442, 431], [650, 638], [433, 429], [417, 420], [656, 633], [267, 275], [478, 492],
    [178, 165], [423, 372], [427, 421],
], dtype=float)  # fmt: skip
MINI = np.array([
    [512, 525], [430, 415], [520, 508], [428, 444], [500, 500], [600, 625], [364, 460],
    [380, 390], [658, 642], [445, 432], [432, 420], [626, 605], [260, 227], [477, 467],
    [259, 268], [350, 370], [451, 443],
], dtype=float)  # fmt: skip


@cache
def peak_flow() -> tuple[Anchor, ...]:
    """Two methods on the same subjects, and each method on itself."""
    source = "Bland & Altman 1986, Lancet i:307"
    found = agreement(LARGE[:, 0], MINI[:, 0])
    large, mini = repeatability_sd(*LARGE.T), repeatability_sd(*MINI.T)
    check = "peak flow, two meters"
    return (
        Anchor(check, "mean difference, l/min", source, -2.1, found.bias, 0.05),
        Anchor(check, "lower limit of agreement, l/min", source, -79.7, found.low, 0.2),
        Anchor(check, "upper limit of agreement, l/min", source, 75.5, found.high, 0.2),
        Anchor(check, "SD of one reading, large meter, l/min", source, 15.3, large, 0.05),
        Anchor(check, "SD of one reading, mini meter, l/min", source, 19.9, mini, 0.05),
    )


CHECKS = (
    pastes,
    dyestuff,
    dyestuff2,
    eight_schools,
    nile_local_level,
    nile_shift,
    copper,
    peak_flow,
)
