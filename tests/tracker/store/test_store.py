"""The database: what goes in comes out, once, and several processes can use it together."""

import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from models.traits import TRAITS
from tracker.errors import (
    BadRequest,
    ConflictingShots,
    NoFit,
    RowProblem,
    UnknownPlayer,
)
from tracker.readings.shot_frame import SHOT_COLUMNS, frame_of, shots_of
from tracker.records import Change, Player, Shot
from tracker.store.digest import data_digest
from tracker.store.rows import Added, StoredFitRow
from tracker.store.store import Store

POSTGRES = os.environ.get("DRIVE_PROGRESS_TEST_POSTGRES")
DAY = datetime(2026, 5, 31)


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'shots.db'}"


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    with Store.open(url) as opened:
        yield opened


def shot(
    number: int, toe: float = 1.0, player: str = "Ann", session: datetime = DAY, **more
) -> Shot:
    readings = {"strike_toe_mm": toe, **more.pop("readings", {})}
    return Shot(player, session, number, readings, **more)


FULL = Shot(
    "Lou",
    datetime(2026, 5, 30, 14, 30, 5),
    7,
    {name: (trait.low + trait.high) / 2 + 0.1 for name, trait in TRAITS.items()},
    club="3-wood",
    handed="left",
    strike_method="spray",
    delivery_method="radar",
    tee_height_mm=38.1,
    ball="soft",
    air_temperature_c=-0.5,
    altitude_m=120.0,
    group="juniors",
    coach="Kim",
    note="two\nlines, =1+1",
)
BARE = Shot("Ann", DAY, 1, {}, missed_face=True)


# --- shots ---


def test_shots_come_back_as_they_went_in(store):
    assert store.add_shots([FULL, BARE]) == Added(2, 0, 0)
    assert shots_of(store.shots_frame()) == (BARE, FULL)
    assert store.players() == (Player("Ann"), Player("Lou", "left"))


def test_the_table_of_shots_is_typed_also_when_empty(store):
    for _ in range(2):
        frame = store.shots_frame()
        assert tuple(frame.columns) == SHOT_COLUMNS
        assert all(frame[name].dtype == np.float64 for name in TRAITS)
        assert frame["session"].dtype == np.dtype("datetime64[us]")
        assert frame["number"].dtype == np.int64
        assert frame["missed_face"].dtype == np.bool_
        store.add_shots([BARE])
    assert np.isnan(frame["strike_toe_mm"].iloc[0])


def test_shots_are_sorted_by_player_session_and_number_and_can_be_picked(store):
    later = DAY + timedelta(days=1)
    store.add_shots(
        [
            shot(2, player="Bo"),
            shot(1, session=later),
            shot(10),
            shot(9),
            shot(1, player="Bo", club="3-wood"),
        ]
    )
    frame = store.shots_frame()
    assert list(zip(frame["player"], frame["session"], frame["number"], strict=True)) == [
        ("Ann", DAY, 9),
        ("Ann", DAY, 10),
        ("Ann", later, 1),
        ("Bo", DAY, 1),
        ("Bo", DAY, 2),
    ]
    assert list(store.shots_frame("Bo", "3-wood")["number"]) == [1]
    assert set(store.shots_frame(club="driver")["club"]) == {"driver"}


def test_an_unknown_player_is_named_with_the_closest(store):
    store.add_shots([shot(1, player="Annika Berg")])
    with pytest.raises(UnknownPlayer, match=r"'Anika Berg' is not stored: .*'Annika Berg'"):
        store.shots_frame("Anika Berg")


def test_the_same_shots_again_are_stored_once(store):
    assert store.add_shots([shot(1), shot(2)]) == Added(2, 0, 0)
    version = store.data_digest()
    assert store.add_shots([shot(1), shot(2), shot(3)]) == Added(1, 2, 0)
    assert store.add_shots([shot(1), shot(2), shot(3)]) == Added(0, 3, 0)
    assert store.rows_by_table()["shot"] == 3
    assert store.data_digest() != version


def test_a_reading_that_went_through_another_unit_is_the_same_reading(store):
    store.add_shots([shot(1, toe=12.7)])
    assert store.add_shots([shot(1, toe=0.5 * 0.0254 * 1000)]) == Added(0, 1, 0)


