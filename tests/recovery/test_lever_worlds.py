"""The first lever pays: against the former rule and three naive coaches, in sixteen academies."""

import numpy as np
import pytest

from tests.recovery.lever_worlds import ACADEMIES, NO_HISTORY, RULES, SIZES, scored_academy

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("default"),
]

INFORMATIVE = tuple(SIZES)
OF_FORMER = 0.6
"""Regret of the tool over that of the former rule, at most, where the log tells of drills."""
BINS = ((0.0, 0.1), (0.1, 0.3), (0.3, 0.6), (0.6, 1.01))


@pytest.fixture(scope="module")
def scored():
    found = [one for world, seed in ACADEMIES for one in scored_academy(world, seed)]
    report(found)
    return found


def regret(scored, rule, world=None):
    """Mean of what a rule's lever pays less than the best, m a session."""
    mine = [s for s in scored if world is None or s.world == world]
    return float(np.mean([s.best_rate - s.rates[rule] for s in mine]))


def report(scored):
    """Print regret by world and rule, and how the claims did."""
    for world in dict.fromkeys(s.world for s in scored):
        mine = [s for s in scored if s.world == world]
        best = np.mean([s.best_rate for s in mine])
        line = ", ".join(f"{rule} {regret(scored, rule, world):.2f}" for rule in RULES)
        claimed = sum(s.first_claim[0] for s in mine if s.first_claim)
        actual = sum(s.first_claim[1] for s in mine if s.first_claim)
        acting = sum(s.first_claim is not None for s in mine)
        print(
            f"{world}: {len(mine)} players, best {best:.2f} m a session, regret {line}; "
            f"{acting} told to act, claimed {claimed:.1f} m, actual {actual:.1f} m"
        )
    claims = np.array([c for s in scored for c in s.claims])
    print(
        f"levers {len(claims)}: claimed {claims[:, 0].sum():.1f}, actual {claims[:, 3].sum():.1f}"
    )
    print(f"true outcomes inside the 90 % intervals: {claims[:, 4].mean():.3f}")
    for low, high in BINS:
        inside = (claims[:, 5] >= low) & (claims[:, 5] < high)
        if inside.any():
            print(
                f"P(best) {low:.1f}-{high:.1f}: {inside.sum()} levers, claimed "
                f"{claims[inside, 5].mean():.3f}, was best {claims[inside, 6].mean():.3f}"
            )


@pytest.mark.parametrize("world", INFORMATIVE)
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
