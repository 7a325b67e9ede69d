"""A stored fit comes back with the report of each of its parts, whatever the numbers in it."""

import json
import math
from dataclasses import replace

import pytest

from models.sampling.report import SamplerReport, joined
from tests.fits import BROKEN, CLEAN, make_fit
from tracker.errors import NoFit
from tracker.fits.kept_fits import fit_of_row, keep_fit, kept_checks, latest_fit
from tracker.store.store import Store

ATTACK, UP = "attack_deg", "strike_up_mm"
AGAIN = SamplerReport(0, 1.004, 812.0, "drift", 655.0, attempts=2)
FAILED = SamplerReport(3, math.nan, math.nan, "mu", math.nan, attempts=3)
NOTHING = SamplerReport(0, 1.0, math.inf)


def fit_with(reports):
    fit = make_fit({"Ann": {UP: 2.0}, "Bo": {UP: 5.0}}, traits=(UP, ATTACK), reports=reports)
    return replace(fit, info=replace(fit.info, report=joined(reports.values())))


@pytest.fixture
def store(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as opened:
        yield opened


@pytest.mark.parametrize("report", [CLEAN, BROKEN, AGAIN, NOTHING])
def test_a_report_comes_back_by_part_as_it_was(store, report):
    fit = fit_with({UP: report, "physics": AGAIN})
    stored = fit_of_row(
        store.load_fit(keep_fit(store, fit, store.shots_frame(), sessions=8, shots=9))
    )
    assert stored.info.reports == {UP: report, "physics": AGAIN}
    assert stored.info.report == fit.info.report
    assert stored.problems == fit.problems


def test_chains_that_gave_no_number_stay_a_problem(store):
    fit = fit_with({UP: FAILED})
    stored = fit_of_row(
        store.load_fit(keep_fit(store, fit, store.shots_frame(), sessions=8, shots=9))
    )
    report = stored.info.reports[UP]
    assert math.isnan(report.max_rhat)
    assert math.isnan(report.min_ess)
    assert (report.divergences, report.worst, report.attempts) == (3, "mu", 3)
    assert len(stored.problems_of(UP)) == 4
    assert stored.problems_of(ATTACK) == ()


@pytest.mark.parametrize("report", [FAILED, NOTHING])
def test_what_is_kept_and_printed_is_json_that_every_reader_takes(store, report):
    number = keep_fit(store, fit_with({UP: report}), store.shots_frame(), sessions=8, shots=9)
    json.dumps(store.load_fit(number).report, allow_nan=False)
    printed = json.loads(json.dumps(report.as_json(), allow_nan=False))
    assert printed["min_ess"] is None
    assert printed["min_tail_ess"] is None


def test_only_a_trait_in_doubt_goes_without_checks(store):
    number = keep_fit(
        store, fit_with({UP: CLEAN, ATTACK: BROKEN}), store.shots_frame(), sessions=8, shots=9
    )
    assert {check.trait for check in kept_checks(store, number)} == {UP}


def test_an_empty_store_and_a_club_without_a_fit_say_what_to_run(store):
    with pytest.raises(NoFit, match="load a log first"):
        latest_fit(store)
