from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from tests.fits import BROKEN, CLEAN, day, make_fit, noise
from tracker.decisions.verdict import verdict as judging
from tracker.decisions.verdict.verdict import classify, default_windows, judge_change
from tracker.decisions.verdict.worthwhile import Worthwhile
from tracker.errors import BadRequest, NotEnoughData
from tracker.player_trait import Window
from tracker.records import Change

TRAIT = "strike_up_mm"
BEFORE, AFTER = Window(day(0), day(10)), Window(day(11), day(40))


@pytest.fixture(autouse=True)
def two_mm_toward_five(monkeypatch):
    """A worthwhile change of 2 mm and a target of 5 mm, so that a verdict is arithmetic."""

    def size(fit, player, trait, *, carry_m=2.0, system="yards"):
        return Worthwhile(2.0, None if trait == "club_speed_mps" else 5.0, "as given")

    monkeypatch.setattr(judging, "worthwhile_change", size)


def _moved(by, sd, *, start=-20.0, samples=4000, **kwargs):
    """Ana's level at ``start`` in two sessions, then ``by`` higher; the change has SD ``sd``."""
    z = noise(samples, 1, seed=2)
    path = np.concatenate([np.full((samples, 2), start), start + by + sd * z.repeat(2, 1)], axis=1)
    return make_fit({"Ana": {TRAIT: path}}, samples=samples, **kwargs)


# P(change > 0) = Phi(by / sd), P(> 2) = Phi((by - 2) / sd), P(|.| < 2) from both tails.
@pytest.mark.parametrize(
    ("by", "sd", "verdict", "direction"),
    [
        (6.0, 2.0, "real-worthwhile", "better"),  # .9987, .977
        (3.0, 1.0, "real-size-unclear", "better"),  # .9987, .841
        (0.5, 0.6, "no-worthwhile-change", None),  # .80; inside .994
        (1.5, 0.9, "leaning", "better"),  # .952; inside .711
        (0.5, 3.0, "cannot-tell", None),  # .566
        (-6.0, 2.0, "real-worthwhile", "worse"),
        (-1.5, 0.9, "leaning", "worse"),
        (1.0, 0.3, "no-worthwhile-change", None),  # surely there, surely too small
    ],
)
def test_each_row_of_the_verdict_table(by, sd, verdict, direction):
    found = judge_change(_moved(by, sd), "Ana", TRAIT, BEFORE, AFTER)
    assert (found.verdict, found.direction) == (verdict, direction)
    inside = norm.cdf((2 - by) / sd) - norm.cdf((-2 - by) / sd)
    assert found.p_no_worthwhile == pytest.approx(inside, abs=0.02)
    assert found.p_worthwhile == pytest.approx(norm.cdf((abs(by) - 2) / sd), abs=0.02)
    assert found.p_better == pytest.approx(norm.cdf(by / sd), abs=0.02)
    assert found.change.unit == "mm"
    assert found.change.median == pytest.approx(by, abs=0.1 * sd)
    assert found.threshold == 0.99
    assert found.settle


@pytest.mark.parametrize(
    ("chances", "verdict"),
    [
        ((0.99, 0.90, 0.0), "real-worthwhile"),
        ((0.989, 0.95, 0.0), "leaning"),
        ((0.99, 0.899, 0.0), "real-size-unclear"),
        ((0.5, 0.0, 0.90), "no-worthwhile-change"),
        ((0.995, 0.0, 0.95), "no-worthwhile-change"),
        ((0.90, 0.5, 0.89), "leaning"),
        ((0.899, 0.5, 0.89), "cannot-tell"),
    ],
)
def test_limits_of_the_table_belong_to_the_stronger_side(chances, verdict):
    assert classify(*chances, threshold=0.99) == verdict


def test_a_calibrated_threshold_replaces_the_default():
    fit = _moved(3.0, 1.5)  # P(direction) = .977
    assert judge_change(fit, "Ana", TRAIT, BEFORE, AFTER).verdict == "leaning"
    lower = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER, threshold=0.95)
    assert lower.verdict == "real-size-unclear"
    assert lower.threshold == 0.95


def test_a_worthwhile_change_set_by_hand_is_used_and_said():
    found = judge_change(_moved(3.0, 1.0), "Ana", TRAIT, BEFORE, AFTER, worthwhile=1.0)
    assert (found.verdict, found.worthwhile) == ("real-worthwhile", 1.0)
    assert found.worthwhile_basis == "set by hand"
    with pytest.raises(BadRequest, match="worthwhile: found -1"):
        judge_change(_moved(3.0, 1.0), "Ana", TRAIT, BEFORE, AFTER, worthwhile=-1.0)


