"""Regression to the mean is not called a drill that works; a drill that works is.

Measured once: with no effect the tool said "works" in 1 of 40 seasons, the t-test from the session
of the choice in 11 and from all earlier sessions in 3; with 6 mm the tool in 7 of 8, and in the
eighth that it lifts players who stood too high already.
"""

import numpy as np
import pytest

from tests.evidence.worst_drilled import claims

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
]

FALSE_CLAIMS = 0.05
ALPHA = 0.05


@pytest.fixture(scope="module")
def nothing():
    found = claims(range(5000, 5040))
    _report("no effect", found)
    return found


@pytest.fixture(scope="module")
def real():
    found = claims(range(6000, 6008), effect=6.0)
    _report("6 mm", found)
    return found


def share(found, asked):
    return float(np.mean([asked(c) for c in found]))


def _report(name, found):
    print(
        f"{name}, {len(found)} seasons: called works {share(found, lambda c: c.works):.3f}, "
        f"said to lift {share(found, lambda c: c.lifts):.3f}; "
        f"paired t-test from the session of the choice "
        f"{share(found, lambda c: c.p_after_choice < ALPHA):.3f}, from all earlier sessions "
        f"{share(found, lambda c: c.p_after_all < ALPHA):.3f}; mean P(helps) "
        f"{share(found, lambda c: c.p_helps):.3f}; fits in doubt "
        f"{share(found, lambda c: c.problems > 0):.3f}"
    )


def test_the_worst_drilled_with_nothing_are_rarely_said_to_be_helped(nothing):
    assert share(nothing, lambda c: c.works) <= FALSE_CLAIMS


def test_a_paired_t_test_is_fooled_by_the_same_seasons(nothing):
    fooled = share(nothing, lambda c: c.p_after_choice < ALPHA)
    assert fooled > 3 * FALSE_CLAIMS
    assert fooled > share(nothing, lambda c: c.works)


def test_a_drill_that_lifts_everybody_is_said_to(real):
    assert share(real, lambda c: c.lifts) >= 0.95
    assert share(real, lambda c: c.works) >= 0.75
