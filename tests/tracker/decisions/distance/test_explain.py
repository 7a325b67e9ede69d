from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.traits import DELIVERY
from tests.fits import BROKEN, day, make_fit
from tracker.decisions.distance.ends import (
    Moment,
    deliveries_at,
    session_mean_draws,
    shot_draws,
    when_of,
    when_text,
)
from tracker.decisions.distance.explain import GROUPS, explain, is_misread, part_draws
from tracker.decisions.distance.explain_words import explanation_sentence
from tracker.errors import BadRequest, NotEnoughData
from tracker.player_trait import Window
from tracker.records import Shot

CLUB = {
    "club_speed_mps": 45.0, "loft_deg": 14.0, "attack_deg": -1.0, "path_deg": 0.0,
    "face_deg": 0.0, "strike_toe_mm": 3.0, "strike_up_mm": 2.0,
}  # fmt: skip
FIRST, LAST = (
    datetime.combine(day(0), datetime.min.time()),
    datetime.combine(day(21), datetime.min.time()),
)


UP = DELIVERY.index("strike_up_mm")


def _fit(**kwargs):
    levels = {**CLUB, "strike_up_mm": [-10.0, -10.0, 2.0, 2.0], "club_speed_mps": [44, 44, 45, 45]}
    return make_fit({"Ana": levels}, samples=200, level_sd=0.3, **kwargs)


def _shot(session, number, **readings):
    return Shot("Ana", session, number, readings, strike_method="photo", delivery_method="photo")


def test_parts_sum_to_the_difference_in_every_draw():
    shots = [
        _shot(when, n, carry_m=carry)
        for when, carry in ((FIRST, 180.0), (LAST, 200.0))
        for n in (1, 2)
    ]
    for logged, measured in (((), False), (shots, True)):
        found = part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST), logged)
        assert found.measured is measured
        assert list(found.parts) == [*GROUPS, "unexplained"]
        np.testing.assert_allclose(sum(found.parts.values()), found.difference, atol=1e-9)
    assert np.abs(found.parts["unexplained"]).max() > 0


def test_unread_carry_leaves_nothing_unexplained_and_says_so():
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST))
    assert not found.measured
    assert found.parts["unexplained"].low90 == found.parts["unexplained"].high90 == 0
    assert "not read at both ends" in found.notes[0]


def test_what_moved_gets_the_metres_and_what_stood_still_gets_none():
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST))
    # 12 mm of strike height at 100 mph is worth some 10 m (prototype: 1.7 yd a mm 10 mm low, .3 at
    # the centre); 1 m/s of club speed some 6 m (prototype: 2.8 yd per mph).
    assert 5 < found.parts["strike_up"].median < 16
    assert found.parts["club_speed"].median == pytest.approx(2.8 * 0.9144 / 0.44704, abs=1.2)
    for still in ("strike_toe", "attack", "loft", "path_face"):
        assert abs(found.parts[still].median) < 1.0
        assert found.parts[still].low90 < 0 < found.parts[still].high90
    assert found.carry_difference_m.unit == "m"


def moved(attack, loft, follows=0.6):
    """A player whose attack and loft moved between the first and the last two sessions."""
    levels = {**CLUB, "attack_deg": [-3, -3, attack, attack], "loft_deg": [14, 14, loft, loft]}
    physics = {"loft_follows_attack": np.full(200, follows)}
    return make_fit({"Ana": levels}, samples=200, level_sd=0.02, shots=2000, physics=physics)


def test_loft_that_only_follows_attack_is_part_of_attack():
    # attack 3 degrees up, and loft along by .6 of it: 1.8
    found = explain(moved(0.0, 15.8), "Ana", *WINDOWS)
    assert found.parts["attack"].median > 3.0
    assert abs(found.parts["loft"].median) < 0.3
    assert found.attack_split == {}
    # the same loft with attack where it was is other loft
    alone = explain(moved(-3.0, 15.8), "Ana", *WINDOWS)
    assert abs(alone.parts["attack"].median) < 0.3
    assert alone.parts["loft"].median < -1.0  # 16 degrees is past the best for this speed