@given(st.lists(st.floats(-3, 3), min_size=8, max_size=30), st.floats(0.1, 4))
@settings(max_examples=25)
def test_mirroring_the_change_swaps_better_and_worse(draws, worthwhile):
    values = np.array(draws)

    def judged(sign):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(
                judging,
                "worthwhile_change",
                lambda *_, **__: Worthwhile(worthwhile, sign * 50.0, "as given"),
            )
            path = np.stack([np.zeros_like(values)] * 2 + [sign * values] * 2, axis=1)
            fit = make_fit({"Ana": {TRAIT: path}}, samples=values.size)
            return judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)

    plain, mirrored = judged(1), judged(-1)
    for p in (plain.p_better, plain.p_worthwhile, plain.p_no_worthwhile):
        assert 0 <= p <= 1
    assert plain.verdict == mirrored.verdict
    assert plain.p_better == mirrored.p_better
    assert plain.p_no_worthwhile == mirrored.p_no_worthwhile

    same_target = np.stack([np.zeros_like(values)] * 2 + [-values] * 2, axis=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            judging, "worthwhile_change", lambda *_, **__: Worthwhile(worthwhile, 50.0, "as given")
        )
        fit = make_fit({"Ana": {TRAIT: same_target}}, samples=values.size)
        turned = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)
    if plain.direction and plain.p_better != 0.5:
        assert {plain.direction, turned.direction} == {"better", "worse"}


def test_up_is_better_for_club_speed_whatever_the_rest_says():
    z = noise(500, 1, seed=2)
    path = np.concatenate([np.full((500, 2), 44.0), 50.0 + 0.5 * z.repeat(2, 1)], axis=1)
    fit = make_fit({"Ana": {"club_speed_mps": path}}, samples=500)
    found = judge_change(fit, "Ana", "club_speed_mps", BEFORE, AFTER)
    assert (found.verdict, found.direction, found.p_better) == ("real-worthwhile", "better", 1.0)


def test_going_as_far_past_the_target_as_short_of_it_is_neither_better_nor_worse():
    found = judge_change(_moved(20.0, 1.0, start=-5.0), "Ana", TRAIT, BEFORE, AFTER)  # -5 -> 15
    assert found.verdict == "real-worthwhile"
    assert found.direction is None
    assert found.p_better == pytest.approx(0.5, abs=0.03)
    assert any("gone past the target" in g and "not settled" in g for g in found.guards)


def test_overshoot_that_ends_nearer_is_better_and_farther_is_worse():
    nearer = judge_change(_moved(12.0, 1.0, start=-5.0), "Ana", TRAIT, BEFORE, AFTER)  # -5 -> 7
    assert nearer.direction == "better"
    assert any("gone past" in g for g in nearer.guards)
    farther = judge_change(_moved(30.0, 1.0, start=-5.0), "Ana", TRAIT, BEFORE, AFTER)
    assert farther.direction == "worse"


def test_one_session_in_a_window_is_never_enough():
    fit = _moved(6.0, 1.0)
    thin_after = judge_change(fit, "Ana", TRAIT, BEFORE, Window(day(20), day(40)))
    assert thin_after.verdict == "cannot-tell"
    assert thin_after.direction is None
    assert thin_after.after.sessions == 1
    assert thin_after.settle == "1 more session, so that the latest window holds two."
    thin_before = judge_change(fit, "Ana", TRAIT, Window(day(0), day(3)), AFTER)
    assert thin_before.verdict == "cannot-tell"
    assert any("Only one session" in g for g in thin_before.guards)


def test_a_fit_with_problems_gives_no_verdict():
    found = judge_change(_moved(6.0, 1.0, report=BROKEN), "Ana", TRAIT, BEFORE, AFTER)
    assert found.verdict == "cannot-tell"
    assert found.direction is None
    assert len(found.problems) == 3
    assert "Fit again" in found.settle


def test_a_method_switched_between_windows_blocks_unless_someone_links_it():
    switched = np.array([[10, 10, 0, 0], [0, 0, 10, 10]])
    kwargs = {"methods": ("spray", "camera"), "shots": {("Ana", TRAIT): switched}}
    blocked = judge_change(_moved(6.0, 1.0, **kwargs), "Ana", TRAIT, BEFORE, AFTER)
    assert blocked.verdict == "cannot-tell"
    assert "both methods" in blocked.settle
    linked_counts = np.array([[10, 10, 5, 5], [0, 5, 10, 10]])
    kwargs["shots"] = {("Ana", TRAIT): linked_counts}
    linked = judge_change(_moved(6.0, 1.0, **kwargs), "Ana", TRAIT, BEFORE, AFTER)
    assert linked.verdict == "real-worthwhile"


