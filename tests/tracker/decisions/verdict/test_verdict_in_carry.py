"""Verdicts and ranks with the target and the worthwhile change that the physics gives."""

import numpy as np
import pytest

from tests.fits import day, make_fit
from tracker.decisions.distance.target import player_target
from tracker.decisions.squad import squad_table
from tracker.decisions.verdict.verdict import judge_change
from tracker.decisions.verdict.worthwhile import worthwhile_change
from tracker.errors import BadRequest
from tracker.player_trait import Window

TRAIT = "strike_up_mm"
BEFORE, AFTER = Window(day(0), day(10)), Window(day(11), day(40))


def _path(before, after):
    return {TRAIT: [before, before, after, after]}


def test_a_low_strike_that_rises_is_better_and_one_that_drops_is_worse():
    fit = make_fit({"Up": _path(-12.0, -5.0), "Down": _path(-5.0, -12.0)})
    up, down = (judge_change(fit, p, TRAIT, BEFORE, AFTER) for p in ("Up", "Down"))
    assert (up.verdict, up.direction) == ("real-worthwhile", "better")
    assert (down.verdict, down.direction) == ("real-worthwhile", "worse")
    assert up.worthwhile == worthwhile_change(fit, "Up", TRAIT).value
    assert up.p_better == 1.0
    assert down.p_better == 0.0


def test_a_move_within_the_flat_window_is_said_to_make_no_odds():
    best = player_target(make_fit({"Ana": {TRAIT: 2.0}}), "Ana", TRAIT).best
    fit = make_fit({"Ana": _path(best - 2.0, best + 1.0)}, level_sd=0.1)
    found = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)
    assert found.verdict == "real-worthwhile"  # a fifth of the spread between players is small
    assert any("makes no odds" in g for g in found.guards)
    far = judge_change(make_fit({"Ana": _path(-12.0, -5.0)}), "Ana", TRAIT, BEFORE, AFTER)
    assert not any("makes no odds" in g for g in far.guards)


def test_path_is_judged_against_the_face():
    fit = make_fit({"Ana": {"path_deg": [-8.0, -8.0, -1.0, -1.0], "face_deg": 1.0}}, level_sd=0.2)
    found = judge_change(fit, "Ana", "path_deg", BEFORE, AFTER)
    assert found.direction == "better"
    assert player_target(fit, "Ana", "path_deg").best == pytest.approx(1.0, abs=2.0)


def test_the_squad_is_ranked_by_distance_to_each_players_own_target():
    fit = make_fit({"Low": {TRAIT: -9.0}, "Good": {TRAIT: 2.0}, "High": {TRAIT: 20.0}})
    rows = squad_table(fit, TRAIT)
    assert [r.player for r in rows] == ["Good", "Low", "High"]
    assert rows[0].rank90 == (1, 1)
    assert sum(r.expected_rank for r in rows) == pytest.approx(6.0)


def test_what_no_delivery_has_is_refused():
    with pytest.raises(BadRequest, match="spin_rpm"):
        player_target(make_fit({"Ana": {}}), "Ana", "spin_rpm")


def test_worthwhile_refuses_a_carry_that_is_none():
    fit = make_fit({"Ana": {}})
    for carry in (0.0, -1.0, np.nan):
        with pytest.raises(BadRequest, match="carry_m"):
            worthwhile_change(fit, "Ana", TRAIT, carry_m=carry)
