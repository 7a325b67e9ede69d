"""What a change is said to do, against shares and chances worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from models.traits import TRAITS
from tests.fits import BROKEN, day, make_fit, noise, with_info
from tracker.decisions.season import what_works as module
from tracker.decisions.season.what_works import (
    NotJudged,
    finding_of,
    not_judged,
    players_to_settle,
    what_works,
)
from tracker.decisions.verdict.worthwhile import Worthwhile
from tracker.errors import NotEnoughData
from tracker.records import Change

UP, SPEED = "strike_up_mm", "club_speed_mps"
N = 4000
LEVELS = {
    "Ann": {UP: -6.0, SPEED: 44.0},
    "Bo": {UP: -6.0, SPEED: 44.0},
    "Cy": {UP: 9.0, SPEED: 44.0},
    "Dee": {UP: -6.0, SPEED: 44.0},
}


@pytest.fixture(autouse=True)
def two_mm_matter(monkeypatch):
    """Two of the trait's unit matter, and the target is 3 mm above centre."""

    def known(fit, player, trait, **more):
        return Worthwhile(2.0, None if trait == SPEED else 3.0, "by hand")

    monkeypatch.setattr(module, "worthwhile_change", known)


def ladder(player, on=10, effort=None, name="ladder", kind="drill", trait=UP):
    return Change(player, day(on), kind, name, trait, effort)


def normal(mean, sd, seed):
    return mean + sd * noise(N, seed=seed)


def fit_of(changes, own, mean, **more):
    return make_fit(
        LEVELS, changes=changes, samples=N,
        change_effect={i: {UP: draws} for i, draws in enumerate(own)},
        drill_effect={name: {UP: draws} for name, draws in mean.items()}, **more,
    )  # fmt: skip


def two_players(**more):
    """Ann moved by 5 mm, Bo by nothing, the drill by 2.5 mm on average."""
    return fit_of(
        (ladder("Ann", effort=2.0), ladder("Bo", effort=4.0)),
        (normal(5.0, 1.0, 3), normal(0.0, 0.5, 4)),
        {"ladder": normal(2.5, 1.0, 5)},
        **more,
    )


def row_of(fit, trait=UP):
    (one,) = what_works(fit, trait)
    return one.rows[0]


def test_a_mean_effect_has_its_interval_and_its_chances():
    row = row_of(two_players())
    assert (row.effect.median, row.effect.low90) == pytest.approx((2.5, 2.5 - 1.645), abs=0.05)
    assert row.effect.unit == "mm"
    assert row.p_positive == row.p_helps == pytest.approx(norm.cdf(2.5), abs=0.01)
    assert row.p_worthwhile == pytest.approx(norm.cdf(0.5), abs=0.02)
    assert row.finding == "helps"
    assert row.more_players == 0


def test_practice_is_the_mean_of_what_was_logged_and_the_effect_is_said_per_session():
    row = row_of(two_players())
    assert row.effort_sessions == 3.0
    assert row.effect_per_session.median == pytest.approx(2.5 / 3, abs=0.02)
    assert row.effect_per_session.unit == "mm a session"


def test_who_was_helped_and_who_was_not_moved_is_told_apart():
    row = row_of(two_players())
    assert [a.player for a in row.answers] == ["Ann", "Bo"]
    assert [a.finding for a in row.answers] == ["helps-enough", "no-difference"]
    assert row.answers[0].p_helped == pytest.approx(norm.cdf(3.0), abs=0.005)
    # one of two is helped in nearly every draw, the other in none
    assert row.helped.median == row.unmoved.median == 0.5
    assert row.spread.median == pytest.approx(5 / np.sqrt(2), abs=0.1)


def test_a_player_above_the_target_is_helped_downward():
    fit = fit_of(
        (ladder("Ann"), ladder("Cy"), ladder("Dee")),
        (normal(5.0, 0.5, 3), normal(5.0, 0.5, 4), normal(5.0, 0.5, 6)),
        {"ladder": normal(5.0, 1.0, 5)},
    )
    row = row_of(fit)
    assert (row.way, row.other_way) == (1.0, 1)
    assert row.answers[-1].player == "Cy"
    assert row.answers[-1].finding == "against"
    assert row.answers[-1].p_helped == pytest.approx(0.0, abs=0.001)
    assert row.helped.median == pytest.approx(2 / 3)


def test_a_drill_for_players_above_the_target_helps_by_a_negative_effect():
    fit = fit_of((ladder("Cy"),), (normal(-5.0, 0.5, 3),), {"ladder": normal(-5.0, 0.8, 5)})
    row = row_of(fit)
    assert row.way == -1.0
    assert row.p_positive < 0.001 < row.p_helps
    assert row.finding == "helps-enough"
    assert row.effect.median == pytest.approx(-5.0, abs=0.05)
    assert row.spread is None


