"""Whole players: exported, erased, renamed and merged, under names that try to break things."""

import csv
import io
import stat
import zipfile
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import Column, ForeignKey, Integer, MetaData, String, Table, insert, select

from tests.fits import day, make_fit
from tracker.errors import BadRequest, ConflictingShots, UnknownPlayer
from tracker.fits.kept_fits import fit_of_row, keep_fit, latest_fit
from tracker.holdings.erase import erase_player, what_goes
from tracker.holdings.export import export_player
from tracker.holdings.held import held_of
from tracker.holdings.merge import merge_players
from tracker.holdings.rename import rename_player
from tracker.lesson.kept_photos import keep_photo, photo_folder, photos_of
from tracker.readings.shot_frame import shots_of
from tracker.records import Change, Shot
from tracker.store.loading import load_changes, load_shots
from tracker.store.people import SOMEONE, erase_rows, move_rows, owned_by, rows_of
from tracker.store.store import Store
from tracker.store.tables import METADATA

UP = "strike_up_mm"
HOSTILE = ("[/bold] Bob", "../x", "=cmd()|' /C calc'!A0", "😀 Ann-Löwe", "-2+3", "'=x", "a\u200bb")
TODAY = date(2026, 6, 1)


def shot(player, number=1, up=-9.0, start=datetime(2026, 1, 5), **more):
    return Shot(player, start, number, {UP: up}, **more)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path


@pytest.fixture
def store(folder):
    with Store.open(f"sqlite:///{folder / 'shots.db'}") as opened:
        yield opened


def fill(store, player, other="Carl"):
    """Shots, a change, a photograph and a fit of two players."""
    starts = [datetime(2026, 1, 5) + timedelta(days=7 * n, minutes=30 * n) for n in range(4)]
    shots = [
        shot(name, n, -9.0 + n / 3, start, note='=1+1, "q"\nline', ball="@soft")
        for name in (player, other)
        for start in starts
        for n in (1, 2)
    ]
    store.add_shots(shots, source=f"{player.lower()}.csv")
    change = Change(player, day(10), "drill", "+ladder", UP, 3.5, "-note")
    store.add_changes([change])
    keep_photo(store, b"jpeg", shots[0])
    fit_both(store, player, other, changes=(change,))


def fit_both(store, *players, changes=()):
    fit = make_fit({name: {UP: -9.0 + i} for i, name in enumerate(players)}, changes=changes)
    number = keep_fit(store, fit, store.shots_frame(), sessions=8, shots=16)
    with store.writing() as connection:  # as a fit of what is stored now
        table = METADATA.tables["fit"]
        fresh = table.update().where(table.c.id == number)
        connection.execute(fresh.values(data_digest=store.data_digest()))
    return number


def everything(store, player):
    return shots_of(store.shots_frame(player)), store.changes(player)


# --- export ---


