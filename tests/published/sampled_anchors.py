"""Published posteriors and estimates found by the product's sampler: half a minute."""

from functools import cache

import numpy as np
import pandas as pd
import pymc as pm
import pytensor.tensor as pt
from statsmodels.datasets import stackloss

from models.sampler_report import SamplerReport
from models.sampling import Effort, compile_model, sample, sampler_report, stacked
from models.traits import MODELLED
from tests.published.anchor import Anchor
from tests.published.statistics_anchors import DYESTUFF2, LME4
from tests.reference.shot_level import observe
from tracker.dataset import squad_data
from tracker.fitting import fit_squad
from tracker.posterior import Fit

NO_READING_ERROR = 1e-6
MODE_WIDTH = 0.5


def no_problems(check: str, report: SamplerReport) -> Anchor:
    """Return the row that says how many of the sampler's checks failed."""
    quantity = "failed checks of the sampler (divergences, R-hat, effective draws)"
    source = "Vehtari et al. 2021, Bayesian Analysis 16:667"
    return Anchor(check, quantity, source, 0.0, float(len(report.problems)), 0.5)


@cache
def dyestuff2_fit() -> Fit:
    """The whole path from shots to fit: one player, a batch stands for a session."""
    batches, size = DYESTUFF2.shape
    frame = pd.DataFrame(dict.fromkeys(MODELLED, np.nan), index=range(DYESTUFF2.size))
    frame["strike_up_mm"] = DYESTUFF2.ravel()
    start = pd.Timestamp("2026-03-01")
    frame["session"] = start + pd.to_timedelta(np.repeat(np.arange(batches), size), unit="D")
    frame = frame.assign(player="a", handed="right", strike_method="photo", delivery_method="radar")
    reading = {("strike_up_mm", "photo"): NO_READING_ERROR}
    squad = squad_data(frame, (), traits=("strike_up_mm",), reading_sds=reading)
    return fit_squad(squad, seed=5)


@cache
def dyestuff2_sampled() -> tuple[Anchor, ...]:
    """A session SD whose published estimate is 0 breaks nothing on the whole path.

    Priors are those of strike height, whose scales cover these yields.
    """
    fit = dyestuff2_fit()
    session_sd, shot_sd = fit.session_sd[:, 0], fit.shot_sd[:, 0, 0]
    level = fit.level[:, 0, :, 0].mean(axis=1)
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
        no_problems(check, fit.info.report),
    )  # fmt: skip


@cache
def stack_loss() -> tuple[Anchor, ...]:
    """Stack loss on air flow, temperature and acid with Student-t(4) errors.

    Data: Brownlee 1965, as shipped in statsmodels. Priors as in BUGS: standardised covariates,
    Normal(0, precision .00001) coefficients, Gamma(.001, .001) precision. The likelihood is the
    Student-t of the shot-level reference model, the path the product's. The published run's own
    simulation error is not small, since the slopes on air flow and temperature pull against each
    other: a tenth of a posterior SD is allowed.
    """
    source = "BUGS Examples vol. 1, Stacks, t4 (from memory)"
    table = stackloss.load_pandas()
    x = table.exog.to_numpy(dtype=np.float64)
    y = table.endog.to_numpy(dtype=np.float64)
    size = x.std(axis=0, ddof=1)
    coords = {"reading": np.arange(y.size), "covariate": list(table.exog.columns)}
    with pm.Model(coords=coords) as model:
        middle = pm.Normal("middle", 0, 1e5**0.5)
        beta = pm.Normal("beta", 0, 1e5**0.5, dims="covariate")
        pm.Deterministic("slope", beta / size, dims="covariate")
        precision = pm.Gamma("precision", 1e-3, 1e-3)
        expected = middle + pt.dot((x - x.mean(axis=0)) / size, beta)
        observe(expected, pt.sqrt(2.0 / precision), y, nu=4.0)
    tree = sample(compile_model(model), Effort(draws=5000, tune=1500, target_accept=0.95), 4)
    report = sampler_report(tree, ["middle", "slope", "precision"])
    draws = stacked(tree, ["slope"], 20_000)["slope"]
    slopes, near = draws.mean(axis=0), 0.1 * draws.std(axis=0)
    check = "stack loss, Student-t(4) errors"
    return (
        Anchor(check, "slope on air flow", source, 0.840, float(slopes[0]), float(near[0])),
        Anchor(check, "slope on temperature", source, 0.848, float(slopes[1]), float(near[1])),
        Anchor(check, "slope on acid", source, -0.126, float(slopes[2]), float(near[2])),
        no_problems(check, report),
    )


CHECKS = (dyestuff2_sampled, stack_loss)
