from datetime import timedelta

import numpy as np
import pytest

from tests.fits import FIRST_DAY, day, make_fit
from tracker.decisions.verdict.guards import (
    method_guard,
    methods_linked,
    too_few_sessions,
    typical_gap_weeks,
    typical_shots,
    unlinked_method_guard,
)
from tracker.player_trait import Window

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


def test_typical_session_is_the_median():
    fit = make_fit({"Ana": {}}, days=(0, 7, 21, 35), shots={("Ana", TRAIT): [10, 0, 20, 30]})
    assert typical_shots(fit, "Ana", TRAIT) == 20
    assert typical_gap_weeks(fit, "Ana") == pytest.approx(2.0)
    assert fit.session_start[0, 0].item().date() == FIRST_DAY + timedelta(days=0)
