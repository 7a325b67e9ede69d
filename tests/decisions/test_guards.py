from datetime import timedelta

import numpy as np
import pytest

from tests.fits import FIRST_DAY, day, make_fit
from tracker.decisions.guards import (
    correlation_guard,
    method_guard,
    methods_linked,
    neighbour_correlation,
    too_few_sessions,
    typical_gap_weeks,
    typical_shots,
    unlinked_method_guard,
)
from tracker.posterior import Window

TRAIT = "strike_up_mm"
BEFORE, AFTER = Window(day(0), day(10)), Window(day(11), day(40))
SWITCHED = np.array([[10, 10, 0, 0], [0, 0, 10, 10]])
ONLY_SPRAY = np.array([[10, 10, 10, 10], [0, 0, 0, 0]])


def _switch(other):
    return make_fit(
        {"Ana": {}, "Ben": {}},
        methods=("spray", "camera"),
        shots={("Ana", TRAIT): SWITCHED, ("Ben", TRAIT): other},
    )


def test_a_switch_of_method_that_nobody_bridges_forbids_a_verdict():
    fit = _switch(ONLY_SPRAY)
    reason = unlinked_method_guard(fit, "Ana", TRAIT, BEFORE, AFTER)
    assert "spray before and by camera after" in reason
    assert unlinked_method_guard(fit, "Ben", TRAIT, BEFORE, AFTER) is None


def test_another_player_read_by_both_methods_bridges_the_switch():
    fit = _switch(np.array([[10, 10, 10, 0], [0, 0, 0, 10]]))
    assert unlinked_method_guard(fit, "Ana", TRAIT, BEFORE, AFTER) is None
    assert "estimated from the squad" in method_guard(fit, "Ana", TRAIT, BEFORE, AFTER)


def test_the_players_own_switch_is_no_bridge_but_a_session_read_twice_is():
    alone = make_fit({"Ana": {}}, methods=("spray", "camera"), shots={("Ana", TRAIT): SWITCHED})
    assert not methods_linked(alone, "Ana", TRAIT, frozenset({"spray", "camera"}))
    both = np.array([[10, 10, 0, 0], [0, 10, 10, 10]])
    twice = make_fit({"Ana": {}}, methods=("spray", "camera"), shots={("Ana", TRAIT): both})
    assert methods_linked(twice, "Ana", TRAIT, frozenset({"spray", "camera"}))


def test_methods_are_linked_through_a_third():
    chain = make_fit(
        {"Ana": {}, "Ben": {}, "Cy": {}},
        methods=("spray", "camera", "powder"),
        shots={
            ("Ana", TRAIT): np.array([[9, 9, 0, 0], [0, 0, 9, 9], [0, 0, 0, 0]]),
            ("Ben", TRAIT): np.array([[9, 0, 0, 0], [0, 0, 0, 0], [0, 9, 9, 9]]),
            ("Cy", TRAIT): np.array([[0, 0, 0, 0], [9, 0, 0, 0], [0, 9, 9, 9]]),
        },
    )
    assert methods_linked(chain, "Ana", TRAIT, frozenset({"spray", "camera"}))


def test_sessions_without_readings_do_not_count_toward_two():
    fit = make_fit({"Ana": {}}, shots={("Ana", TRAIT): [12, 0, 12, 12]})
    assert too_few_sessions(fit, "Ana", TRAIT, [BEFORE])
    assert not too_few_sessions(fit, "Ana", TRAIT, [AFTER])


def test_lag_one_correlation_is_worked_by_hand():
    # residuals 1 1 -1 -1 (mean 0): (1*1 + 1*-1 + -1*-1) / 4 = 1/4
    fit = make_fit({"Ana": {TRAIT: 2.0}}, raw_mean={("Ana", TRAIT): [3, 3, 1, 1]})
    correlation, sessions = neighbour_correlation(fit, "Ana", TRAIT)
    assert correlation == pytest.approx(0.25, abs=1e-6)
    assert sessions == 4


def test_a_run_of_sessions_on_one_side_is_flagged_and_an_alternation_is_not():
    days = tuple(range(0, 84, 7))
    run = [2.0 + (1 if s < 6 else -1) for s in range(12)]
    flip = [2.0 + (-1) ** s for s in range(12)]
    for means, flagged in ((run, True), (flip, False)):
        fit = make_fit({"Ana": {TRAIT: 2.0}}, days=days, raw_mean={("Ana", TRAIT): means})
        assert (correlation_guard(fit, "Ana", TRAIT) is not None) is flagged


def test_a_method_bias_is_taken_out_before_neighbours_are_compared():
    days = tuple(range(0, 84, 7))
    counts = np.array([[9] * 6 + [0] * 6, [0] * 6 + [9] * 6])
    means = [2.0 + (0 if s < 6 else 3) for s in range(12)]
    fit = make_fit(
        {"Ana": {TRAIT: 2.0}}, days=days, methods=("camera", "spray"),
        shots={("Ana", TRAIT): counts}, raw_mean={("Ana", TRAIT): means},
    )  # fmt: skip
    assert correlation_guard(fit, "Ana", TRAIT) is not None
    fit.bias[:, 1, fit.trait_index(TRAIT)] = 3.0
    assert correlation_guard(fit, "Ana", TRAIT) is None


def test_typical_session_is_the_median():
    fit = make_fit({"Ana": {}}, days=(0, 7, 21, 35), shots={("Ana", TRAIT): [10, 0, 20, 30]})
    assert typical_shots(fit, "Ana", TRAIT) == 20
    assert typical_gap_weeks(fit, "Ana") == pytest.approx(2.0)
    assert fit.session_start[0, 0].item().date() == FIRST_DAY + timedelta(days=0)
