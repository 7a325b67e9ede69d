from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, rankdata

from tests.fits import day, make_fit
from tracker.decisions import squad
from tracker.decisions.distance.target import Target
from tracker.decisions.squad import (
    ahead_chances,
    drill_table,
    rank_draws,
    shortfall_draws,
    squad_table,
)
from tracker.errors import NotEnoughData
from tracker.records import Change

TRAIT = "strike_up_mm"


@pytest.fixture
def target_five(monkeypatch):
    monkeypatch.setattr(squad, "player_target", _five)


def _five(fit, player, trait):
    at_five = Target(trait, 5.0, (4.0, 6.0), 200.0, 5.0, at_edge=False)
    return None if trait == "club_speed_mps" else at_five


def _draws(columns):
    """Draws (samples, session) with the same level in all four sessions."""
    return np.tile(np.asarray(columns, dtype=float)[:, None], (1, 4))


def test_ranks_of_four_draws_are_worked_by_hand(target_five):
    # distances to 5: Ana 1 1 1 4, Ben 2 2 0 3, Cy 9 9 9 9
    fit = make_fit(
        {
            "Ana": {TRAIT: _draws([4, 6, 4, 1])},
            "Ben": {TRAIT: _draws([3, 7, 5, 8])},
            "Cy": {TRAIT: _draws([-4, 14, -4, -4])},
        },
        samples=4,
    )
    rows = {r.player: r for r in squad_table(fit, TRAIT)}
    assert [r.player for r in squad_table(fit, TRAIT)] == ["Ana", "Ben", "Cy"]
    assert rows["Ana"].expected_rank == pytest.approx((1 + 1 + 2 + 2) / 4)
    assert rows["Ben"].expected_rank == pytest.approx((2 + 2 + 1 + 1) / 4)
    assert rows["Cy"].expected_rank == 3.0
    assert rows["Ana"].rank90 == (1, 2)
    assert rows["Cy"].rank90 == (3, 3)
    assert rows["Ana"].p_top3 == 1.0
    assert rows["Ana"].tied_with == ("Ben",)
    assert rows["Cy"].tied_with == ()


def test_the_third_is_among_the_top_three_and_who_shares_the_next_two_places_is_not(target_five):
    # distances to 5 of 1 to 4 in one draw, in the other Cy and Di are both 3 away: rank 3.5 each
    fit = make_fit(
        {
            "Ana": {TRAIT: _draws([6, 6])},
            "Ben": {TRAIT: _draws([7, 7])},
            "Cy": {TRAIT: _draws([8, 8])},
            "Di": {TRAIT: _draws([9, 2])},
        },
        samples=2,
    )
    chances = {row.player: row.p_top3 for row in squad_table(fit, TRAIT)}
    assert chances == {"Ana": 1.0, "Ben": 1.0, "Cy": 0.5, "Di": 0.0}


def test_players_are_tied_from_one_draw_in_ten_on_and_a_shared_rank_is_both_places(target_five):
    # Ben is ahead of Ana in one draw of ten, of Cy in none; Cy and Di are always as far off
    fit = make_fit(
        {
            "Ana": {TRAIT: _draws([6] * 9 + [8])},
            "Ben": {TRAIT: _draws([7] * 10)},
            "Cy": {TRAIT: _draws([9] * 10)},
            "Di": {TRAIT: _draws([1] * 10)},
        },
        samples=10,
    )
    rows = {row.player: row for row in squad_table(fit, TRAIT)}
    assert rows["Ana"].tied_with == ("Ben",)
    assert rows["Ben"].tied_with == ("Ana",)
    assert rows["Cy"].tied_with == ("Di",)
    assert rows["Cy"].rank90 == rows["Di"].rank90 == (3, 4)


