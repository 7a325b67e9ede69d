"""Neighbouring fits compared: whose shots came, which bias moved, which level moved, and why."""

from dataclasses import replace

import pytest

from models.traits import MODELLED
from tests.fits import BROKEN, CLEAN, day, make_fit, with_info
from tracker.decisions.history_of_fits import compared
from tracker.decisions.history_words import (
    cause_sentences,
    compared_json,
    move_row,
    moves_sentence,
)
from tracker.decisions.verdict.worthwhile import worthwhile_change
from tracker.posterior import Fit
from tracker.records import Change

UP, ATTACK = "strike_up_mm", "attack_deg"
LADDER = Change("Ann", day(10), "drill", "ladder", UP)


def fit_of(number=1, levels=None, *, digest="a", seed=11, versions=None, read=None, **more) -> Fit:
    """Ann and Bo on four days, read alike whatever the levels believed."""
    days = more.get("days", (0, 7, 14, 21))
    own = days if isinstance(days, dict) else {"Ann": days, "Bo": days}
    means = {(name, trait): [0.0] * len(own[name]) for name in own for trait in MODELLED}
    fit = make_fit(
        levels or {"Ann": {UP: -9.0}, "Bo": {UP: 5.0}},
        seed=seed,
        raw_mean={**means, **(read or {})},
        **more,
    )
    info = replace(
        fit.info,
        fit_id=number,
        data_digest=digest,
        versions=versions if versions is not None else {"drive-progress": "0.1.0"},
    )
    return with_info(fit, info)


def test_the_same_data_drawn_twice_differ_in_nothing():
    found = compared(fit_of(1), fit_of(2))
    assert found.same_data
    assert (found.players, found.came, found.went, found.methods) == ((), (), (), ())
    assert (found.biases, found.versions, found.levels, found.in_doubt) == ((), (), (), ())
    assert cause_sentences(found, "metres") == ("The same shots and changes.",)
    assert moves_sentence(found) == ("No level moved by more than the change that is worth having.")


def test_new_shots_are_counted_by_player_and_move_that_players_level():
    after = fit_of(
        2,
        {"Ann": {UP: [-9.0, -9.0, -9.0, -9.0, -2.0]}, "Bo": {UP: 5.0}},
        digest="b",
        days={"Ann": (0, 7, 14, 21, 28), "Bo": (0, 7, 14, 21)},
    )
    found = compared(fit_of(1), after)
    assert [(p.player, p.sessions, p.shots, p.otherwise, p.gone) for p in found.players] == [
        ("Ann", 1, 15, 0, 0)
    ]
    (move,) = found.levels
    assert (move.player, move.trait) == ("Ann", UP)
    assert (move.before.median, move.after.median) == pytest.approx((-9.0, -2.0), abs=0.1)
    assert move.same_day.median == pytest.approx(-9.0, abs=0.1)
    assert not move.seen_otherwise
    assert move.reasons == ("1 new session",)
    assert move.worthwhile == worthwhile_change(after, "Ann", UP).value
    assert cause_sentences(found, "metres") == ("15 shots more: Ann +15 (1 new session).",)
    assert moves_sentence(found) == (
        "1 level moved by more than the change that is worth having; by what came after."
    )


def test_a_move_smaller_than_what_is_worth_having_is_left_out():
    after = fit_of(2, level_sd=0.1)
    least = worthwhile_change(after, "Ann", UP).value
    assert 0.5 < least < 5
    for size, moved in ((0.8, 0), (1.2, 1)):
        before = fit_of(1, {"Ann": {UP: -9.0 + size * least}, "Bo": {UP: 5.0}}, level_sd=0.1)
        assert len(compared(before, after).levels) == moved


def test_levels_that_read_alike_have_not_moved_however_little_is_worth_having():
    alike = {"level_sd": 0.02, "spread": {"loft_deg": 0.1}}
    after = fit_of(2, {"Ann": {"loft_deg": 13.0}, "Bo": {"loft_deg": 13.0}}, **alike)
    assert worthwhile_change(after, "Ann", "loft_deg").value < 0.04
    for size, moved in ((0.06, 0), (0.2, 1)):
        levels = {"Ann": {"loft_deg": 13.0 + size}, "Bo": {"loft_deg": 13.0}}
        assert len(compared(fit_of(1, levels, **alike), after).levels) == moved


