from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.drive_parameters import default_parameters
from tests.fits import BROKEN, day, make_fit
from tracker.decisions.cloud import DELIVERY
from tracker.decisions.explain import (
    GROUPS,
    Moment,
    explain,
    moment_of,
    part_draws,
    session_mean_draws,
    shot_draws,
)
from tracker.errors import BadRequest, NotEnoughData
from tracker.posterior import shot_covariance_draws
from tracker.records import Shot

CLUB = {
    "club_speed_mps": 45.0, "loft_deg": 14.0, "attack_deg": -1.0, "path_deg": 0.0,
    "face_deg": 0.0, "strike_toe_mm": 3.0, "strike_up_mm": 2.0,
}  # fmt: skip
FIRST, LAST = (
    datetime.combine(day(0), datetime.min.time()),
    datetime.combine(day(21), datetime.min.time()),
)


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
        difference, parts, read = part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST), logged)
        assert read is measured
        assert list(parts) == [*GROUPS, "unexplained"]
        np.testing.assert_allclose(sum(parts.values()), difference, atol=1e-9)
    assert np.abs(parts["unexplained"]).max() > 0


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


def test_swapping_the_ends_turns_every_sign():
    fit = _fit(session_sd=dict.fromkeys(DELIVERY, 1e-6))  # a day is then its level, known alike
    physics = default_parameters()
    forth = part_draws(fit, "Ana", Moment(FIRST), Moment(LAST), physics=physics)[1]
    back = part_draws(fit, "Ana", Moment(LAST), Moment(FIRST), physics=physics)[1]
    for group in GROUPS:
        np.testing.assert_allclose(forth[group], -back[group], atol=1e-3)


def test_the_read_difference_is_the_difference_with_its_reading_error():
    shots = [_shot(FIRST, n, carry_m=180.0) for n in range(1, 5)]
    shots += [_shot(LAST, n, carry_m=200.0) for n in range(1, 5)]
    found = explain(_fit(), "Ana", Moment(FIRST), Moment(LAST), shots)
    # carry is read to 2.5 m: 2.5 / sqrt(4) at each end, 1.77 together, 1.645 of it either way
    assert found.carry_difference_m.median == pytest.approx(20.0, abs=0.5)
    half = (found.carry_difference_m.high90 - found.carry_difference_m.low90) / 2
    assert half == pytest.approx(1.645 * 2.5 / np.sqrt(2), rel=0.2)


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
    covariance = shot_covariance_draws(fit, "Ana", DELIVERY)
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
    difference, parts, _ = part_draws(_fit(), "Ana", Moment(FIRST), Moment(LAST, 3), shots)
    np.testing.assert_allclose(sum(parts.values()), difference, atol=1e-9)
    # against the scatter of a whole session, one clean shot carries farther
    assert np.median(difference) > 0
    backward, _, _ = part_draws(_fit(), "Ana", Moment(LAST, 3), Moment(FIRST), shots)
    assert np.median(backward) < 0


@settings(max_examples=6, deadline=None)
@given(up=st.floats(-12, 12), toe=st.floats(-12, 12), face=st.floats(-6, 6))
def test_parts_of_any_two_sessions_sum(up, toe, face):
    levels = {
        **CLUB, "strike_up_mm": [0, 0, up, up], "strike_toe_mm": [0, 0, toe, toe],
        "face_deg": [0, 0, face, face],
    }  # fmt: skip
    fit = make_fit({"Ana": levels}, samples=20)
    difference, parts, _ = part_draws(fit, "Ana", Moment(FIRST), Moment(LAST), shots=8)
    np.testing.assert_allclose(sum(parts.values()), difference, atol=1e-9)


def test_moments_are_named_by_date_and_shot():
    fit = _fit()
    assert moment_of(fit, "Ana", "2026-01-05") == Moment(FIRST)
    assert moment_of(fit, "Ana", "2026-01-26T00:00#7") == Moment(LAST, 7)
    for wrong, said in (
        ("2026-01-06", "no session"),
        ("last week", "wanted a date"),
        ("2026-01-05#x", "wanted a number"),
    ):
        with pytest.raises(BadRequest, match=said):
            moment_of(fit, "Ana", wrong)


def test_a_shot_not_in_the_log_is_refused_with_what_there_is():
    shots = [_shot(LAST, n, **CLUB) for n in (1, 2, 3)]
    with pytest.raises(NotEnoughData, match="no shot 9 on 2026-01-26; it holds 1 to 3"):
        explain(_fit(), "Ana", Moment(FIRST), Moment(LAST, 9), shots)


def test_problems_of_the_fit_travel_with_the_explanation():
    fit = _fit()
    broken = replace(fit, info=replace(fit.info, report=BROKEN))
    assert len(explain(broken, "Ana", Moment(FIRST), Moment(LAST)).problems) == 3