def test_the_attack_part_divides_in_two_that_sum_to_it_in_every_draw():
    fit = moved(0.0, 15.0)
    whole, split = (part_draws(fit, "Ana", *WINDOWS, split=s) for s in (False, True))
    assert list(split.parts) == list(whole.parts)
    for name, part in whole.parts.items():
        np.testing.assert_allclose(split.parts[name], part, atol=1e-12)
    assert list(split.attack_split) == ["attack_alone", "loft_along"]
    np.testing.assert_allclose(sum(split.attack_split.values()), whole.parts["attack"], atol=1e-9)
    back = part_draws(fit, "Ana", *reversed(WINDOWS), split=True)
    for name, part in split.attack_split.items():
        np.testing.assert_allclose(part, -back.attack_split[name], atol=1e-9)


def test_where_loft_follows_nothing_attack_is_moved_with_loft_held():
    held = part_draws(moved(0.0, 15.0, follows=0.0), "Ana", *WINDOWS, split=True)
    np.testing.assert_allclose(held.attack_split["loft_along"], 0.0, atol=1e-9)
    np.testing.assert_allclose(held.attack_split["attack_alone"], held.parts["attack"], atol=1e-9)


def test_parts_below_half_a_yard_come_to_one_sum():
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST))
    draws = part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST))
    small = [n for n in GROUPS if abs(np.median(draws.parts[n])) < 0.4572]
    assert list(found.small) == small
    assert len(small) >= 2
    together = np.median(np.sum([draws.parts[n] for n in small], axis=0))
    assert found.small_sum.median == pytest.approx(together)
    assert "strike_up" not in found.small


WINDOWS = (Window(day(0), day(10)), Window(day(11), day(40)))
ENDS = (Moment(FIRST), Moment(LAST), Moment(FIRST, 1), Moment(LAST, 2), *WINDOWS)


def _carries(*carries):
    return [
        _shot(when, n, carry_m=c, strike_up_mm=c / 20 - 10)
        for when, c in zip((FIRST, LAST), carries, strict=True)
        for n in (1, 2)
    ]


@pytest.mark.parametrize("logged", [_carries(180.0, 200.0), _carries(190.0, 190.0)])
def test_swapping_the_ends_turns_every_sign_in_every_draw(logged):
    fit = _fit()
    for start, end in pairwise(ENDS):
        forth, back = (part_draws(fit, "Ana", *e, logged) for e in ((start, end), (end, start)))
        np.testing.assert_allclose(forth.difference, -back.difference, atol=1e-9)
        for name, part in forth.parts.items():
            np.testing.assert_allclose(part, -back.parts[name], atol=1e-9)


@pytest.mark.parametrize("end", ENDS)
def test_an_end_against_itself_is_exactly_nothing(end):
    found = part_draws(_fit(), "Ana", end, end, _carries(180.0, 200.0))
    np.testing.assert_array_equal(found.difference, 0.0)
    for part in found.parts.values():
        np.testing.assert_array_equal(part, 0.0)


def test_two_shots_of_a_session_share_its_day():
    # a day known only to 30 mm of strike height, shots that scatter 1 mm: unread shots differ by
    # sqrt(2) mm, not by 42
    fit = make_fit(
        {"Ana": {}}, samples=2000, shots={("Ana", "strike_up_mm"): [0] * 4},
        session_sd={"strike_up_mm": 30.0}, shot_sd={"strike_up_mm": 1.0},
    )  # fmt: skip
    shots = [_shot(LAST, n, club_speed_mps=45.0) for n in (1, 2)]
    kept = np.arange(2000)
    one, two = (
        deliveries_at(fit, "Ana", Moment(LAST, n), shots, kept, shots=8, seed=1).level[:, UP]
        for n in (1, 2)
    )
    assert (two - one).std() == pytest.approx(np.sqrt(2), rel=0.1)
    assert one.std() > 25


