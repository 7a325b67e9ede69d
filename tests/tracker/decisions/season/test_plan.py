"""A season's plan: who is in it, what it takes, who is not, and why."""

from datetime import date, timedelta

import pytest

from tests.tracker.decisions.season.plans import MONDAY, UP, design, levers, plan_of, retest
from tracker.decisions.season.assignment import Capacity
from tracker.decisions.season.plan import season_plan
from tracker.decisions.season.programme import chosen_design, demand_of
from tracker.errors import BadRequest

SHOWS = (design(3, 0.5), design(4, 0.7), design(6, 0.85), design(8, 0.95))


def no_retest(player, trait):
    """Nobody has the sessions that a retest compares with."""


def both(**more):
    return plan_of({"Ann": 5.0, "Bo": 3.0}, {n: retest(n, *SHOWS) for n in ("Ann", "Bo")}, **more)


def test_practice_comes_first_and_the_retest_in_the_week_after():
    ann = both().planned[0]
    assert [(b.kind, b.start, b.weeks, b.sessions) for b in ann.blocks] == [
        ("practice", MONDAY, 2, 2),
        ("retest", date(2026, 9, 21), 6, 6),
    ]
    assert ann.retest_on == date(2026, 9, 21)
    assert ann.blocks[-1].end == date(2026, 11, 2)


def test_two_sessions_a_week_take_half_as_long():
    ann = both(a_week=2).planned[0]
    assert [(b.weeks, b.sessions) for b in ann.blocks] == [(1, 2), (3, 6)]


def test_the_cheapest_retest_that_is_likely_enough_and_has_room_is_taken():
    assert chosen_design(SHOWS, 12).sessions == 6
    assert chosen_design(SHOWS, 5).sessions == 3  # 8 in 10 has no room: the cheapest with 5 in 10
    assert chosen_design(SHOWS, 2) is None
    assert chosen_design((design(5, 0.49),), 12) is None


def test_a_change_that_no_retest_shows_is_practised_without_one():
    plan = plan_of({"Ann": 5.0}, {"Ann": retest("Ann", design(12, 0.3))})
    (ann,) = plan.planned
    assert [b.kind for b in ann.blocks] == ["practice"]
    assert ann.retest_on is None
    assert (plan.measured_sessions, plan.measured_shots) == (0, 0)


def test_without_two_sessions_before_there_is_no_retest():
    (ann,) = plan_of({"Ann": 5.0}, {"Ann": None}).planned
    assert ann.programme.retest is None


def test_where_both_do_not_fit_the_one_worth_more_is_kept_and_the_other_told_why():
    plan = both(weeks=8, sessions=1)
    assert [one.player for one in plan.planned] == ["Ann"]
    assert [(one.player, one.why) for one in plan.left_out] == [
        ("Bo", "no room: the sessions are taken by changes that are worth more together")
    ]
    assert plan.used == (1,) * 8


def test_what_measuring_costs_is_counted_in_sessions_of_players_and_of_the_coach():
    plan = both(devices=2)
    assert plan.measured_sessions == 12
    assert plan.measured_shots == 12 * 15
    assert plan.measuring_slots == 6  # both are measured in the same weeks
    assert both().measuring_slots == 12


def test_gains_add_up_draw_by_draw():
    # two independent normals of SD 1 about 5 and 3 m: 8 m with an SD of 1.414
    total = both().total
    assert total.median == pytest.approx(8.0, abs=0.15)
    assert total.high90 - total.low90 == pytest.approx(2 * 1.645 * 2**0.5, abs=0.3)


def test_who_has_nothing_to_practise_is_named():
    plan = plan_of({"Ann": 5.0, "Cy": 0.2}, {})
    assert [(one.player, one.why) for one in plan.left_out] == [
        ("Cy", "no lever is expected to pay")
    ]
    nobody = plan_of({"Cy": 0.2}, {})
    assert nobody.total is None
    assert nobody.planned == ()


def test_of_a_squad_too_large_for_its_sessions_only_the_best_are_looked_at_closer():
    names = [f"P{n:02d}" for n in range(40)]
    asked = []

    def retest_of(player, trait):
        asked.append((player, trait))
        return retest(player, design(4, 0.9))

    plan = season_plan(
        [levers(name, 10.0 - n / 5, seed=n + 1) for n, name in enumerate(names)],
        retest_of, start=MONDAY, capacity=Capacity(8, 3, 1),
    )  # fmt: skip
    # 2 sessions of practice and at least 2 of a retest each: 12 fill 24 sessions twice
    assert asked == [(name, UP) for name in names[:12]]
    # each takes 6 of the 8 weeks, with three sessions a week: the best three
    assert {one.player for one in plan.planned} == {"P00", "P01", "P02"}
    assert len(plan.left_out) == 37
    assert {one.why for one in plan.left_out} == {
        "no room: the sessions are taken by changes that are worth more together"
    }


def test_practice_too_long_for_the_season_is_left_out():
    plan = season_plan(
        [levers("Ann", 5.0, effort=4.0)], no_retest, start=MONDAY, capacity=Capacity(3, 9, 1)
    )
    assert plan.left_out[0].why == "practice takes 4 weeks, the plan has 3"


def test_a_fit_in_doubt_plans_nothing():
    plan = season_plan(
        [levers("Ann", 5.0, problems=("Physics: chains disagree.",))], no_retest, start=MONDAY,
        capacity=Capacity(12, 9, 1),
    )  # fmt: skip
    assert plan.planned == ()
    assert plan.problems == ("Physics: chains disagree.",)
    assert plan.left_out[0].why == "the fit did not pass its checks"


@pytest.mark.parametrize("a_week", [0, 4])
def test_a_pace_without_rest_is_refused(a_week):
    with pytest.raises(BadRequest, match="rest between"):
        both(a_week=a_week)


@pytest.mark.parametrize("devices", [1, 3])
def test_no_week_takes_more_than_the_coach_gives(devices):
    names = [f"P{i}" for i in range(9)]
    plan = plan_of(
        {n: 2.0 + i for i, n in enumerate(names)}, {n: retest(n, *SHOWS) for n in names},
        weeks=10, sessions=3, devices=devices,
    )  # fmt: skip
    for week in range(10):
        monday = MONDAY + timedelta(weeks=week)
        kinds = [b.kind for one in plan.planned for b in one.blocks if b.start <= monday < b.end]
        practised, measured = kinds.count("practice"), len(kinds) - kinds.count("practice")
        assert practised + -(-measured // devices) == plan.used[week] <= 3
    assert len(plan.planned) + len(plan.left_out) == 9
    assert plan.left_out


def test_a_demand_has_a_week_for_every_block():
    (ann, _) = both().planned
    demand = demand_of(ann.programme, 1)
    assert demand.practice == (1, 1, 0, 0, 0, 0, 0, 0)
    assert demand.measured == (0, 0, 1, 1, 1, 1, 1, 1)
