"""Published posteriors and estimates found by the product's sampler: some minutes."""

from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pandas as pd
from scipy.special import gammaln
from statsmodels.datasets import stackloss

from models.arrays import Floats
from models.sampling.report import SamplerReport
from models.sampling.sampler import Effort, LogDensity, sample, sampler_report, stacked
from models.tendency.data import trait_series
from models.traits import MODELLED, TRAITS
from tests.published.anchor import Anchor
from tests.published.mixed_cases import CASES, Case, posterior_rows
from tests.published.mixed_fit import ABSENT, sampled
from tests.published.statistics_anchors import DYESTUFF2, LME4
from tests.reference.one_trait import Sampled, sampled_trait
from tracker.fits.dataset import squad_data

NO_READING_ERROR = 1e-6
MODE_WIDTH = 0.5


def no_problems(check: str, report: SamplerReport) -> Anchor:
    """Return the row that says how many of the sampler's checks failed."""
    quantity = "failed checks of the sampler (divergences, R-hat, effective draws)"
    source = "Vehtari et al. 2021, Bayesian Analysis 16:667"
    return Anchor(check, quantity, source, 0.0, float(len(report.problems)), 0.5)


@cache
def dyestuff2_fit() -> Sampled:
    """The path from shots to draws: one player, a batch stands for a session, nothing moves."""
    batches, size = DYESTUFF2.shape
    frame = pd.DataFrame(dict.fromkeys(MODELLED, np.nan), index=range(DYESTUFF2.size))
    frame["strike_up_mm"] = DYESTUFF2.ravel()
    start = pd.Timestamp("2026-03-01")
    frame["session"] = start + pd.to_timedelta(np.repeat(np.arange(batches), size), unit="D")
    frame = frame.assign(player="a", handed="right", strike_method="photo", delivery_method="radar")
    reading = {("strike_up_mm", "photo"): NO_READING_ERROR}
    squad = squad_data(frame, (), traits=("strike_up_mm",), reading_sds=reading)
    prior = TRAITS["strike_up_mm"].prior
    assert prior is not None
    series = trait_series(squad.model, 0, prior)
    return sampled_trait(
        series, prior, Effort(draws=1500, tune=600, doublings=3), 5, without=ABSENT
    )


@cache
def dyestuff2_sampled() -> tuple[Anchor, ...]:
    """A session SD whose published estimate is 0 breaks nothing on the whole path.

    Priors are those of strike height, whose scales cover these yields.
    """
    fit = dyestuff2_fit()
    session_sd, shot_sd = fit.draws["session_sd"], fit.hidden.shot_sd[:, 0]
    level = fit.hidden.level.mean(axis=1)
    counts, edges = np.histogram(session_sd, np.arange(0.0, 8.0, MODE_WIDTH))
    mode = float(edges[counts.argmax()])
    spread = float(shot_sd.std())
    check = "Dyestuff2 sampled, batches do not differ"
    return (
        Anchor(check, "SD between batches, lower edge of the likeliest bin of .5", LME4,
               0.0, mode, MODE_WIDTH / 2),
        Anchor(check, "residual SD, within 1 posterior SD", LME4,
               3.7157, float(np.median(shot_sd)), spread),
        Anchor(check, "mean, within 1 posterior SD", LME4,
               5.6656, float(level.mean()), float(level.std())),
        no_problems(check, fit.report),
    )  # fmt: skip


def student_regression(x: Floats, y: Floats, nu: float) -> LogDensity:
    """Return middle, slopes ``beta`` and the log precision of a regression with t errors."""
    design = np.column_stack([np.ones(y.size), x])
    units = np.full(design.shape[1], y.std())
    constant = y.size * (gammaln((nu + 1) / 2) - gammaln(nu / 2) - 0.5 * np.log(nu * np.pi))

    def log_density(v: Floats) -> tuple[float, Floats]:
        fixed, log_precision = units * v[:-1], v[-1]
        precision = np.exp(log_precision)
        error = y - design @ fixed
        weight = 1 + precision * error**2 / nu
        value = constant + 0.5 * y.size * log_precision - 0.5 * (nu + 1) * np.log(weight).sum()
        value -= 0.5 * 1e-5 * (fixed**2).sum()
        value += 1e-3 * log_precision - 1e-3 * precision  # the last with the log scale's Jacobian
        pull = (nu + 1) / nu * precision * error / weight
        slope = np.append(
            units * (design.T @ pull - 1e-5 * fixed),
            0.5 * y.size - 0.5 * (pull * error).sum() + 1e-3 - 1e-3 * precision,
        )
        return float(value), slope

    def named(v: Floats) -> dict[str, Floats]:
        return {
            "middle": units[0] * v[..., 0],
            "beta": units[1:] * v[..., 1:-1],
            "log_precision": v[..., -1],
        }

    start = np.append(np.linalg.lstsq(design, y)[0] / units, -np.log(y.var() / 4))
    return LogDensity(start.size, log_density, named, start)


@cache
def stack_loss() -> tuple[Anchor, ...]:
    """Stack loss on air flow, temperature and acid with Student-t(4) errors.

    Data: Brownlee 1965, as shipped in statsmodels. Priors as in BUGS: standardised covariates,
    Normal(0, precision .00001) coefficients, Gamma(.001, .001) precision. The density is
    written out here, the sampler is the product's. The published run's own
    simulation error is not small, since the slopes on air flow and temperature pull against each
    other: a tenth of a posterior SD is allowed.
    """
    source = "BUGS Examples vol. 1, Stacks, t4 (from memory)"
    table = stackloss.load_pandas()
    x = table.exog.to_numpy(dtype=np.float64)
    y = table.endog.to_numpy(dtype=np.float64)
    size = x.std(axis=0, ddof=1)
    target = student_regression((x - x.mean(axis=0)) / size, y, nu=4.0)
    tree = sample(target, Effort(draws=5000, tune=1500, target_accept=0.95, doublings=3), 4)
    report = sampler_report(tree)
    draws = stacked(tree, ["beta"], 20_000)["beta"] / size
    slopes, near = draws.mean(axis=0), 0.1 * draws.std(axis=0)
    check = "stack loss, Student-t(4) errors"
    return (
        Anchor(check, "slope on air flow", source, 0.840, float(slopes[0]), float(near[0])),
        Anchor(check, "slope on temperature", source, 0.848, float(slopes[1]), float(near[1])),
        Anchor(check, "slope on acid", source, -0.126, float(slopes[2]), float(near[2])),
        no_problems(check, report),
    )


@cache
def mixed(make: Callable[[], Case]) -> tuple[Anchor, ...]:
    """A published mixed model by the tendency model."""
    return posterior_rows(make(), sampled)


CHECKS = (dyestuff2_sampled, stack_loss, *(partial(mixed, make) for make in CASES))
