"""Every row of the table of published checks, and that a row can fail."""

from functools import partial

import numpy as np
import pytest

from tests.published import drive_anchors, statistics_anchors
from tests.published.anchor import Anchor
from tests.published.statistics_anchors import COPPER
from tests.published.table import table


def name_of(check):
    if isinstance(check, partial):
        return f"{check.func.__name__}({check.args[0]:g})"
    return check.__name__


def missed(check):
    return [row.cells() for row in check() if not row.met]


@pytest.mark.parametrize("check", statistics_anchors.CHECKS, ids=name_of)
def test_published_statistics_are_found_again(check):
    assert missed(check) == []


@pytest.mark.parametrize("check", drive_anchors.CHECKS, ids=name_of)
def test_published_drives_are_found_again(check):
    assert missed(check) == []


@pytest.mark.xfail(strict=True, reason="known misses; the row says why")
@pytest.mark.parametrize("check", drive_anchors.KNOWN_MISSES, ids=name_of)
def test_drives_that_are_known_to_be_missed(check):
    assert missed(check) == []


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("which", ["dyestuff2_sampled", "stack_loss"])
def test_published_posteriors_are_found_again(which):
    from tests.published import sampled_anchors

    assert missed(getattr(sampled_anchors, which)) == []


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_batches_that_do_not_differ_pull_the_session_sd_below_its_prior():
    """Below 1 lies 30 % of the half-normal prior of scale 2.6, and 60 % of the posterior."""
    from tests.published.sampled_anchors import dyestuff2_fit

    assert np.mean(dyestuff2_fit().draws["session_sd"] < 1.0) > 0.5


def test_copper_figures_are_the_published_ones():
    # Venables & Ripley 2002, sec. 5.5: mean 4.2804, median 3.385
    assert COPPER.mean() == pytest.approx(4.2804, abs=5e-5)
    assert np.median(COPPER) == pytest.approx(3.385)


def test_a_row_outside_its_tolerance_is_shown_as_missed():
    near = Anchor("a", "b, mm", "c", 10.0, 10.4, 0.5)
    far = Anchor("a", "b, mm", "c", 10.0, 10.6, 0.5, known_miss="why")
    nothing = Anchor("a", "b, mm", "c", 10.0, float("nan"), 0.5)
    assert [row.met for row in (near, far, nothing)] == [True, False, False]
    text = table([near, far])
    assert "| a | b, mm | c | 10.00 | 10.40 | 0.5 | yes |" in text
    assert "1 of 2 rows are met" in text
    assert "- a, b, mm: 10.60 found, 10.00 +- 0.5 wanted (why)" in text