def test_a_window_is_the_mean_of_its_days_and_spreads_by_them():
    # strikes -10, -10, 2, 2 by session, readings plentiful: windows at -10 and 2
    fit = _fit(session_sd={"strike_up_mm": 3.0}, shot_sd={"strike_up_mm": 4.0}, shots=400)
    kept = np.arange(200)
    for window, expected in zip(WINDOWS, (-10.0, 2.0), strict=True):
        found = deliveries_at(fit, "Ana", window, (), kept, shots=512, seed=1)
        assert found.level[:, UP].mean() == pytest.approx(expected, abs=0.15)
        # 16 + 9 * (1 - 1/2): of two days, each is spread half the session variance about their mean
        assert found.scatter[0, :, UP].var() == pytest.approx(20.5, rel=0.05)
    one_day = deliveries_at(fit, "Ana", Window(day(0), day(3)), (), kept, shots=32, seed=1)
    session = deliveries_at(fit, "Ana", Moment(FIRST), (), kept, shots=32, seed=1)
    np.testing.assert_array_equal(one_day.level, session.level)
    np.testing.assert_array_equal(one_day.scatter, session.scatter)


def test_two_players_differ_by_what_they_deliver():
    fit = make_fit(
        {"Ana": CLUB, "Bo": {**CLUB, "club_speed_mps": 48.0, "strike_up_mm": -11.0}}, level_sd=0.2
    )
    year = Window(day(0), day(40))
    found = explain(fit, "Ana", year, year, to_player="Bo")
    # prototype: 2.8 yd a mph at 95 mph; 3 m/s are 6.7 mph
    assert found.parts["club_speed"].median == pytest.approx(3 / 0.44704 * 2.8 * 0.9144, rel=0.2)
    assert found.parts["strike_up"].high90 < 0
    assert (found.player, found.to_player) == ("Ana", "Bo")
    assert found.parts["unexplained"].low90 == found.parts["unexplained"].high90 == 0
    assert found.start_level["club_speed_mps"].median == pytest.approx(45.0, abs=0.3)
    assert found.end_level["club_speed_mps"].median == pytest.approx(48.0, abs=0.3)
    back = explain(fit, "Bo", year, year, to_player="Ana")
    assert back.carry_difference_m.median == pytest.approx(-found.carry_difference_m.median)


def test_what_the_heads_of_two_players_make_is_left_unexplained():
    # the same deliveries, one head livelier: nothing in the delivery can account for the carry
    draws = np.tile([0.76, 0.84], (200, 1))
    fit = make_fit(
        {"Ana": CLUB, "Bo": CLUB}, samples=200, level_sd=1e-6, session_sd=dict.fromkeys(CLUB, 1e-6),
        physics={"restitution": draws},
    )  # fmt: skip
    year = Window(day(0), day(40))
    found = part_draws(fit, "Ana", year, year, to_player="Bo")
    np.testing.assert_allclose(sum(found.parts.values()), found.difference, atol=1e-9)
    # ball speed goes with 1 + e: 4.5 % more; carry with at least that and at most its square
    carry = 190.0
    assert 0.045 * carry < np.median(found.parts["unexplained"]) < 0.095 * carry
    for group in GROUPS:
        assert np.abs(np.median(found.parts[group])) < 0.1
    back = part_draws(fit, "Bo", year, year, to_player="Ana")
    for name, part in found.parts.items():
        np.testing.assert_allclose(part, -back.parts[name], atol=1e-9)
    assert "heads" in explain(fit, "Ana", year, year, to_player="Bo").notes[0]
    assert "heads" not in explain(fit, "Ana", *ENDS[:2]).notes[0]


