"""ergoStool through the very code that says what works: 9 subjects, a stool a logged change.

Pinheiro & Bates 2000, Mixed-Effects Models, sec. 1.2: effort on stools T2, T3 and T4 less that on
T1 is 3.889, 2.222 and .667, residual SD 1.100, SD between subjects 1.332. A stool stays in place as
a change does, so T3 is the effect of "T2" and that of "T3" on top of it. One point of effort stands
for 2 mm, which puts the published SDs where the scales of strike height are wide.

The product's model has more in it than the published one: days of their own, a walk, changes that
nobody logged, subjects who answer differently. A mean effect may be off by its published standard
error, 1.100 sqrt(2 / 9) = .519 points.
"""

import numpy as np
import pytest

from models.traits import TRAITS
from tests.published.mixed_cases import STOOLS, TRAIT, ergo_stool_as_changes
from tracker.decisions.season.what_works import what_works
from tracker.fits.fitting import FitRequest, fit_shots

MM_A_POINT = 2.0
STANDARD_ERROR = 1.100 * (2 / 9) ** 0.5

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("default")]


@pytest.fixture(scope="module")
def rows():
    case = ergo_stool_as_changes()
    shots = case.shots.reindex(columns=list(dict.fromkeys([*case.shots.columns, *TRAITS])))
    shots[TRAIT] = case.shots[TRAIT] * MM_A_POINT
    shots["strike_method"] = "photo"
    fit, _ = fit_shots(shots, list(case.changes), FitRequest(references=("photo",)))
    assert fit.problems_of(TRAIT) == ()
    (works,) = what_works(fit, TRAIT)
    for row in works.rows:
        print(row.name, row.effect.scaled(1 / MM_A_POINT, "points"), row.spread, row.p_positive)
    between = float(np.median(fit.squad(TRAIT).spread)) / MM_A_POINT
    print("between subjects", between)
    return {row.name: row for row in works.rows}, between


def test_stools_are_as_far_apart_as_published(rows):
    found, _ = rows
    on_top = np.cumsum([found[name].effect.median / MM_A_POINT for name in STOOLS])
    assert on_top == pytest.approx(list(STOOLS.values()), abs=STANDARD_ERROR)


def test_every_subject_is_listed_and_the_first_move_is_sure(rows):
    found, _ = rows
    assert {name: row.players for name, row in found.items()} == dict.fromkeys(STOOLS, 9)
    assert found["T2"].p_positive > 0.99  # 3.889 / .519 = 7.5 standard errors
    assert found["T3"].p_positive < 0.05  # -1.667 / .519 = -3.2
    assert found["T4"].p_positive < 0.05  # -1.556 / .519 = -3.0


def test_subjects_differ_as_published(rows):
    _, between = rows
    # nine subjects tell an SD within a quarter of itself: 1 / sqrt(2 x 8)
    assert between == pytest.approx(1.332, rel=0.25)
