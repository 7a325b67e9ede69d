"""Who needs a look: each reason alone, with nobody named who does not need one."""

from dataclasses import replace
from datetime import datetime

import numpy as np

from tests.fits import BROKEN, day, make_fit, with_info
from tracker.decisions.board.board_words import look_reason, look_remedy
from tracker.decisions.board.look import Look, who_needs_a_look
from tracker.decisions.distance.target import Target
from tracker.readings.stuck_device import StuckReadings

UP, SPEED = "strike_up_mm", "club_speed_mps"
SIX = tuple(range(0, 42, 7))


def at_five(player, trait):
    return Target(trait, 5.0, (2.0, 8.0), 200.0, 5.0, at_edge=False)


def path(*levels, samples=200):
    return np.tile(np.asarray(levels, dtype=float), (samples, 1))


def looks(fit, **asked):
    names = [p.name for p in fit.players]
    return who_needs_a_look(fit, names, target=at_five, **asked)


def test_creep_away_from_the_target_is_named_and_toward_it_is_not():
    fit = make_fit(
        {"Away": {UP: path(0, -2, -4, -6, -8, -10)}, "Toward": {UP: path(-10, -8, -6, -4, -2, 0)}},
        days=SIX,
        samples=200,
    )
    (found,) = looks(fit)
    assert (found.player, found.kind, found.trait) == ("Away", "drifting", UP)
    assert look_reason(found, "yards").startswith(
        "Strike height creeps -8.7 mm a month away from where it should be"
    )


def test_creep_inside_the_window_or_too_small_or_not_sure_is_not_named():
    rng = np.random.default_rng(1)
    unsure = rng.normal(0, 9, (200, 1)) * np.linspace(0, 1, 6) - 9
    fit = make_fit(
        {
            "Inside": {UP: path(7.5, 7, 6, 5, 4, 3)},
            "Small": {UP: path(-9, -9.01, -9.02, -9.03, -9.04, -9.05)},
            "Unsure": {UP: unsure},
        },
        days=SIX,
        samples=200,
    )
    assert looks(fit) == ()


def test_a_step_is_no_drift():
    fit = make_fit(
        {"Ann": {UP: path(0, 0, 0, -9, -9, -9)}},
        days=SIX,
        samples=200,
        jumps={("Ann", UP): (3, -9.0)},
    )
    assert looks(fit) == ()


def test_speed_that_falls_is_drift_and_speed_that_rises_is_not():
    fit = make_fit(
        {"Slower": {SPEED: path(48, 47, 46, 45, 44, 43)}, "Faster": {SPEED: path(*range(43, 49))}},
        days=SIX,
        samples=200,
    )
    assert [(s.player, s.kind) for s in looks(fit)] == [("Slower", "drifting")]


def test_a_trait_in_doubt_gives_no_reason():
    fit = make_fit({"Away": {UP: path(0, -2, -4, -6, -8, -10)}}, days=SIX, samples=200)
    assert looks(with_info(fit, replace(fit.info, reports={UP: BROKEN}))) == ()


def test_too_few_sessions_are_counted_and_what_nobody_reads_is_left_out():
    shots = {("Ann", UP): [15, 0, 0, 0, 0, 0], ("Ben", UP): [15] * 6}
    shots |= {(name, "face_deg"): [0] * 6 for name in ("Ann", "Ben")}
    fit = make_fit({"Ann": {}, "Ben": {}}, days=SIX, shots=shots)
    (found,) = looks(fit)
    assert (found.player, found.kind, dict(found.few)) == ("Ann", "few", {UP: (1, 15)})
    assert "strike height in 1 session (15 shots)" in look_reason(found, "yards")
    assert "3 more sessions" in look_remedy(found)


def test_a_change_of_device_says_whether_the_squad_allows_for_it():
    switched = {("Ann", t): [[15] * 3 + [0] * 3, [0] * 3 + [15] * 3] for t in ("attack_deg",)}
    alone = make_fit({"Ann": {}}, days=SIX, methods=("radar", "camera"), shots=switched)
    (found,) = [s for s in looks(alone) if s.kind == "method"]
    assert found.methods == ("radar", "camera")
    assert "Read one session by both" in look_remedy(found)
    assert look_reason(found, "yards").startswith("The delivery was read by radar at first")
    both = {**switched, ("Ben", "attack_deg"): [[5] * 6, [5] * 6]}
    linked = make_fit({"Ann": {}, "Ben": {}}, days=SIX, methods=("radar", "camera"), shots=both)
    (found,) = [s for s in looks(linked) if s.kind == "method"]
    assert "allowed for" in look_remedy(found)


def test_long_unseen_is_by_the_own_pace_and_the_squads_latest_day():
    fit = make_fit(
        {"Weekly": {}, "Monthly": {}, "Here": {}},
        days={
            "Weekly": (0, 7, 14, 21, 28),
            "Monthly": (0, 28, 56, 84),
            "Here": (0, 30, 60, 100, 120),
        },
    )
    (found,) = looks(fit)
    assert (found.player, found.kind, found.last, found.days) == ("Weekly", "unseen", day(28), 92)


def test_stuck_devices_are_said_once_a_trait_with_the_others_counted():
    fit = make_fit({"Ann": {}, "Ben": {}}, days=SIX)
    stuck = [
        StuckReadings(name, datetime(2026, 1, d, 9), "attack_deg", -1.5, 12)
        for name, d in (("Ann", 5), ("Ann", 12), ("Zed", 5))
    ]
    (found,) = looks(fit, stuck=stuck)
    assert (found.player, found.kind, found.more) == ("Ann", "stuck", 1)
    assert look_reason(found, "yards") == (
        "All 12 readings of attack angle on 12 Jan 2026 are alike: a stuck device. It is so in 1 "
        "more."
    )


def test_traits_that_lack_alike_are_named_together():
    few = {UP: (3, 27), "club_speed_mps": (3, 27), "attack_deg": (1, 1), "loft_deg": (0, 0)}
    assert look_reason(Look("Ann", "few", few=few), "yards") == (
        "Too little is read for a verdict: strike height and club speed in 3 sessions (27 shots "
        "each); attack angle in 1 session (1 shot); delivered loft not once."
    )