def test_a_carry_that_its_own_launch_forbids_is_no_reading():
    launch = {"ball_speed_mps": 62.0, "launch_deg": 13.0, "spin_rpm": 2800.0}
    # 62 m/s (139 mph) at 13 degrees carries some 205 m: common practice, no source
    assert not is_misread(_shot(LAST, 1, **launch, carry_m=205.0))
    assert is_misread(_shot(LAST, 1, **launch, carry_m=20.0))
    assert not is_misread(_shot(LAST, 1, carry_m=20.0))  # nothing to hold it against
    shots = [_shot(FIRST, n, **launch, carry_m=200.0) for n in (1, 2)]
    shots += [_shot(LAST, n, **launch, carry_m=c) for n, c in ((1, 206.0), (2, 0.1), (3, 206.0))]
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST), shots)
    assert found.carry_difference_m.median == pytest.approx(6.0, abs=0.5)


def test_each_session_of_a_window_counts_once():
    shots = [_shot(FIRST, n, carry_m=180.0) for n in range(1, 3)]
    shots += [_shot(LAST, n, carry_m=200.0) for n in range(1, 19)]
    earlier = [
        replace(s, session=datetime.combine(day(-9), datetime.min.time())) for s in shots[:2]
    ]
    fit = make_fit({"Ana": CLUB}, days=(-9, 0, 7, 14, 21))
    everything, first = Window(day(0), day(40)), Window(day(-10), day(-1))
    found = part_draws(fit, "Ana", first, everything, [*earlier, *shots])
    assert np.median(found.difference) == pytest.approx(10.0, abs=0.3)  # (180 + 200) / 2 - 180


def test_the_sentence_names_what_is_sure_in_the_readers_units():
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST))
    text = explanation_sentence(found, "yards")
    assert text.startswith("Ana 2026-01-26 carried ")
    assert " yd farther than Ana 2026-01-05 (90 % sure between +" in text
    assert "strike height +" in text
    assert "path and face" not in text
    assert " yd" not in explanation_sentence(found, "metres")
    nothing = explain(_fit(), "Ana", Moment(FIRST), Moment(FIRST))
    assert "no single part of it is sure" in explanation_sentence(nothing, "yards")


def test_the_read_difference_is_the_difference_with_its_reading_error():
    shots = [_shot(FIRST, n, carry_m=180.0) for n in range(1, 5)]
    shots += [_shot(LAST, n, carry_m=200.0) for n in range(1, 5)]
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST), shots)
    # carry is read to 2.5 m: 2.5 / sqrt(4) at each end, 1.77 together, 1.645 of it either way
    assert found.carry_difference_m.median == pytest.approx(20.0, abs=0.5)
    half = (found.carry_difference_m.high90 - found.carry_difference_m.low90) / 2
    assert half == pytest.approx(1.645 * 2.5 / np.sqrt(2), rel=0.2)


def test_the_error_of_a_windows_carry_falls_with_its_sessions():
    # four sessions of one shot each, read to 2.5 m: 2.5 / sqrt(4) of the window, next to nothing
    # of the session of 900 shots that it is held against
    days = [datetime.combine(day(d), datetime.min.time()) for d in (0, 7, 14, 21)]
    before = datetime.combine(day(-9), datetime.min.time())
    shots = [_shot(d, 1, carry_m=190.0) for d in days]
    shots += [_shot(before, n, carry_m=190.0) for n in range(1, 901)]
    fit = make_fit({"Ana": CLUB}, days=(-9, 0, 7, 14, 21), samples=2000)
    first, window = Window(day(-10), day(-1)), Window(day(0), day(40))
    found = part_draws(fit, "Ana", first, window, shots, draws=2000, shots=2)
    assert found.difference.std() == pytest.approx(1.25, rel=0.06)


def test_a_days_mean_is_the_conjugate_one():
    # level 0 +- 0, session SD 3, 4 shots of SD 6 read to 2: raw mean 5.
    # noise variance (36 + 4) / 4 = 10, weight 9 / 19: mean 45/19, variance 90/19.
    none = np.zeros((20_000, 4))
    fit = make_fit(
        {"Ana": {"strike_up_mm": none}}, samples=20_000, shots={("Ana", "strike_up_mm"): [4] * 4},
        session_sd={"strike_up_mm": 3.0}, shot_sd={"strike_up_mm": 6.0},
        reading_sd={"strike_up_mm": 2.0}, raw_mean={("Ana", "strike_up_mm"): [5.0] * 4},
    )  # fmt: skip
    kept = np.arange(20_000)
    mean = session_mean_draws(fit, "Ana", FIRST, kept, np.random.default_rng(1))
    up = mean[:, DELIVERY.index("strike_up_mm")]
    assert up.mean() == pytest.approx(45 / 19, abs=0.06)
    assert up.var() == pytest.approx(90 / 19, rel=0.04)