def test_other_readings_for_a_stored_shot_are_refused_with_both_values(store):
    store.add_shots([shot(1, 2.5), shot(2, 3.0)])
    with pytest.raises(ConflictingShots) as caught:
        store.add_shots([shot(1, -4.0, note="new"), shot(2, 3.0), shot(3)], lines=[2, 3, 4])
    assert caught.value.problems == (
        RowProblem(2, "strike_toe_mm", "-4", "2.5 as stored for Ann, 2026-05-31, driver, shot 1"),
        RowProblem(2, "note", "new", "an empty cell as stored for Ann, 2026-05-31, driver, shot 1"),
    )
    assert "1 of 3 shots are stored already with other readings" in str(caught.value)
    assert store.rows_by_table()["shot"] == 2
    assert list(store.shots_frame()["strike_toe_mm"]) == [2.5, 3.0]


def test_a_reading_gained_or_lost_is_a_conflict_too(store):
    store.add_shots([shot(1)])
    with pytest.raises(ConflictingShots, match=r"found '-1\.5', wanted an empty cell as stored"):
        store.add_shots([shot(1, readings={"attack_deg": -1.5})])


def test_every_shot_said_to_be_missed_where_a_strike_is_stored_is_told(store):
    store.add_shots([shot(1), shot(2), Shot("Ann", DAY, 3, {}, missed_face=True)])
    missed = [Shot("Ann", DAY, n, {}, missed_face=True) for n in (1, 2)]
    with pytest.raises(ConflictingShots) as caught:
        store.add_shots([*missed, shot(3)], lines=[2, 3, 4])
    about = [(p.line, p.found, p.wanted[:6]) for p in caught.value.problems
             if p.column == "missed_face"]  # fmt: skip
    assert about == [(2, "yes", "no as "), (3, "yes", "no as "), (4, "no", "yes as")]
    assert sorted(p.line for p in caught.value.problems) == [2, 2, 3, 3, 4, 4]
    assert "3 of 3 shots are stored already" in str(caught.value)


def test_replace_takes_the_stored_shots_place(store):
    store.add_shots([shot(1, 2.5), shot(2, 3.0)])
    new = shot(1, -4.0, readings={"carry_m": 210.0}, handed="left")
    assert store.add_shots([new, shot(3, handed="left")], on_conflict="replace") == Added(1, 0, 1)
    frame = store.shots_frame()
    assert list(frame["strike_toe_mm"]) == [-4.0, 3.0, 1.0]
    assert frame["carry_m"].iloc[0] == 210.0
    assert store.players() == (Player("Ann", "left"),)


def test_append_numbers_shots_after_those_of_their_session_and_club(store):
    store.add_shots([shot(1), shot(4), shot(1, club="3-wood")])
    again = [shot(2, 7.0), shot(1, 6.0), shot(1, 8.0, session=DAY + timedelta(1))]
    assert store.add_shots(again, on_conflict="append") == Added(3, 0, 0)
    frame = store.shots_frame(club="driver")
    assert list(zip(frame["number"], frame["strike_toe_mm"], strict=True)) == [
        (1, 1.0),
        (4, 1.0),
        (5, 6.0),
        (6, 7.0),
        (1, 8.0),
    ]


def test_another_hand_than_stored_is_refused(store):
    store.add_shots([shot(1)])
    with pytest.raises(ConflictingShots, match="found 'left', wanted right, as stored: Ann"):
        store.add_shots([shot(2, handed="left")])
    assert store.rows_by_table()["shot"] == 1