def test_readings_put_right_and_sessions_taken_out_are_told_apart():
    after = fit_of(
        2,
        digest="b",
        days={"Ann": (0, 7, 14, 21), "Bo": (0, 7, 14)},
        read={("Ann", UP): [0.0, 0.0, 5.0, 0.0]},
    )
    found = compared(fit_of(1), after)
    assert [(p.player, p.sessions, p.shots, p.otherwise, p.gone) for p in found.players] == [
        ("Ann", 0, 0, 1, 0),
        ("Bo", 0, -15, 0, 1),
    ]
    assert cause_sentences(found, "metres") == (
        "15 shots fewer: Ann (1 session read otherwise), Bo -15 (1 session taken out).",
    )


def test_a_far_off_shot_weighed_otherwise_is_no_session_read_otherwise():
    shot_sd = {"attack_deg": 15**0.5}  # a mean of 15 shots has a standard error of 1
    for off, otherwise in ((0.7, 0), (1.3, 1)):
        read = {("Ann", ATTACK): [0.0, 0.0, 0.0, off]}
        found = compared(
            fit_of(1, shot_sd=shot_sd),
            fit_of(
                2,
                digest="b",
                shot_sd=shot_sd,
                days={"Ann": (0, 7, 14, 21), "Bo": (0, 7, 14, 21, 28)},
                read=read,
            ),
        )
        assert {p.player: p.otherwise for p in found.players}.get("Ann", 0) == otherwise


def test_a_bias_that_moved_is_the_reason_for_those_whom_the_method_read():
    shots = {
        ("Ann", UP): [[0] * 4, [15] * 4],
        ("Bo", UP): [[15] * 4, [0] * 4],
    }
    two = {"methods": ("photo", "spray"), "shots": shots}
    before = fit_of(1, **two)
    after = fit_of(2, {"Ann": {UP: -4.0}, "Bo": {UP: 10.0}}, **two)
    moved = after.bias.copy()
    moved[:, 1, MODELLED.index(UP)] = -5.0
    found = compared(before, replace(after, bias=moved))
    (bias,) = found.biases
    assert (bias.trait, bias.method, bias.before.median, bias.after.median) == (
        UP, "spray", 0.0, -5.0,
    )  # fmt: skip
    by_player = {m.player: m for m in found.levels}
    assert by_player["Ann"].reasons == ("the bias of spray moved",)
    assert by_player["Ann"].seen_otherwise
    assert by_player["Bo"].reasons == ("the bias of spray moved, by which others are read",)
    assert "Strike height: the bias of spray moved from 0.0 mm (0.0 to 0.0) to -5.0 mm" in (
        " ".join(cause_sentences(found, "metres"))
    )


def test_another_reference_and_another_reading_error_are_reasons():
    first = fit_of(1, methods=("photo", "spray"))
    second = fit_of(2, {"Ann": {UP: -4.0}, "Bo": {UP: 5.0}}, methods=("spray", "photo"))
    found = compared(first, second)
    assert found.levels[0].reasons == ("spray is taken as unbiased in place of photo",)
    coarse = fit_of(3, {"Ann": {UP: -4.0}, "Bo": {UP: 5.0}}, reading_sd={UP: 8.0})
    found = compared(fit_of(1), coarse)
    assert found.levels[0].reasons == ("photo is taken to read coarser than before",)
    fresh = compared(fit_of(1), fit_of(4, methods=("photo", "tape")))
    assert "tape is a new method" in fresh.methods[0]
    moved = second.bias.copy()
    moved[:, 1] = -5.0  # told against another reference now: no news of its own
    assert compared(first, replace(second, bias=moved)).biases == ()


def test_a_logged_change_and_a_version_are_reasons():
    levels = {"Ann": {UP: -4.0}, "Bo": {UP: 9.0}}
    after = fit_of(2, levels, digest="b", changes=(LADDER,), versions={"drive-progress": "0.2.0"})
    found = compared(fit_of(1), after)
    assert found.came == (LADDER,)
    by_player = {m.player: m.reasons for m in found.levels}
    version = "drive-progress 0.1.0 became 0.2.0"
    assert by_player == {"Ann": ("ladder was logged", version), "Bo": (version,)}
    back = compared(after, fit_of(3))
    assert back.went == (LADDER,)
    assert "ladder is logged no longer" in back.levels[0].reasons
    assert cause_sentences(back, "metres")[1] == (
        f"Logged no longer: ladder (Ann, {LADDER.start.isoformat()})."
    )


