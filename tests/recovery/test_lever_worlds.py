"""The first lever pays: against the former rule and three naive coaches, in sixteen academies."""

import numpy as np
import pytest

from tests.recovery.lever_worlds import NO_HISTORY, RULES, SIZES
from tests.recovery.levers_run import BINS, OF_FORMER, judged, regrets, table

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
]


@pytest.fixture(scope="module")
def scored():
    found = judged()
    print(table(found, 0.0))
    return found


def regret(scored, rule, world=None):
    """Mean of what a rule's lever pays less than the best, m a session."""
    return regrets([s for s in scored if world in (None, s.world)], rule).mean()


@pytest.mark.parametrize("world", SIZES)
def test_where_the_log_tells_of_drills_the_tool_misses_much_less(scored, world):
    assert regret(scored, "tool", world) <= OF_FORMER * regret(scored, "former rule", world)


def test_over_all_worlds_it_misses_much_less(scored):
    assert regret(scored, "tool") <= OF_FORMER * regret(scored, "former rule")


def test_without_a_history_it_misses_no_more(scored):
    assert regret(scored, "tool", NO_HISTORY) <= regret(scored, "former rule", NO_HISTORY)


@pytest.mark.parametrize("rule", RULES[2:])
def test_naive_coaches_miss_more(scored, rule):
    assert regret(scored, "tool") < regret(scored, rule)


def test_first_levers_pay_what_they_claim(scored):
    told = [s.first_claim for s in scored if s.first_claim]
    assert 0.9 <= sum(c for c, _ in told) / sum(a for _, a in told) <= 1.1


def test_intervals_hold_the_outcomes(scored):
    assert 0.85 <= np.mean([c[4] for s in scored for c in s.claims]) <= 0.95


@pytest.mark.parametrize(("low", "high"), BINS)
def test_chances_of_being_best_come_true(scored, low, high):
    mine = np.array([c for s in scored for c in s.claims if low <= c[5] < high])
    assert len(mine) > 0
    assert abs(mine[:, 5].mean() - mine[:, 6].mean()) <= 0.1
