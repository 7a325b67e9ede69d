"""What a lever would do to a player, against moments worked out by hand."""

import re

import numpy as np
import pytest

from tests.fits import day, make_fit, noise
from tracker.decisions.distance.drill_sizes import next_drill_means
from tracker.decisions.distance.gain import player_gains
from tracker.decisions.distance.gain_words import lever_reason
from tracker.decisions.distance.lever_inputs import lever_inputs
from tracker.decisions.distance.levers import moved_by, new_drill_sizes, trait_effects
from tracker.decisions.distance.target import Target
from tracker.records import Change

UP = "strike_up_mm"
N = 6000
AIM = Target(UP, 4.0, (2.0, 6.0), 200.0, 4.0, False)
VARIANCE = (0.12 + 0.6 + 2.3) / 3  # of the answers, in squared effect SDs


def change(player, name="ladder", kind="drill", effort=None, on=10, trait=UP):
    return Change(player, day(on), kind, name, trait, effort)


def fit_with(changes, **more):
    levels = {"Ann": {UP: -6.0}, "Bo": {UP: -2.0}, "Cy": {UP: 9.0}}
    return make_fit(levels, changes=changes, samples=N, **more)


def effects(fit, player="Ann", level=-6.0, target=AIM):
    found = trait_effects(
        lever_inputs(fit, player), player, target, np.full(N, level), np.arange(N)
    )
    return {e.lever.name: e for e in found}


def test_a_move_stops_at_the_target_and_away_from_it_counts_in_full():
    level = np.array([-3.0, 2.0, 0.0, 0.0, 5.0])
    effect = np.array([5.0, 5.0, -4.0, 0.0, -9.0])
    target = np.array([0.0, 9.0, 3.0, 3.0, 1.0])
    assert moved_by(effect, level, target).tolist() == [3.0, 5.0, -4.0, 0.0, -4.0]
    assert moved_by(np.array([2.0]), np.zeros(1), np.zeros(1)).tolist() == [2.0]


def test_a_logged_drill_does_its_mean_and_some_hardly_answer():
    # known so well that no other drill has a say in it
    mean = 5.0 + 0.1 * noise(N, seed=3)
    fit = fit_with([change("Bo")], drill_effect={"ladder": {UP: mean}}, effect_sd={UP: 2.0})
    effect = effects(fit)["ladder"].effect
    assert effect.mean() == pytest.approx(5.0, abs=0.1)
    assert effect.var() == pytest.approx(0.01 + 4 * VARIANCE, rel=0.06)
    answers = effect - mean
    # P(|answer| < .7 = .35 SD): a third each at SD .693, 1.549 and 3.033 mm: .687, .349, .183
    assert (np.abs(answers) < 0.7).mean() == pytest.approx((0.687 + 0.349 + 0.183) / 3, abs=0.02)


def test_a_drill_that_a_player_has_done_adds_from_none_to_all_of_it_again():
    own = 3.0 + 0.5 * noise(N, seed=8)
    fit = fit_with(
        [change("Ann"), change("Bo")], change_effect={0: {UP: own}},
        drill_effect={"ladder": {UP: 6.0}},
    )  # fmt: skip
    mine = effects(fit)["ladder"]
    np.testing.assert_array_equal(mine.own, own)
    # share uniform, own N(3, .25): mean 1.5, variance (9 + .25) / 3 - 1.5^2
    assert mine.effect.mean() == pytest.approx(1.5, abs=0.03)
    assert mine.effect.var() == pytest.approx(9.25 / 3 - 2.25, rel=0.05)
    assert ((mine.effect >= 0) & (mine.effect <= own)).mean() == 1.0
    untried = effects(fit, "Cy")["ladder"]
    assert untried.own is None
    assert untried.effect.mean() == pytest.approx(6.0, abs=0.1)


def test_who_did_not_answer_is_promised_nothing_of_the_same_drill():
    fit = fit_with(
        [change("Ann"), change("Bo")], change_effect={0: {UP: 0.2 * noise(N, seed=8)}},
        drill_effect={"ladder": {UP: 6.0}},
    )  # fmt: skip
    assert np.abs(effects(fit)["ladder"].effect).max() < 1.0


def test_equipment_that_a_player_has_is_in_place_and_no_lever():
    fit = fit_with([change("Ann", "lighter shaft", "equipment"), change("Ann", "ladder")])
    assert set(effects(fit)) == {"ladder", "a new drill for strike height"}
    assert "lighter shaft" in effects(fit, "Bo")


