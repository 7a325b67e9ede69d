"""Draws that fall short are taken again with twice the effort, and say so if that is not enough."""

import numba
import numpy as np
import pymc as pm
import pytest

from models.sampling import Effort, compile_model, well_sampled

pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def compiled():
    with pm.Model() as model:
        pm.Normal("x", 0, 1)
    return compile_model(model)


def test_draws_that_will_do_are_taken_once(compiled):
    tree, report = well_sampled(compiled, Effort(draws=1500, tune=500, chains=4), 1, ["x"])
    assert tree["posterior"].sizes["draw"] == 1500
    assert report.problems == ()


def test_too_few_draws_are_doubled_once_and_the_problem_stays_in_the_report(compiled):
    tree, report = well_sampled(compiled, Effort(draws=50, tune=200, chains=2), 1, ["x"])
    assert tree["posterior"].sizes["draw"] == 100
    assert any("too few effective draws" in problem for problem in report.problems)


def test_compiled_code_still_refuses_a_slice_of_another_size(compiled):
    """In a process of the sampler, whose message for this is the short one."""

    @numba.njit
    def assign(target, source):
        target[...] = source

    with pytest.raises(ValueError, match="slice from input of different size"):
        assign(np.zeros(3), np.ones(4))
    target = np.zeros(3)
    assign(target, np.ones(3))
    assert target.sum() == 3