def test_more_speed_helps_whoever_has_it():
    fit = make_fit(
        LEVELS, changes=(ladder("Ann", trait=SPEED),), samples=N,
        change_effect={0: {SPEED: normal(3.0, 0.3, 3)}},
        drill_effect={"ladder": {SPEED: normal(3.0, 0.3, 5)}},
    )  # fmt: skip
    row = row_of(fit, SPEED)
    assert row.answers[0].target is None
    assert row.finding == "helps-enough"


def test_where_a_player_stood_is_the_session_before_the_change():
    levels = {"Ann": {UP: [-9.0, -8.0, 1.0, 2.0]}}
    fit = make_fit(levels, changes=(ladder("Ann", on=14),), drill_effect={"ladder": {UP: 1.0}})
    assert row_of(fit).answers[0].before == pytest.approx(-8.0)


def test_alternatives_compete_by_help_per_session_and_a_new_drill_is_one_of_them():
    changes = (ladder("Ann", effort=1.0), ladder("Bo", effort=4.0, name="mirror"))
    fit = fit_of(
        changes,
        (normal(3.0, 0.1, 3), normal(8.0, 0.1, 4)),
        {"ladder": normal(3.0, 0.1, 5), "mirror": normal(8.0, 0.1, 6)},
    )
    (one,) = what_works(fit)
    assert [row.name for row in one.rows] == ["ladder", "mirror"]
    first, second = one.rows
    assert first.p_best + second.p_best + one.new_drill.p_best == pytest.approx(1.0)
    assert second.p_best < 0.02
    # the mirror gives 2 mm a session where 3 were to be had, for four sessions, or a new drill more
    assert second.expected_regret >= 4.0
    assert one.new_drill.effort_sessions == 2.5


def test_a_change_nobody_with_readings_did_is_left_out():
    nobody_read = {("Ann", UP): 0}
    fit = fit_of((ladder("Ann"),), (normal(0, 1, 3),), {"ladder": 0.0}, shots=nobody_read)
    assert what_works(fit) == ()
    later = fit_of((ladder("Ann", on=400),), (normal(0, 1, 3),), {"ladder": 0.0})
    assert what_works(later) == ()
    assert what_works(make_fit(LEVELS)) == ()


def test_a_trait_in_doubt_says_nothing():
    fit = two_players()
    doubtful = with_info(fit, replace(fit.info, reports={UP: BROKEN}))
    assert what_works(doubtful) == ()


def test_a_change_of_a_trait_without_a_better_way_is_left_out_for_that_reason(monkeypatch):
    monkeypatch.setattr(module, "TRAITS", {**TRAITS, UP: replace(TRAITS[UP], goal="none")})
    fit = two_players()
    assert what_works(fit) == ()
    assert not_judged(fit) == (NotJudged(UP, ("ladder",), "no-better-way"),)


def test_why_a_change_is_left_out():
    assert not_judged(two_players()) == ()
    assert not_judged(two_players(), SPEED) == (NotJudged(SPEED, (), "none-logged"),)
    doubtful = two_players(reports={UP: BROKEN})
    assert not_judged(doubtful) == (NotJudged(UP, ("ladder",), "in-doubt"),)
    late = fit_of((ladder("Ann", on=300),), (normal(5.0, 1.0, 3),), {"ladder": normal(2.5, 1.0, 5)})
    assert what_works(late) == ()
    assert not_judged(late) == (NotJudged(UP, ("ladder",), "not-read"),)


def test_a_trait_that_the_fit_lacks_is_refused():
    with pytest.raises(NotEnoughData, match="carry_m"):
        what_works(two_players(), "carry_m")


@pytest.mark.parametrize(
    ("chances", "finding"),
    [
        ((0.99, 0.95, 0.05), "helps-enough"),
        ((0.99, 0.5, 0.5), "helps"),
        ((0.97, 0.01, 0.99), "no-difference"),
        ((0.03, 0.0, 0.4), "against"),
        ((0.94, 0.93, 0.0), "cannot-tell"),
    ],
)
def test_what_three_chances_say(chances, finding):
    assert finding_of(*chances) == finding


def test_more_players_needed_are_those_of_a_normal_mean():
    # prior precision 1 (SD 1), wanted SD 1 / 1.645: 1.645^2 - 1 = 1.706 in units of one player's
    # information, which is 1 / (0.5^2 + 0.5^2) = 2: one player more is enough
    mean, tau = normal(1.0, 1.0, 3), np.full(N, 0.5)
    answers = np.stack([normal(1.0, 0.5, 4)], axis=1)
    assert players_to_settle(mean, tau, answers) == 1
    # four times the variance of what one player tells: 1.706 x 2 = 3.41, so four
    assert players_to_settle(mean, 2 * tau, 2 * answers) == 4
    assert players_to_settle(normal(2.0, 1.0, 3), tau, answers) == 0
    assert players_to_settle(normal(0.05, 1.0, 3), tau, answers) is None