def test_a_table_that_does_not_say_the_hand_takes_the_stored_one(store):
    store.add_shots([shot(1, handed="left")])
    frame = frame_of([shot(2)])
    frame["handed"] = pd.Series([None], dtype="str")
    store.add_shots(frame)
    assert list(store.shots_frame()["handed"]) == ["left", "left"]


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        (shot(0), "shot number of 1 or more"),
        (shot(1, 61.0), "strike_toe_mm: found 61.0, wanted -60 to 60 mm"),
        (shot(1, float("nan")), "found nan"),
        (shot(1, readings={"carry_yd": 200.0}), "'carry_yd' is not a trait"),
        (shot(1, missed_face=True), "give one or the other"),
        (Shot("Ann", DAY, 1), "no reading"),
        (shot(1, player="  "), "player's name"),
        (shot(1, ball="a\0b"), "control character"),
        (shot(1, air_temperature_c=900.0), "air_temperature_c: found 900.0, wanted -30 to 60"),
        (shot(1, session=DAY.replace(tzinfo=UTC)), "local time"),
    ],
)
def test_a_shot_given_by_hand_keeps_the_rules_of_a_file(store, bad, message):
    with pytest.raises(BadRequest, match=message):
        store.add_shots([bad])
    assert store.rows_by_table()["shot"] == 0


def test_one_shot_given_twice_is_refused(store):
    with pytest.raises(BadRequest, match="Ann, shot 1 is given twice"):
        store.add_shots([shot(1), shot(1, 5.0)])


def test_more_shots_than_are_written_at_once_take_their_own_values(store):
    frame = frame_of(shot(n, n / 1000) for n in range(1, 10_003))
    assert store.add_shots(frame) == Added(10_002, 0, 0)
    frame["strike_toe_mm"] = -frame["strike_toe_mm"]
    assert store.add_shots(frame, on_conflict="replace") == Added(0, 0, 10_002)
    stored = store.shots_frame()
    np.testing.assert_allclose(stored["strike_toe_mm"], -stored["number"] / 1000)


def test_only_the_shot_that_is_named_is_removed_and_the_data_are_others_then(store):
    later = DAY + timedelta(days=1)
    kept = [shot(1, club="3-wood"), shot(1, player="Bo"), shot(1, session=later), shot(2)]
    store.add_shots([shot(1), *kept])
    version = store.data_version()
    assert store.remove_shot(shot(1)) is True
    assert store.remove_shot(shot(1)) is False
    assert {s.key for s in shots_of(store.shots_frame())} == {s.key for s in kept}
    assert store.data_version() > version


# --- loads and undo ---


def test_undo_removes_exactly_what_the_last_load_added(store):
    store.add_shots([shot(1), shot(2)], source="monday.csv")
    before = store.data_digest()
    tables = store.rows_by_table()
    new = [shot(2), shot(3), shot(1, session=DAY + timedelta(1)), shot(1, player="Bo")]
    store.add_shots(new, source="tuesday.csv")
    assert [(x.source, x.stored, x.already_stored) for x in store.loads()] == [
        ("tuesday.csv", 3, 1),
        ("monday.csv", 2, 0),
    ]
    undone = store.undo_last_load()
    assert undone is not None
    assert (undone.source, undone.stored) == ("tuesday.csv", 3)
    assert store.data_digest() == before
    assert store.rows_by_table() == tables
    assert store.undo_last_load() is not None
    assert set(store.rows_by_table().values()) == {0}
    assert store.undo_last_load() is None


def test_undo_keeps_a_player_with_a_logged_change(store):
    store.add_shots([shot(1)])
    store.add_changes([Change("Ann", date(2026, 5, 1), "drill", "Low tee")])
    store.undo_last_load()
    assert store.players() == (Player("Ann"),)
    assert len(store.changes()) == 1


def test_a_load_that_stores_nothing_is_not_there_to_undo(store):
    store.add_shots([shot(1)], source="first")
    store.add_shots([shot(1)], source="second")
    assert [load.source for load in store.loads()] == ["first"]


def test_the_time_of_a_load_is_utc(store):
    store.add_shots([shot(1)])
    age = datetime.now(UTC) - store.loads()[0].loaded_at
    assert timedelta(0) <= age < timedelta(minutes=1)


# --- changes ---

DRILL = Change("Ann", date(2026, 5, 1), "drill", "Low tee", "strike_up_mm", 3.0, "slow")


def test_changes_come_back_and_are_stored_once(store):
    store.add_shots([shot(1)])
    everything = Change("Ann", date(2026, 4, 1), "setup", "Ball forward")
    assert store.add_changes([DRILL, everything]) == Added(2, 0, 0)
    assert store.add_changes([DRILL, everything]) == Added(0, 2, 0)
    assert store.changes() == (everything, DRILL)
    assert store.changes("Bo") == ()