def test_a_doubt_about_another_trait_leaves_the_verdict_alone():
    fit = _moved(6.0, 1.0, reports={TRAIT: CLEAN, "path_deg": BROKEN})
    found = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)
    assert (found.verdict, found.problems) == ("real-worthwhile", ())
    doubted = judge_change(fit, "Ana", "path_deg", BEFORE, AFTER)
    assert doubted.verdict == "cannot-tell"
    assert all(p.startswith("Club path: ") for p in doubted.problems)
    assert fit.problems_elsewhere(TRAIT) == doubted.problems
    assert fit.problems_elsewhere("path_deg") == ()


@pytest.mark.parametrize(("up", "said"), [(9870, False), (9885, True), (9920, False)])
def test_a_chance_within_two_of_its_own_errors_of_the_limit_says_so(up, said):
    """The limit is .99; two errors of 10,000 draws are .0023, .0021 and .0018 at these chances."""
    change = np.where(np.arange(10_000) < up, 6.0, -1.0)
    path = np.stack([0 * change - 20, 0 * change - 20, change - 20, change - 20], axis=1)
    fit = make_fit({"Ana": {TRAIT: path}}, samples=10_000)
    found = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)
    assert any("at the limit for calling a change real" in g for g in found.guards) is said


def test_windows_count_only_what_was_read_and_raw_is_the_plain_difference():
    fit = make_fit(
        {"Ana": {TRAIT: [0.0, 0.0, 9.0, 4.0, 4.0]}},
        days=(0, 7, 14, 21, 28),
        shots={("Ana", TRAIT): [10, 20, 0, 12, 13]},
        raw_mean={("Ana", TRAIT): [-1.0, 2.0, 7.0, 5.0, 6.0]},
    )
    found = judge_change(fit, "Ana", TRAIT, BEFORE, Window(day(11), day(30)))
    assert (found.before.sessions, found.before.shots) == (2, 30)
    assert (found.after.sessions, found.after.shots) == (2, 25)
    assert found.raw_change == pytest.approx(5.5 - 0.5)
    assert found.change.median == pytest.approx(4.0, abs=0.2)


def test_change_is_the_difference_of_window_averages():
    path = np.array([[0.0, 2.0, 5.0, 9.0], [1.0, 1.0, 4.0, 4.0]])
    fit = make_fit({"Ana": {TRAIT: path}}, samples=2)
    found = judge_change(fit, "Ana", TRAIT, BEFORE, AFTER)
    assert found.change.median == pytest.approx((6.0 + 3.0) / 2)  # of two draws


def test_windows_that_overlap_are_refused():
    with pytest.raises(BadRequest, match="share no day"):
        judge_change(_moved(1.0, 1.0), "Ana", TRAIT, AFTER, BEFORE)
    with pytest.raises(BadRequest, match=f"starts on {day(10)}, .* has ended .{day(10)}"):
        judge_change(_moved(1.0, 1.0), "Ana", TRAIT, BEFORE, Window(day(10), day(40)))
    next_day = judge_change(_moved(1.0, 1.0), "Ana", TRAIT, BEFORE, Window(day(11), day(40)))
    assert next_day.after.start == day(11)


def test_an_empty_window_is_refused_by_name():
    with pytest.raises(NotEnoughData, match="pick dates"):
        judge_change(_moved(1.0, 1.0), "Ana", TRAIT, BEFORE, Window(day(100), day(120)))


def test_default_windows_meet_at_the_last_change_of_the_trait():
    changes = [
        Change("Ana", day(10), "drill", "a", TRAIT),
        Change("Ana", day(24), "drill", "b", TRAIT),
        Change("Ana", day(30), "drill", "c", "attack_deg"),
        Change("Ben", day(31), "drill", "d", TRAIT),
    ]
    days = (0, 7, 14, 21, 28, 35)
    fit = make_fit({"Ana": {}, "Ben": {}}, days=days, changes=changes)
    assert default_windows(fit, "Ana", TRAIT) == (
        Window(day(14), day(23)),
        Window(day(24), day(35)),
    )


def test_a_change_nobody_has_practised_after_does_not_split():
    changes = [Change("Ana", day(10), "drill", "a", TRAIT), Change("Ana", day(90), "drill", "b")]
    fit = make_fit({"Ana": {}}, days=(0, 7, 14, 21), changes=changes)
    assert default_windows(fit, "Ana", TRAIT) == (Window(day(0), day(9)), Window(day(10), day(21)))


def test_without_a_change_the_first_third_meets_the_latest_third():
    fit = make_fit({"Ana": {}}, days=tuple(range(0, 63, 7)))
    assert default_windows(fit, "Ana", TRAIT) == (Window(day(0), day(14)), Window(day(42), day(56)))


def test_one_day_of_readings_holds_no_change():
    fit = make_fit({"Ana": {}}, shots={("Ana", TRAIT): [9, 0, 0, 0]})
    with pytest.raises(NotEnoughData, match="at least two days"):
        default_windows(fit, "Ana", TRAIT)
    assert day(0) == date(2026, 1, 5)
