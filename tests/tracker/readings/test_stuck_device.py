"""A device that repeats itself is named and left out; honest coarse readings are not."""

from datetime import datetime

import numpy as np
import pandas as pd
import pytest

from tests.recovery.battery import SHAPES, make_log
from tracker.fits.fitting import fit_shots
from tracker.readings.shot_frame import frame_of
from tracker.readings.stuck_device import could_be_stuck, stuck_readings, without_stuck
from tracker.records import Shot

UP = "strike_up_mm"


def log(sessions, *, trait=UP, player="Elm", first=1):
    """Shots of one player, a list of readings a session, a day apart; None is not read."""
    return frame_of(
        Shot(
            player,
            datetime(2026, 3, first + s),
            i + 1,
            {trait: float(v), "spin_rpm": 2500.0 + 7 * i}
            if v is not None
            else {"spin_rpm": 2500.0 + 7 * i},
        )
        for s, values in enumerate(sessions)
        for i, v in enumerate(values)
    )


def scattered(sessions, shots, step, sd=6.5, seed=1):
    read = np.random.default_rng(seed).normal(0, sd, (sessions, shots))
    return np.clip(np.round(read / step) * step, -15, 15)


def test_a_session_of_one_value_is_named_and_taken_as_missing():
    shots = log([*scattered(3, 10, 0.1), [4.2] * 10])
    cleared, (found,) = without_stuck(shots)
    assert (found.player, found.session) == ("Elm", datetime(2026, 3, 4))
    assert (found.trait, found.value, found.shots) == (UP, 4.2, 10)
    last = cleared["session"] == "2026-03-04"
    assert cleared.loc[last, UP].isna().all()
    assert cleared.loc[~last, UP].equals(shots.loc[~last, UP])
    assert cleared.drop(columns=UP).equals(shots.drop(columns=UP))
    assert shots[UP].notna().all()


def test_the_sentence_says_who_when_what_and_what_becomes_of_it():
    (found,) = stuck_readings(log([*scattered(3, 10, 0.1), [4.2] * 10]))
    assert found.sentence == (
        "Elm, 2026-03-04: all 10 readings of strike height are 4.2 mm, which looks like a stuck "
        "device; a fit leaves them out."
    )
    assert found.as_json() == {
        "player": "Elm",
        "session": "2026-03-04",
        "trait": UP,
        "value": 4.2,
        "shots": 10,
    }


def test_a_log_without_one_comes_back_as_it_is():
    shots = log(scattered(4, 10, 0.1))
    cleared, found = without_stuck(shots)
    assert found == ()
    assert cleared is shots


def test_equal_whole_degrees_of_a_few_shots_are_plausible():
    whole = scattered(6, 6, 1.0, sd=1.2)
    assert stuck_readings(log([*whole, [-2.0] * 6], trait="attack_deg")) == ()


def test_sixty_equal_whole_degrees_are_not():
    whole = scattered(6, 20, 1.0, sd=1.2)
    (found,) = stuck_readings(log([*whole, [-2.0] * 60], trait="attack_deg"))
    assert found.shots == 60


def test_a_steady_player_is_judged_by_the_own_scatter():
    wide = log(scattered(6, 12, 0.5, sd=6.0))
    steady = np.where(np.arange(12) % 6 == 0, 3.5, 3.0)
    own = log([*[steady] * 6, [3.0] * 7], player="Oak")
    assert stuck_readings(pd.concat([wide, own], ignore_index=True)) == ()
    stranger = log([[3.0] * 7], player="Oak")
    assert len(stuck_readings(pd.concat([wide, stranger], ignore_index=True))) == 1


def test_few_equal_readings_are_left_alone():
    assert stuck_readings(log([*scattered(4, 10, 0.1), [4.2] * 3])) == ()


def test_one_value_through_sessions_on_end_is_one_run():
    shots = log([*scattered(3, 10, 0.1), [4.2], [4.2], [4.2, 4.2], [4.2]])
    found = stuck_readings(shots)
    assert [f.shots for f in found] == [1, 1, 2, 1]
    assert "the one reading of strike height is 4.2 mm, as in the session beside it" in (
        found[0].sentence
    )
    apart = log([*scattered(3, 10, 0.1), [4.2], [4.2], [1.0], [4.2, 4.2], [4.2]])
    assert stuck_readings(apart) == ()


def test_a_device_stuck_from_the_first_shot_to_the_last_is_named():
    (found,) = stuck_readings(log([[-2.3] * 8], trait="attack_deg"))
    assert found.shots == 8
    assert stuck_readings(log([[0.0] * 8], trait="attack_deg")) == ()


def test_what_the_ball_did_can_be_stuck_too():
    shots = log(scattered(4, 10, 0.1))
    shots.loc[shots["session"] == "2026-03-02", "spin_rpm"] = 2468.0
    (found,) = stuck_readings(shots)
    assert (found.trait, found.value) == ("spin_rpm", 2468.0)


def test_only_equal_sessions_are_worth_a_look_at_the_store():
    assert could_be_stuck(log([[1.0, 2.0], [3.0, 3.0]]))
    assert not could_be_stuck(log([[1.0, 2.0], [3.0, 4.0]]))


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_ordinary_logs_hold_no_stuck_device_and_stuck_ones_all_their_sessions(shape):
    found = stuck_readings(make_log(shape, 1).shots)
    if not shape.stuck:
        assert found == ()
        return
    assert {f.player for f in found} == {"P00"}
    if not shape.coarse:
        stuck_sessions = (shape.sessions + 1) // 2
        assert len(found) == stuck_sessions * len(shape.traits)


def test_a_fit_leaves_stuck_readings_out(monkeypatch):
    seen = []

    class Reached(Exception):
        pass

    def summarised(shots, *_, **__):
        seen.append(shots)
        raise Reached

    monkeypatch.setattr("tracker.fits.fitting.squad_data", summarised)
    with pytest.raises(Reached):
        fit_shots(log([*scattered(3, 10, 0.1), [4.2] * 10]), ())
    (shots,) = seen
    assert shots.loc[shots["session"] == "2026-03-04", UP].isna().all()
    assert shots.loc[shots["session"] < "2026-03-04", UP].notna().all()