def test_a_change_given_twice_at_once_is_stored_once(store):
    store.add_shots([shot(1)])
    assert store.add_changes([DRILL, DRILL]) == Added(1, 1, 0)
    assert store.changes() == (DRILL,)


def test_a_change_with_other_effort_is_refused_or_replaces(store):
    store.add_shots([shot(1)])
    store.add_changes([DRILL])
    other = Change("Ann", DRILL.start, "drill", "Low tee", "strike_up_mm", 5.0, "slow")
    with pytest.raises(ConflictingShots, match=r"line 4, effort_sessions: found '5.0', wanted 3.0"):
        store.add_changes([other], lines=[4])
    assert store.add_changes([other], replace=True) == Added(0, 0, 1)
    assert store.changes() == (other,)


def test_a_change_can_be_deleted_by_its_number(store):
    store.add_shots([shot(1)])
    store.add_changes([DRILL])
    (logged,) = store.logged_changes()
    assert logged.change == DRILL
    assert store.delete_change(logged.id) is True
    assert store.delete_change(logged.id) is False
    assert store.changes() == ()


def test_a_change_of_an_unknown_player_is_refused(store):
    with pytest.raises(UnknownPlayer, match="load this player's shots first"):
        store.add_changes([DRILL])


# --- what a fit depends on ---


def test_the_digest_does_not_depend_on_the_order_of_loading(tmp_path):
    shots = [shot(n, n / 3, player=p) for p in ("Zoë", "Ann", "ann") for n in (1, 2, 10)]
    digests = []
    for place, order in enumerate((shots, shots[::-1])):
        with Store.open(f"sqlite:///{tmp_path / str(place)}.db") as opened:
            for one in order:
                opened.add_shots([one])
            digests.append(opened.data_digest())
    assert digests[0] == digests[1]


def test_the_digest_changes_with_what_a_fit_depends_on_only(store):
    store.add_shots([shot(1, 0.0), shot(1, club="3-wood")])
    seen = [store.data_digest()]
    store.add_shots([shot(1, -0.0, note="a note")], on_conflict="replace")
    store.add_shots([shot(2, club="3-wood")])
    assert store.data_digest() == seen[0]
    steps = [
        lambda: store.add_shots([shot(1, 0.1)], on_conflict="replace"),
        lambda: store.add_shots([shot(1, 0.1, strike_method="spray")], on_conflict="replace"),
        lambda: store.add_shots([shot(2, 0.1)]),
        lambda: store.add_changes([DRILL]),
        lambda: store.delete_change(store.logged_changes()[0].id),
        lambda: store.undo_last_load(),
    ]
    for step in steps:
        step()
        seen.append(store.data_digest())
    assert seen[4] != seen[3]
    assert seen[5] == seen[3]
    assert seen[6] == seen[2]
    assert len(set(seen[:5])) == 5


def test_the_digest_tells_clubs_and_sessions_a_second_apart():
    later = shot(1, session=DAY + timedelta(seconds=1))
    found = {data_digest(frame_of([s]), ()) for s in (shot(1), shot(1, club="3-wood"), later)}
    assert len(found) == 3


def test_the_data_version_rises_with_every_write_of_data(store):
    versions = [store.data_version()]
    store.add_shots([shot(1)])
    versions.append(store.data_version())
    store.set_setting("unit", "yards")
    assert store.data_version() == versions[1]
    store.add_changes([DRILL])
    versions.append(store.data_version())
    store.delete_change(store.logged_changes()[0].id)
    versions.append(store.data_version())
    store.undo_last_load()
    versions.append(store.data_version())
    assert versions == sorted(set(versions))


# --- fits, jobs, settings ---


def fit_row(seed: int, draws: bytes = b"\x93NUMPY\x00\xff") -> StoredFitRow:
    return StoredFitRow(
        data_digest="ab" * 32,
        seed=seed,
        versions={"pymc": "6.4"},
        report={"divergences": 0, "problems": ["naïve"]},
        meta={"players": ["Ann"], "weeks": [0.5, None]},
        draws=draws,
        seconds=12.25,
        players=1,
        sessions=2,
        shots=40,
    )