def test_places_are_among_the_players_asked_for_and_the_yardstick_is_held(target_five):
    # distances to 5: Ana 1, Ben 2, Cy 9; without Ana, Ben is first
    fit = make_fit(
        {
            "Ana": {TRAIT: _draws([4, 6])},
            "Ben": {TRAIT: _draws([3, 7])},
            "Cy": {TRAIT: _draws([-4, 14])},
        },
        samples=2,
    )
    rows = squad_table(fit, TRAIT, players={"Cy", "Ben"})
    assert [(r.player, r.rank90) for r in rows] == [("Ben", (1, 1)), ("Cy", (2, 2))]
    assert [r.shortfall.median for r in rows] == [2.0, 9.0]
    speed = squad_table(make_fit({"Ana": {}}), "club_speed_mps")
    assert speed[0].shortfall is None


def test_only_sessions_since_a_day_make_a_trend(target_five):
    path = np.tile([9.0, 0.0, 1.0, 2.0], (8, 1))  # one a week; from the second on 4.348 a month
    fit = make_fit({"Ana": {TRAIT: path}}, samples=8)
    (row,) = squad_table(fit, TRAIT, since=day(7))
    assert row.trend_per_month.median == pytest.approx(365.25 / 12 / 7, abs=1e-4)
    assert squad_table(fit, TRAIT, since=day(21))[0].trend_per_month is None


def test_fastest_is_best_for_club_speed(target_five):
    fit = make_fit({"Ana": {"club_speed_mps": 40.0}, "Ben": {"club_speed_mps": 50.0}})
    assert [r.player for r in squad_table(fit, "club_speed_mps")] == ["Ben", "Ana"]


def test_chance_of_being_ahead_is_that_of_two_normals(target_five):
    # levels 8 and 9 above the target with SD 2 each: P(ahead) = Phi(1 / (2 sqrt 2)) = .638
    fit = make_fit({"Ana": {TRAIT: 28.0}, "Ben": {TRAIT: 29.0}}, level_sd=2.0, samples=20_000)
    shortfall = shortfall_draws(fit, TRAIT, ("Ana", "Ben"), {"Ana": 5.0, "Ben": 5.0})
    assert ahead_chances(shortfall)[0, 1] == pytest.approx(norm.cdf(1 / (2 * 2**0.5)), abs=0.01)


def test_players_without_readings_are_left_out_and_nobody_left_is_said(target_five):
    fit = make_fit({"Ana": {}, "Ben": {}}, shots={("Ben", TRAIT): [0, 0, 0, 0]})
    assert [r.player for r in squad_table(fit, TRAIT)] == ["Ana"]
    empty = make_fit({"Ana": {}}, shots={("Ana", TRAIT): [0, 0, 0, 0]})
    with pytest.raises(NotEnoughData, match="strike height"):
        squad_table(empty, TRAIT)


def test_a_trend_is_per_month_and_absent_with_one_session(target_five):
    path = np.tile([0.0, 1.0, 2.0, 3.0], (8, 1))  # one a week: 4.348 a month
    fit = make_fit(
        {"Ana": {TRAIT: path}, "Ben": {TRAIT: np.full((8, 1), 2.0)}},
        days={"Ana": (0, 7, 14, 21), "Ben": (0,)},
        samples=8,
    )
    rows = {r.player: r for r in squad_table(fit, TRAIT)}
    assert rows["Ana"].trend_per_month.median == pytest.approx(365.25 / 12 / 7, abs=1e-4)
    assert rows["Ana"].trend_per_month.unit == "mm per month"
    assert rows["Ben"].trend_per_month is None


shortfalls = st.integers(2, 7).flatmap(
    lambda players: st.lists(
        st.lists(st.integers(0, 5), min_size=players, max_size=players), min_size=1, max_size=20
    )
)