def test_what_a_method_reads_too_much_is_taken_off_the_day_and_off_the_shot():
    # 1,000 shots of SD 1 say what the day's mean is: 5 as read, by a method that reads 3 too much;
    # one shot of SD 50 read to 1 mm is what was read, less the same 3
    fit = make_fit(
        {"Ana": {"strike_up_mm": np.zeros((2000, 4))}}, samples=2000,
        shots={("Ana", "strike_up_mm"): [1000] * 4}, raw_mean={("Ana", "strike_up_mm"): [5.0] * 4},
        session_sd={"strike_up_mm": 30.0}, shot_sd={"strike_up_mm": 1.0},
        reading_sd={"strike_up_mm": 1.0},
    )  # fmt: skip
    fit.bias[:, 0, fit.trait_index("strike_up_mm")] = 3.0
    kept = np.arange(2000)
    mean = session_mean_draws(fit, "Ana", FIRST, kept, np.random.default_rng(1))
    assert mean[:, UP].mean() == pytest.approx(2.0, abs=0.05)
    covariance = np.tile(np.eye(len(DELIVERY)) * 2500.0, (2000, 1, 1))
    still, rng = np.zeros((2000, len(DELIVERY))), np.random.default_rng(2)
    found = shot_draws(fit, _shot(FIRST, 1, strike_up_mm=8.0), still, covariance, kept, rng)
    assert found[:, UP].mean() == pytest.approx(5.0, abs=0.1)


def test_shots_with_another_club_say_nothing_of_a_drive():
    shots = [_shot(d, n, carry_m=c) for d, c in ((FIRST, 180.0), (LAST, 200.0)) for n in (1, 2)]
    woods = [replace(s, number=s.number + 2, club="3-wood", readings={"carry_m": 150.0})
             for s in shots[2:]]  # fmt: skip
    alone, beside = (
        part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST), logged).difference
        for logged in (shots, [*shots, *woods])
    )
    np.testing.assert_array_equal(beside, alone)


def test_a_days_mean_without_readings_is_the_level_and_the_day():
    fit = make_fit(
        {"Ana": {"strike_up_mm": np.zeros((20_000, 4))}}, samples=20_000,
        shots={("Ana", "strike_up_mm"): [0] * 4}, session_sd={"strike_up_mm": 3.0},
    )  # fmt: skip
    mean = session_mean_draws(fit, "Ana", FIRST, np.arange(20_000), np.random.default_rng(1))
    assert mean[:, DELIVERY.index("strike_up_mm")].std() == pytest.approx(3.0, rel=0.03)


def test_a_shots_missing_trait_follows_the_one_that_was_read():
    # SDs 6 and 4, correlation .5; strike height read as 8 to 2 mm around 0.
    # E[up] = 8 * 36/40, var 36*4/40; toe: slope .5*4/6: E = .5*4*6/40*8, var 16 - (12^2)/40
    fit = make_fit(
        {"Ana": {}}, samples=20_000, shot_sd={"strike_up_mm": 6.0, "strike_toe_mm": 4.0},
        corr={("strike_up_mm", "strike_toe_mm"): 0.5}, reading_sd={"strike_up_mm": 2.0},
    )  # fmt: skip
    kept = np.arange(20_000)
    covariance = fit.shot_covariance("Ana", DELIVERY)
    shot = _shot(FIRST, 1, strike_up_mm=8.0)
    still = np.zeros((20_000, len(DELIVERY)))
    z = shot_draws(fit, shot, still, covariance, kept, np.random.default_rng(2))
    up, toe = (z[:, DELIVERY.index(t)] for t in ("strike_up_mm", "strike_toe_mm"))
    assert up.mean() == pytest.approx(7.2, abs=0.05)
    assert up.var() == pytest.approx(3.6, rel=0.04)
    assert toe.mean() == pytest.approx(2.4, abs=0.1)
    assert toe.var() == pytest.approx(16 - 144 / 40, rel=0.04)


