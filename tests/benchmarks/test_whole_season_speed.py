"""What a page waits for in a whole season: missed readings from balls, and a squad's threshold."""

import time

import numpy as np
import pytest

from models.drive.missed_readings import INFERABLE
from tests.models.drive.test_missed_readings import infer, true_deliveries, with_errors
from tests.tracker.decisions.verdict.test_threshold import TRAIT, drilled
from tracker.decisions.verdict.threshold import calibrated_thresholds

pytestmark = pytest.mark.bench


def test_twenty_thousand_shots_are_inferred_within_a_second(capsys):
    n = 21_000
    known, ball = with_errors(true_deliveries(n))
    for j, name in enumerate(INFERABLE):
        known[name][np.arange(n) % 3 == j] = np.nan
    infer(known, ball)  # loads the compiled impact
    began = time.process_time()
    infer(known, ball)
    took = time.process_time() - began
    with capsys.disabled():
        print(f"\n{n} shots, one reading missed in each: {took:.2f} s of one core")
    assert took < 1.0


def test_fourteen_players_have_their_threshold_within_seconds(capsys):
    fit = drilled(14)
    calibrated_thresholds(fit, TRAIT, logged=True)  # loads the compiled sweep
    began = time.process_time()
    calibrated_thresholds(fit, TRAIT, logged=True)
    took = time.process_time() - began
    with capsys.disabled():
        print(f"\n14 players, some two thousand imagined seasons: {took:.2f} s of one core")
    assert took < 4.0