@given(shortfalls)
def test_ranks_of_a_draw_sum_to_the_same_and_agree_with_pairwise_wins(rows):
    shortfall = np.array(rows, dtype=float)
    ranks = rank_draws(shortfall)
    players = shortfall.shape[1]
    np.testing.assert_allclose(ranks.sum(axis=1), players * (players + 1) / 2)
    np.testing.assert_array_equal(ranks[0], rankdata(rows[0]))
    # expected rank = 1 + the chances that each other player is ahead
    ahead = ahead_chances(shortfall)
    np.testing.assert_allclose(ranks.mean(axis=0), 0.5 + ahead.sum(axis=0), atol=1e-9)
    np.testing.assert_allclose(ahead + ahead.T, 1.0)


@settings(max_examples=15)
@given(order=st.permutations(["Ana", "Ben", "Cy", "Di"]))
def test_the_order_of_players_in_the_fit_does_not_matter(order):
    rng = np.random.default_rng(6)
    draws = {
        p: {TRAIT: _draws(rng.normal(m, 2, 50))} for p, m in zip("ABCD", range(4), strict=True)
    }
    names = dict(zip(["Ana", "Ben", "Cy", "Di"], "ABCD", strict=True))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(squad, "player_target", _five)
        sorted_fit = make_fit({p: draws[names[p]] for p in names}, samples=50)
        shuffled = make_fit({p: draws[names[p]] for p in order}, samples=50)

        def tied_sorted(rows):
            return [replace(r, tied_with=tuple(sorted(r.tied_with))) for r in rows]

        got = tied_sorted(squad_table(shuffled, TRAIT))
        assert got == tied_sorted(squad_table(sorted_fit, TRAIT))


def _drill_fit(effect):
    changes = [
        Change("Ana", day(10), "drill", "low tee", TRAIT),
        Change("Ben", day(10), "drill", "low tee", TRAIT),
        Change("Cy", day(10), "equipment", "new shaft", "club_speed_mps"),
    ]
    return make_fit(
        {"Ana": {}, "Ben": {}, "Cy": {}},
        samples=4,
        changes=changes,
        drill_effect={
            "low tee": {TRAIT: effect},
            "new shaft": {"club_speed_mps": [-1.0, 1.0, 1.0, -1.0]},
        },
        shots={("Ben", TRAIT): [0, 0, 0, 0]},
    )


def test_drills_come_with_effect_chance_and_who_was_read():
    rows = drill_table(_drill_fit([2.0, 4.0, -1.0, 3.0]))
    assert [(r.name, r.kind, r.trait) for r in rows] == [
        ("low tee", "drill", TRAIT),
        ("new shaft", "equipment", "club_speed_mps"),
    ]
    assert rows[0].p_positive == 0.75
    assert rows[0].players == 1  # Ben did it and was never read
    assert rows[0].effect.median == pytest.approx(2.5)
    assert rows[0].effect.unit == "mm"
    assert rows[1].p_positive == 0.5


@given(st.lists(st.floats(-5, 5).filter(lambda v: abs(v) > 1e-3), min_size=4, max_size=4))
@settings(max_examples=20)
def test_mirroring_a_drill_mirrors_its_chance(effect):
    plus, minus = (
        next(r for r in drill_table(_drill_fit(sign * np.array(effect))) if r.name == "low tee")
        for sign in (1, -1)
    )
    assert plus.p_positive == pytest.approx(1 - minus.p_positive)
    assert plus.effect.low90 == pytest.approx(-minus.effect.high90)


def test_a_change_that_begins_after_the_last_session_has_not_been_done():
    late = Change("Bo", day(60), "drill", "ladder", TRAIT)
    begun = Change("Ann", day(10), "drill", "ladder", TRAIT)
    fit = make_fit({"Ann": {TRAIT: 0.0}, "Bo": {TRAIT: 0.0}}, changes=(begun, late))
    (row,) = (r for r in drill_table(fit) if r.trait == TRAIT)
    assert row.players == 1
    assert drill_table(make_fit({"Bo": {TRAIT: 0.0}}, changes=(late,))) == ()