def test_two_shots_are_explained_by_their_own_readings():
    low = {t: CLUB[t] for t in DELIVERY} | {"strike_up_mm": -14.0, "carry_m": 170.0}
    good = {t: CLUB[t] for t in DELIVERY} | {"carry_m": 205.0}
    shots = [_shot(LAST, 1, **low), _shot(LAST, 2, **good)]
    found = explain(_fit(), "Ana", Moment(LAST, 1), Moment(LAST, 2), shots)
    assert found.measured
    assert max(GROUPS, key=lambda g: found.parts[g].median) == "strike_up"
    assert found.parts["strike_up"].low90 > 0
    assert found.carry_difference_m.median == pytest.approx(35.0, abs=1.0)
    assert str(found.start) == "2026-01-26#1"


def test_a_session_and_a_shot_can_be_compared():
    shots = [_shot(LAST, 3, **CLUB)]
    found = part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST, 3), shots)
    np.testing.assert_allclose(sum(found.parts.values()), found.difference, atol=1e-9)
    # against the scatter of a whole session, one clean shot carries farther
    assert np.median(found.difference) > 0


@settings(max_examples=6)
@given(up=st.floats(-12, 12), toe=st.floats(-12, 12), face=st.floats(-6, 6))
def test_parts_of_any_two_sessions_sum(up, toe, face):
    levels = {
        **CLUB, "strike_up_mm": [0, 0, up, up], "strike_toe_mm": [0, 0, toe, toe],
        "face_deg": [0, 0, face, face],
    }  # fmt: skip
    fit = make_fit({"Ana": levels}, samples=20)
    for ends in (ENDS[:2], WINDOWS):
        found = part_draws(fit, "Ana", *ends, shots=8)
        np.testing.assert_allclose(sum(found.parts.values()), found.difference, atol=1e-9)


def test_moments_are_named_by_date_and_shot():
    fit = _fit()
    assert when_of(fit, "Ana", "2026-01-05") == Moment(FIRST)
    assert when_of(fit, "Ana", "2026-01-26T00:00#7") == Moment(LAST, 7)
    assert when_of(fit, "Ana", "2026-01-26T00:00") == Moment(LAST)
    window = Window(day(0), day(21))
    assert when_of(fit, "Ana", "2026-01-05:2026-01-26") == window
    assert when_text(window) == "2026-01-05:2026-01-26"
    with pytest.raises(NotEnoughData, match="sessions are on 2026-01-05, 2026-01-12"):
        when_of(fit, "Ana", "2025-01-05:2025-01-26")
    for wrong, said in (
        ("2026-01-06", "no session"),
        ("last week", "wanted a date"),
        ("2026-01-26:2026-01-05", "put the earlier date first"),
        ("2026-01-05:soon", "wanted a date"),
        ("2026-01-05#x", "wanted a number"),
    ):
        with pytest.raises(BadRequest, match=said):
            when_of(fit, "Ana", wrong)


def test_a_shot_not_in_the_log_is_refused_with_what_there_is():
    shots = [_shot(LAST, n, **CLUB) for n in (1, 2, 3)]
    with pytest.raises(NotEnoughData, match="no shot 9 on 2026-01-26; it holds 1 to 3"):
        explain(_fit(), "Ana", Moment(FIRST), Moment(LAST, 9), shots)


def test_problems_of_the_fit_travel_with_the_explanation():
    fit = _fit()
    broken = replace(fit, info=replace(fit.info, report=BROKEN))
    assert len(explain(broken, "Ana", Moment(FIRST), Moment(LAST)).problems) == 3