def test_each_cause_alone_is_named_and_no_other():
    """One cause after the other; what the levels of Ann and Bo are put down to each time."""
    levels = {"Ann": {UP: -4.0}, "Bo": {UP: 9.0}}
    first = fit_of(1, methods=("photo", "spray"), versions={"model": "aaaa"})
    luck = fit_of(2, levels, methods=("photo", "spray"), versions={"model": "aaaa"}, seed=12)
    reference = fit_of(3, levels, methods=("spray", "photo"), versions={"model": "aaaa"})
    model = fit_of(4, levels, methods=("photo", "spray"), versions={"model": "bbbb"})
    named = {
        "luck": ("luck of drawing (seed 11, then 12)",),
        "reference": ("spray is taken as unbiased in place of photo",),
        "model": ("model aaaa became bbbb",),
    }
    causes = {}
    for name, fit in (("luck", luck), ("reference", reference), ("model", model)):
        found = compared(first, fit)
        assert {move.player: move.reasons for move in found.levels} == {
            "Ann": named[name],
            "Bo": named[name],
        }
        assert all(move.seen_otherwise for move in found.levels)
        causes[name] = " ".join(cause_sentences(found, "metres"))
    assert causes["luck"] == "The same shots and changes. Drawn with seed 12 in place of 11."
    assert causes["model"] == (
        "The same shots and changes. Made by another version: model aaaa became bbbb."
    )
    assert "unbiased in place of photo" in causes["reference"]
    assert "seed" not in causes["reference"]
    assert "version" not in causes["reference"]


def test_a_model_that_was_not_kept_is_no_other_version_but_may_be():
    first, second = fit_of(1, versions={"pymc": "6.4"}), fit_of(2, versions={"model": "bbbb"})
    found = compared(first, replace(second, info=replace(second.info, versions={
        "pymc": "6.4", "model": "bbbb"})))  # fmt: skip
    assert cause_sentences(found, "metres") == (
        "The same shots and changes.",
        "Which model made the earlier fit was not kept, so it may have been another one.",
    )


def test_shots_of_others_are_the_reason_where_nothing_of_the_player_changed():
    after = fit_of(
        2,
        {"Ann": {UP: -4.0}, "Bo": {UP: 5.0}},
        digest="b",
        days={"Ann": (0, 7, 14, 21), "Bo": (0, 7, 14, 21, 28)},
    )
    (move,) = compared(fit_of(1), after).levels
    assert move.reasons == ("other players' shots taught the squad's scales",)


def test_a_trait_in_doubt_is_named_and_not_compared():
    levels = {"Ann": {UP: 0.0, ATTACK: 4.0}, "Bo": {UP: 5.0}}
    after = fit_of(2, levels, reports={UP: BROKEN, ATTACK: CLEAN})
    found = compared(fit_of(1), after)
    assert found.in_doubt == (UP,)
    assert {m.trait for m in found.levels} == {ATTACK}
    assert "Not compared, since a fit is in doubt about it: strike height." in cause_sentences(
        found, "metres"
    )


def test_a_player_whom_only_one_fit_knows_has_no_level_to_compare():
    alone = fit_of(1, {"Bo": {UP: 5.0}}, days={"Bo": (0, 7, 14, 21)})
    found = compared(alone, fit_of(2, digest="b"))
    assert [(p.player, p.sessions, p.shots) for p in found.players] == [("Ann", 4, 60)]
    assert found.levels == ()


def test_rows_and_json_hold_both_beliefs_with_their_intervals():
    after = fit_of(2, {"Ann": {UP: -4.0}, "Bo": {UP: 5.0}}, level_sd=0.1)
    found = compared(fit_of(1, level_sd=0.1), after)
    row = move_row(found.levels[0], "metres")
    assert row[:2] == ("Ann", "strike height")
    assert row[2].startswith("-9.0 mm (-9.")
    assert row[2].endswith(f"on {day(21)}")
    assert row[3].startswith("-4.0 mm (-4.")
    level = compared_json(found)["levels"][0]
    assert level["from"]["unit"] == level["to"]["unit"] == "mm"
    assert level["to"]["median"] == pytest.approx(-4.0, abs=0.05)
    assert level["seen_otherwise"] is True