def test_a_fit_comes_back_as_saved_and_every_fit_stays(store):
    with pytest.raises(NoFit, match="no fit is stored yet"):
        store.load_fit()
    big_seed = 2**40
    numbers = [store.save_fit(fit_row(big_seed + n)) for n in range(7)]
    assert [fit.id for fit in store.fits()] == numbers[::-1]
    latest = store.load_fit()
    assert (latest.id, latest.seed) == (numbers[-1], big_seed + 6)
    expected = fit_row(big_seed + 6)
    for name in ("versions", "report", "meta", "draws", "seconds", "data_digest", "shots"):
        assert getattr(latest, name) == getattr(expected, name)
    assert store.load_fit(numbers[3]).seed == big_seed + 3
    assert store.load_fit(numbers[0]).seed == big_seed
    with pytest.raises(NoFit, match="fit 99 is not stored"):
        store.load_fit(99)
    (summary, *_) = store.fits()
    assert (summary.versions, summary.size) == (expected.versions, len(expected.draws))


def test_fits_are_removed_on_request_alone_and_of_each_club_apart(store):
    drivers = [store.save_fit(fit_row(n)) for n in range(5)]
    woods = [store.save_fit(replace(fit_row(n), meta={"club": "3-wood"})) for n in range(3)]
    with pytest.raises(BadRequest, match="found 0 fits to keep"):
        store.prune_fits(0)
    assert store.prune_fits(4) == (drivers[0],)
    assert [f.id for f in store.fits() if f.club == "driver"] == drivers[:0:-1]
    assert [f.id for f in store.fits() if f.club == "3-wood"] == woods[::-1]
    assert store.prune_fits(4) == ()


def test_the_progress_of_a_fit_can_be_followed(store):
    assert store.job() is None
    number = store.start_job(total=4000, pid=123)
    queued = store.job()
    assert queued is not None
    assert (queued.state, queued.done, queued.total, queued.pid) == ("queued", 0, 4000, 123)
    store.update_job(number, state="running", done=1500, phase="sampling")
    running = store.job(number)
    assert running is not None
    assert (running.state, running.done, running.total) == ("running", 1500, 4000)
    assert (running.phase, running.message) == ("sampling", "")
    assert queued.started_at == running.started_at <= running.updated_at
    with pytest.raises(BadRequest, match="job 99 is not stored"):
        store.update_job(99, done=1)


def test_settings_hold_any_json_value(store):
    assert store.setting("effort", {}) == {}
    store.set_setting("effort", {"attack_deg": 2.5})
    store.set_setting("effort", {"attack_deg": 3, "names": ["é"]})
    assert store.setting("effort") == {"attack_deg": 3, "names": ["é"]}


# --- PostgreSQL ---


@pytest.mark.skipif(
    not POSTGRES, reason="set DRIVE_PROGRESS_TEST_POSTGRES to the address of an empty database"
)
def test_postgresql_gives_the_same_answers(url):
    assert POSTGRES is not None
    shots = [FULL, BARE, shot(1, 0.1, player="Zoë"), shot(1, 1 / 3, player="ann")]
    results = []
    for address in (url, POSTGRES):
        with Store.open(address) as opened:
            while opened.undo_last_load():
                pass
            opened.add_shots(shots)
            opened.add_shots([shot(1, 0.1, player="Zoë"), shot(2, player="Zoë")])
            opened.add_shots([shot(1, 5.0, player="Zoë")], on_conflict="replace")
            opened.add_shots([shot(1, 6.0, player="Zoë")], on_conflict="append")
            with pytest.raises(ConflictingShots):
                opened.add_shots([shot(1, 7.0, player="Zoë")])
            opened.add_changes([Change("ann", date(2026, 5, 1), "drill", "Low tee")])
            number = opened.save_fit(fit_row(2**40))
            assert opened.load_fit(number).draws == fit_row(1).draws
            opened.set_setting("a", [1])
            opened.update_job(opened.start_job(), state="done")
            results.append((shots_of(opened.shots_frame()), opened.changes(), opened.data_digest()))
            opened.delete_change(opened.logged_changes()[0].id)
            while opened.undo_last_load():
                pass
            assert opened.rows_by_table()["player"] == 0
    assert results[0] == results[1]