def test_a_new_drill_is_what_drills_do_here_and_players_differ_about_it():
    inputs = lever_inputs(fit_with([], effect_sd={UP: 2.0}), "Ann")
    rng = np.random.default_rng(1)
    drawn = new_drill_sizes(inputs, UP, np.arange(N), rng)
    means = next_drill_means(inputs, UP, np.arange(N), np.random.default_rng(1))
    assert drawn.mean() == pytest.approx(means.mean(), abs=0.01)
    assert drawn.var() == pytest.approx(means.var() + 4 * VARIANCE, rel=0.06)


def test_a_new_drill_is_meant_toward_the_target():
    name = "a new drill for strike height"
    fit = fit_with([])
    assert effects(fit)[name].effect.mean() == pytest.approx(0.41 * 6.0, abs=0.05)  # B = 6
    above = effects(fit, "Cy", level=9.0)[name]
    assert above.effect.mean() == pytest.approx(-0.41 * 6.0, abs=0.05)


def test_each_lever_has_random_numbers_of_its_own_and_the_same_ones_again():
    fit = fit_with([change("Bo", "one"), change("Bo", "two")])
    first, again = effects(fit), effects(fit)
    for name, found in first.items():
        np.testing.assert_array_equal(found.effect, again[name].effect)
    assert abs(np.corrcoef(first["one"].effect, first["two"].effect)[0, 1]) < 0.05
    other = effects(fit, "Cy")["one"].effect
    assert abs(np.corrcoef(first["one"].effect, other)[0, 1]) < 0.05


def test_effort_is_as_logged_else_the_traits_else_the_squads_else_two():
    fit = fit_with([
        change("Ann", "one", effort=4.0), change("Bo", "one", effort=2.0),
        change("Bo", "two", effort=8.0), change("Bo", "three"),
    ])  # fmt: skip
    found = {name: e.effort_sessions for name, e in effects(fit, "Cy").items()}
    # one: (4 + 2) / 2; the median of 4, 2 and 8 for what has none of its own
    assert found == {
        "one": 3.0, "two": 8.0, "three": 4.0, "a new drill for strike height": 4.0,
    }  # fmt: skip
    # another trait's practice does not count where the trait has some of its own, else it does
    other = change("Bo", "four", effort=20.0, trait="attack_deg")
    mixed = effects(fit_with([change("Ann", "one", effort=4.0), other]), "Cy")
    assert mixed["a new drill for strike height"].effort_sessions == 4.0
    alone = effects(fit_with([other]), "Cy")
    assert alone["a new drill for strike height"].effort_sessions == 20.0
    assert effects(fit_with([change("Bo", "one")]), "Cy")["one"].effort_sessions == 2.0


def test_a_new_drill_says_what_the_player_has_tried_for_the_trait():
    changes = [change("Ann"), change("Ann", "tee gate"), change("Bo", "other")]
    fit = fit_with(changes, change_effect={0: {UP: 0.02}, 1: {UP: 1.6}})
    new = effects(fit)["a new drill for strike height"]
    assert new.tried == (("ladder", 0.02), ("tee gate", 1.6))
    assert lever_reason(new, "metres") == (
        "ladder hardly moved this player so far; tee gate moved this player by about 1.6 mm so "
        "far; a guess, from what drills have done here"
    )
    nothing = effects(fit, "Cy")["a new drill for strike height"]
    assert lever_reason(nothing, "metres") == "a guess, from what drills have done here"


def test_what_comes_along_with_attack_is_said_with_its_range_and_who_says_so():
    up = Change("Bo", day(14), "drill", "tilt", "attack_deg", 1.0)
    fit = make_fit({"Ann": {}, "Bo": {}}, changes=[up], change_effect={0: {"attack_deg": 2.0}})
    said = player_gains(fit, "Ann", draws=80, shots=16).follows
    assert re.fullmatch(
        r"A degree of attack brings along \+0\.\d° \(.+\) of delivered loft and "
        r"[+-]?0\.\d° \(.+\) of club path, 90 % sure in brackets: so say shots, 1 here whose "
        r"attack was changed and what is usual\.",
        said,
    )
    nobody = player_gains(make_fit({"Ann": {}}), "Ann", draws=80, shots=16).follows
    assert nobody.endswith("so say shots and what is usual.")
