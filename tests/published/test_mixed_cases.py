"""The mixed-model examples: data and mappings by REML, then the product's own posterior."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from tests.published.mixed_cases import (
    CASES,
    SLEEP_SLOPE,
    TRAIT,
    Found,
    estimate_rows,
    machines,
    penicillin,
    posterior_rows,
)
from tests.published.mixed_data import ERGO_STOOL, MACHINES, PENICILLIN, SLEEP
from tests.published.mixed_estimates import restricted_estimates
from tracker.fits.dataset import squad_data


def long(table, *names):
    """One row an entry of the table, its place by axis and the value ``y``."""
    places = np.indices(table.shape).reshape(table.ndim, -1)
    return pd.DataFrame(dict(zip(names, places, strict=False))).assign(y=table.ravel())


def reml(formula, data, group, **terms):
    return smf.mixedlm(formula, data, groups=data[group], **terms).fit(reml=True)


def test_machines_data_give_the_published_estimates():
    data = long(MACHINES, "machine", "worker", "turn")
    fit = reml("y ~ C(machine)", data, "worker", re_formula="1",
               vc_formula={"by_machine": "0 + C(machine)"})  # fmt: skip
    assert fit.fe_params.to_numpy() == pytest.approx([52.356, 7.967, 13.917], abs=6e-4)
    sds = [fit.cov_re.to_numpy()[0, 0] ** 0.5, fit.vcomp[0] ** 0.5, fit.scale**0.5]
    assert sds == pytest.approx([4.781, 3.729, 0.9616], abs=6e-4)


def test_machines_data_give_the_published_covariances_of_machines():
    data = long(MACHINES, "machine", "worker", "turn")
    fit = reml("y ~ C(machine)", data, "worker", re_formula="0 + C(machine)")
    covariance = fit.cov_re.to_numpy()
    sd = np.sqrt(np.diag(covariance))
    assert sd == pytest.approx([4.0793, 8.6253, 4.3895], abs=2e-3)
    correlation = (covariance / np.outer(sd, sd))[[0, 0, 1], [1, 2, 2]]
    assert correlation == pytest.approx([0.803, 0.623, 0.771], abs=6e-4)


def test_ergo_stool_data_give_the_published_estimates():
    fit = reml("y ~ C(stool)", long(ERGO_STOOL, "subject", "stool"), "subject")
    assert fit.fe_params.to_numpy() == pytest.approx([8.556, 3.889, 2.222, 0.667], abs=6e-4)
    assert fit.cov_re.to_numpy()[0, 0] ** 0.5 == pytest.approx(1.332, abs=6e-4)
    assert fit.scale**0.5 == pytest.approx(1.100, abs=6e-4)


def test_penicillin_data_give_the_published_estimates():
    data = long(PENICILLIN, "plate", "sample").assign(all=1)
    crossed = {"plate": "0 + C(plate)", "sample": "0 + C(sample)"}
    fit = reml("y ~ 1", data, "all", re_formula="0", vc_formula=crossed)
    assert fit.fe_params.to_numpy() == pytest.approx([22.9722], abs=6e-5)
    assert np.sqrt(fit.vcomp) == pytest.approx([0.8467, 1.9316], abs=2e-4)
    assert fit.scale**0.5 == pytest.approx(0.5499, abs=6e-5)


def test_sleepstudy_data_give_the_published_estimates():
    data = long(SLEEP, "subject", "day")
    fit = reml("y ~ day", data, "subject", re_formula="day")
    assert fit.fe_params.to_numpy() == pytest.approx([251.405, 10.467], abs=6e-4)
    assert fit.fe_params.iloc[1] == pytest.approx(SLEEP_SLOPE, abs=6e-6)
    sds = np.sqrt(np.diag(fit.cov_re))
    assert sds == pytest.approx([24.741, 5.922], abs=2e-3)
    assert fit.scale**0.5 == pytest.approx(25.592, abs=6e-4)
    alike = reml("y ~ day", data, "subject")
    assert alike.cov_re.to_numpy()[0, 0] ** 0.5 == pytest.approx(37.124, abs=6e-4)
    assert alike.scale**0.5 == pytest.approx(30.991, abs=6e-4)


@pytest.mark.parametrize("make", CASES, ids=lambda make: make.__name__)
def test_a_case_as_a_squad_has_the_published_estimates(make):
    case = make()
    assert [
        row.cells() for row in estimate_rows(case, restricted_estimates(case)) if not row.met
    ] == []


@pytest.mark.parametrize("make", CASES, ids=lambda make: make.__name__)
def test_robust_summaries_leave_a_case_as_it_is(make):
    """No reading is far enough out to lose weight, so posterior and estimate see the same."""
    case = make()
    squad = squad_data(
        case.shots, case.changes, traits=(TRAIT,), references=(case.reference,),
        reading_sds=case.reading_sds,
    )  # fmt: skip
    assert squad.methods[0] == case.methods
    assert squad.changes == case.changes
    assert squad.model.count.sum() == pytest.approx(len(case.shots))


def test_a_fit_that_is_off_misses_its_row():
    case = machines()
    best = restricted_estimates(case)
    sure = np.random.default_rng(1).normal(0, 0.01, 400)

    def off(_):
        return Found(
            mean=best.mean + sure, between=best.between + sure, session=best.session + 1 + sure,
            shot=best.shot + sure, bias={m: b + sure for m, b in best.bias.items()}, effect={},
            effect_spread={}, own_effect={}, failed_checks=2,
        )  # fmt: skip

    missed = [row.quantity for row in posterior_rows(case, off) if not row.met]
    assert [name.split(",")[0] for name in missed] == [
        "SD between machines of one worker",
        "failed checks of the sampler (divergences",
    ]


def test_the_sd_between_samples_follows_from_the_biases():
    case = penicillin()
    between = next(q for q in case.quantities if q.name.startswith("SD between samples"))
    of_samples = PENICILLIN.mean(axis=0).var(ddof=1)
    fit = restricted_estimates(case)
    by_hand = (of_samples - fit.shot[0] ** 2 / 24) ** 0.5
    assert between.read(fit)[0] == pytest.approx(by_hand, abs=1e-9)


MISSED = {"machines_as_changes": ["machine C less A, within 0.3 posterior SD"]}
"""What the product does not find again: 13.16 in place of 13.92, since the drills of a trait share
a spread about none, which draws the larger of two toward none."""


SPIKE = pytest.mark.xfail(
    strict=True,
    reason="whole millimetres and no reading error: the methods' biases can meet the six readings "
    "of one plate exactly, its shot SD falls to 0, and chains stay in that spike; the sampler's "
    "checks refuse the fit (R-hat 2.3)",
)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize(
    "make",
    [pytest.param(m, marks=SPIKE) if m is penicillin else m for m in CASES],
    ids=lambda make: make.__name__,
)
def test_published_mixed_models_are_found_by_the_product(make):
    from tests.published.mixed_fit import sampled

    missed = [row.cells()[1] for row in posterior_rows(make(), sampled) if not row.met]
    assert missed == MISSED.get(make.__name__, [])