@pytest.mark.parametrize("player", HOSTILE)
def test_an_export_is_loaded_again_exactly(store, folder, player):
    fill(store, player)
    path = folder / "out.zip"
    done = export_player(store, player, path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert done.held.rows == {"player": 1, "practice_session": 4, "shot": 8, "logged_change": 1}
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    assert set(files) - {n for n in files if n.startswith("photos/")} == {
        "about.txt", "shots.csv", "changes.csv", "player.csv", "practice_session.csv", "loads.csv",
        "fits.csv",
    }  # fmt: skip
    assert [files[n] for n in files if n.startswith("photos/")] == [b"jpeg"]
    with Store.open(f"sqlite:///{folder / 'second.db'}") as second:
        load_shots(second, files["shots.csv"], today=TODAY)
        load_changes(second, files["changes.csv"], today=TODAY)
        assert everything(second, player) == everything(store, player)


@pytest.mark.parametrize("player", HOSTILE)
def test_no_cell_of_an_export_is_a_formula_and_no_file_says_the_name(store, folder, player):
    fill(store, player)
    export_player(store, player, folder / "out.zip")
    with zipfile.ZipFile(folder / "out.zip") as archive:
        for name in archive.namelist():
            assert ".." not in name
            assert player not in name
            if name.endswith(".csv"):
                cells = csv.reader(io.StringIO(archive.read(name).decode(), newline=""))
                for cell in (c for row in cells for c in row if c):
                    try:
                        float(cell)
                    except ValueError:
                        assert cell[0] not in "=+-@\t\r"


def test_what_is_held_of_nobody_is_refused_with_the_closest_name(store):
    fill(store, "Anna Lee")
    with pytest.raises(UnknownPlayer, match="the closest is 'Anna Lee'"):
        held_of(store, "Ana Lee")


# --- tables that are not there yet ---


def test_every_table_belongs_to_players_or_is_known_to_belong_to_nobody():
    nobodys = {t.name for t in METADATA.sorted_tables if owned_by(t, "Ann") is None}
    # a name in the texts of these is covered, and fits are dropped whole
    assert nobodys == {"import_batch", "fit", "fit_job", "setting", "data_state"}


def test_a_table_added_later_is_covered_by_its_columns(store):
    later = MetaData()
    for table in METADATA.sorted_tables:
        table.to_metadata(later)
    named = Table("later", later, Column("id", Integer, primary_key=True), Column("player", String))
    led = Table(
        "led_to",
        later,
        Column("id", Integer, primary_key=True),
        Column("later_id", ForeignKey("later.id")),
        Column("note", String),
    )
    fill(store, "Ann")
    with store.writing() as connection:
        later.create_all(connection, tables=[named, led])
        connection.execute(insert(named), [{"id": 1, "player": "Ann"}, {"id": 2, "player": "Carl"}])
        connection.execute(insert(led), [{"id": 7, "later_id": 1}, {"id": 8, "later_id": 2}])
        found = rows_of(connection, "Ann", later)
        assert [row["id"] for row in found["later"]] == [1]
        assert [row["id"] for row in found["led_to"]] == [7]
        erase_rows(connection, "Ann", later)
        assert connection.scalars(select(named.c.player)).all() == ["Carl"]
        assert connection.scalars(select(led.c.id)).all() == [8]


# --- erase ---


@pytest.mark.parametrize("player", ["Zebulon Quagga", "[/bold] Bobolink", "😀 Quaggalöwe"])
def test_an_erased_name_is_nowhere_in_the_files_of_the_database(store, folder, player):
    fill(store, player)
    store.add_shots(
        [shot("Carl", 9, note=f"played with {player}, who waved")], source=f"{player}.csv"
    )
    store.set_setting("threshold", {"of": [player]})
    assert any(player.encode() in p.read_bytes() for p in folder.glob("shots.db*"))
    held = held_of(store, player)
    assert "8 shots" in what_goes(held)
    assert "1 kept photographs" in what_goes(held)
    assert any("every fit that knows the name (number 1)" in line for line in what_goes(held))
    assert erase_player(store, held).clean
    assert [p.name for p in store.players()] == ["Carl"]
    assert store.changes() == store.fits() == ()
    assert list(photo_folder().iterdir()) == []
    for path in folder.glob("shots.db*"):
        assert player.encode() not in path.read_bytes(), path
    assert f"played with {SOMEONE}, who waved" in store.shots_frame("Carl")["note"].to_list()
    with pytest.raises(UnknownPlayer):
        held_of(store, player)


def test_others_keep_everything_and_longer_names_stay(store):
    fill(store, "Ann", "Ann Lee")
    store.add_shots([shot("Ann Lee", 9, note="Ann Lee and Ann; Annabel")])
    before = shots_of(store.shots_frame("Ann Lee"))
    erase_player(store, held_of(store, "Ann"))
    after = shots_of(store.shots_frame("Ann Lee"))
    assert [s.key for s in after] == [s.key for s in before]
    assert after[2].note == f"Ann Lee and {SOMEONE}; Annabel"


def test_a_name_that_may_be_a_drills_is_reported_and_stays(store):
    fill(store, "Ann")
    store.add_changes([Change("Carl", day(3), "drill", "Ann's gate", UP)])
    (said,) = held_of(store, "Ann").other_texts
    assert (said.table, said.column, said.text) == ("logged_change", "name", "Ann's gate")
    erase_player(store, held_of(store, "Ann"))
    assert store.changes("Carl")[0].name == "Ann's gate"


def test_fits_of_others_stay_and_no_number_of_an_erased_fit_comes_back(store):
    fill(store, "Ann")
    others = fit_both(store, "Carl", "Dora")
    knowing = fit_both(store, "Ann", "Dora")
    erase_player(store, held_of(store, "Ann"))
    assert [f.id for f in store.fits()] == [others]
    assert fit_both(store, "Carl") == knowing + 1


def test_a_player_who_is_in_a_fit_alone_can_be_erased(store):
    fill(store, "Ann")
    fit_both(store, "Ghost", "Carl")
    held = held_of(store, "Ghost")
    assert (held.rows, held.fits) == ({}, (2,))
    erase_player(store, held)
    assert [f.id for f in store.fits()] == [1]


def test_nothing_is_erased_while_a_fit_is_under_way(store):
    fill(store, "Ann")
    store.start_job()
    with pytest.raises(BadRequest, match="a fit is under way"):
        erase_player(store, held_of(store, "Ann"))
    assert photos_of(store, "Ann")


# --- rename ---


@pytest.mark.parametrize("new", HOSTILE)
def test_a_renamed_player_keeps_shots_changes_photographs_and_a_fresh_fit(store, new):
    fill(store, "Mia")
    level = latest_fit(store).of("Mia", UP).level
    before = shots_of(store.shots_frame("Mia"))
    done = rename_player(store, "Mia", new)
    assert (done.rows, done.photos, done.fits, done.dropped) == ({"player": 1}, 1, {1: 2}, ())
    after = shots_of(store.shots_frame(new))
    assert [(s.key[1:], s.readings) for s in after] == [(s.key[1:], s.readings) for s in before]
    assert store.changes()[0].player == new
    assert [p.read_bytes() for p in photos_of(store, new)] == [b"jpeg"]
    fit = latest_fit(store)
    assert (fit.of(new, UP).level == level).all()
    assert fit.of(new, UP).changes[0].name == "+ladder"
    assert fit.info.data_digest == store.data_digest()
    assert not held_of_nothing(store, "Mia")


def held_of_nothing(store, player):
    try:
        return held_of(store, player)
    except UnknownPlayer:
        return None


def test_a_stale_fit_stays_stale_and_the_order_of_fits_stays(store):
    fill(store, "Mia")
    store.add_shots([shot("Carl", 99)])
    assert fit_both(store, "Carl") == 2
    rename_player(store, "Mia", "Pia")
    assert [f.id for f in store.fits()] == [4, 3]
    assert {p.name for p in fit_of_row(store.load_fit(3)).players} == {"Pia", "Carl"}
    assert store.load_fit(3).data_digest != store.data_digest()


def test_a_name_that_is_taken_or_none_is_refused(store):
    fill(store, "Mia")
    with pytest.raises(BadRequest, match="merge 'Mia' into it"):
        rename_player(store, "Mia", " Carl ")
    with pytest.raises(BadRequest, match="wanted plain text"):
        rename_player(store, "Mia", "a\x07b")


# --- merge ---


def test_two_who_are_one_become_one(store):
    fill(store, "Ann")
    same = shots_of(store.shots_frame("Ann"))[0]
    store.add_shots(
        [
            shot("ANN", same.number, same.readings[UP], same.session, ball="@soft", note=same.note),
            shot("ANN", 3, 4.0, same.session),
            shot("ANN", 1, 5.0, datetime(2026, 3, 1)),
        ]
    )
    store.add_changes([Change("ANN", day(20), "setup", "stance")])
    keep_photo(store, b"second", shot("ANN"))
    fit_both(store, "ANN", "Carl")
    done = merge_players(store, "ANN", "Ann")
    assert done.rows == {"practice_session": 1, "shot": 2, "logged_change": 1}
    assert (done.already, done.appended, done.photos, done.dropped) == (1, 0, 1, (2,))
    assert [p.name for p in store.players()] == ["Ann", "Carl"]
    assert len(store.shots_frame("Ann")) == 10
    assert len(store.changes("Ann")) == 2
    assert len(photos_of(store, "Ann")) == 2
    assert [f.id for f in store.fits()] == [1]
    assert store.fits()[0].data_digest != store.data_digest()


def test_shots_that_are_the_same_by_number_alone_are_refused_by_name_or_appended(store):
    fill(store, "Ann")
    store.add_shots([shot("ANN", 1, 4.0), shot("ANN", 3, 5.0)])
    with pytest.raises(ConflictingShots, match=r"ANN and Ann have .*nothing was merged") as refused:
        merge_players(store, "ANN", "Ann")
    assert "found '4', wanted -8.666666667 as for the other: 2026-01-05, driver, shot 1" in str(
        refused.value
    )
    assert len(store.shots_frame("ANN")) == 2
    done = merge_players(store, "ANN", "Ann", append=True)
    assert done.appended == 1
    readings = {
        s.number: s.readings[UP]
        for s in shots_of(store.shots_frame("Ann"))
        if s.session == datetime(2026, 1, 5)
    }
    assert (readings[3], readings[4]) == (5.0, 4.0)


def test_of_what_was_said_of_both_the_newest_word_counts(store):
    store.add_shots([shot("Ann"), shot("ANN")])
    store.set_labels("ANN", {"group": "seniors", "coach": "Kim"})
    store.set_labels("Ann", {"group": "juniors"})
    merge_players(store, "ANN", "Ann")
    (labels,) = store.labels().values()
    assert (labels.group, labels.coach) == ("juniors", "Kim")


def test_where_a_table_has_room_for_one_the_one_who_stays_keeps_theirs(store):
    later = MetaData()
    for table in METADATA.sorted_tables:
        table.to_metadata(later)
    single = Table(
        "single",
        later,
        Column("id", Integer, primary_key=True),
        Column("player", String, unique=True),
    )
    store.add_shots([shot("Ann"), shot("ANN"), shot("Bo")])
    with store.writing() as connection:
        later.create_all(connection, tables=[single])
        rows = [{"id": 1, "player": "Ann"}, {"id": 2, "player": "ANN"}, {"id": 3, "player": "Bo"}]
        connection.execute(insert(single), rows)
        others = [t for t in later.sorted_tables if t is not single]
        move_rows(connection, "ANN", "Ann", but=others, metadata=later)
        found = connection.execute(select(single).order_by(single.c.id)).all()
    assert found == [(1, "Ann"), (3, "Bo")]


def test_players_of_two_hands_are_not_one(store):
    store.add_shots([shot("Ann"), shot("ANN", handed="left")])
    with pytest.raises(BadRequest, match="plays left-handed"):
        merge_players(store, "ANN", "Ann")
    with pytest.raises(BadRequest, match="name two"):
        merge_players(store, "Ann", "Ann")
