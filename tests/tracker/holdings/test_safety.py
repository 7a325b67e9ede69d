"""Backup, restore and check: everything comes back, and damage is never passed over."""

import os
import random
import stat
import zipfile
from datetime import datetime

import pytest
from sqlalchemy import create_engine, text

from tests.tracker.holdings.test_players import everything, fill, shot
from tracker.errors import BadRequest, DamagedDatabase
from tracker.fits.kept_fits import latest_fit
from tracker.holdings.backup import back_up, restore
from tracker.holdings.check import problems_of
from tracker.lesson.kept_photos import all_photos, keep_photo, photo_folder
from tracker.store.copies import COPIED, plain_rows
from tracker.store.loading import load_changes, load_shots
from tracker.store.store import Store

POSTGRES = os.environ.get("DRIVE_PROGRESS_TEST_POSTGRES")
NAMES = ("Ann", "=cmd()", "😀 [/b] ../x")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path


@pytest.fixture
def store(folder):
    with Store.open(f"sqlite:///{folder / 'shots.db'}") as opened:
        for name in NAMES:
            fill(opened, name)
        opened.set_setting("a", [1, {"b": None}])
        yield opened


def all_rows(store):
    with store.reading() as connection:
        return {name: list(plain_rows(connection, name)) for name in COPIED}


def execute(store_path, *statements):
    engine = create_engine(f"sqlite:///{store_path}")
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement))
    engine.dispose()


@pytest.mark.parametrize(
    "target",
    [
        "sqlite",
        pytest.param(
            "postgresql",
            marks=pytest.mark.skipif(
                not POSTGRES, reason="set DRIVE_PROGRESS_TEST_POSTGRES to an empty database"
            ),
        ),
    ],
)
def test_everything_comes_back_on_every_kind_of_database(store, folder, target):
    done = back_up(store, folder / "all.backup")
    assert stat.S_IMODE((folder / "all.backup").stat().st_mode) == 0o600
    photos = {p.name: p.read_bytes() for p in all_photos(store)}
    for path in photo_folder().iterdir():
        path.unlink()
    url = POSTGRES if target == "postgresql" else f"sqlite:///{folder / 'new.db'}"
    with Store.open(url) as new:
        again = restore(new, folder / "all.backup", force=target == "postgresql")
        assert (again.rows, again.photos) == (done.rows, done.photos)
        assert all_rows(new) == all_rows(store)
        assert {p.name: p.read_bytes() for p in all_photos(new)} == photos
        for name in NAMES:
            assert everything(new, name) == everything(store, name)
        assert new.data_digest() == store.data_digest()
        assert latest_fit(new).players == latest_fit(store).players
        back_up(new, folder / "second.backup")
        new.add_shots([shot("New", 1)])  # numbered after what was put back
        assert new.save_fit(new.load_fit()) > store.fits()[0].id
    with Store.open(f"sqlite:///{folder / 'third.db'}") as third:
        restore(third, folder / "second.backup")
        assert all_rows(third) == all_rows(store)


def test_a_database_that_holds_something_is_replaced_only_by_force(store, folder):
    back_up(store, folder / "all.backup")
    with Store.open(f"sqlite:///{folder / 'other.db'}") as other:
        other.add_shots([shot("Zebulon Quagga")])
        keep_photo(other, b"other", shot("Zebulon Quagga"))
        version = other.data_version()
        with pytest.raises(BadRequest, match="holds data already, so nothing was restored"):
            restore(other, folder / "all.backup")
        assert [p.name for p in other.players()] == ["Zebulon Quagga"]
        restore(other, folder / "all.backup", force=True)
        assert all_rows(other) == all_rows(store)
        assert other.data_version() > version
    assert b"other" not in [p.read_bytes() for p in photo_folder().iterdir()]
    assert b"Zebulon" not in (folder / "other.db").read_bytes()


def test_a_backup_with_any_byte_changed_is_refused(store, folder):
    back_up(store, folder / "all.backup")
    whole = (folder / "all.backup").read_bytes()
    places = random.Random(1).sample(range(len(whole)), 40)
    refused = 0
    with Store.open(f"sqlite:///{folder / 'new.db'}") as new:
        for place in places:
            damaged = bytearray(whole)
            damaged[place] ^= 0x55
            (folder / "bad.backup").write_bytes(damaged)
            try:
                restore(new, folder / "bad.backup", force=True)
            except BadRequest:
                refused += 1
            else:  # a byte that says nothing, such as a time: then all must be there
                assert all_rows(new) == all_rows(store)
        assert refused > 30
        (folder / "bad.backup").write_bytes(whole[: len(whole) // 2])
        with pytest.raises(BadRequest, match=r"is damaged .* use another backup"):
            restore(new, folder / "bad.backup", force=True)


def test_a_backup_that_was_altered_knowingly_is_refused(store, folder):
    back_up(store, folder / "all.backup")
    with zipfile.ZipFile(folder / "all.backup") as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    files["rows/player.jsonl"] = files["rows/player.jsonl"].replace(b"Carl", b"Karl")
    with zipfile.ZipFile(folder / "bad.backup", "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    with (
        Store.open(f"sqlite:///{folder / 'new.db'}") as new,
        pytest.raises(BadRequest, match=r"rows/player\.jsonl is not as it was written"),
    ):
        restore(new, folder / "bad.backup")


def test_what_is_no_backup_is_refused(store, folder):
    with zipfile.ZipFile(folder / "other.zip", "w") as archive:
        archive.writestr("x", "y")
    with pytest.raises(BadRequest, match="no backup of this program"):
        restore(store, folder / "other.zip", force=True)
    with pytest.raises(BadRequest, match="cannot be read"):
        restore(store, folder / "none.zip", force=True)


# --- check ---


def test_what_is_sound_has_no_problems(store):
    assert problems_of(store) == ()


def test_each_row_that_no_log_could_hold_is_named_with_its_remedy(store, folder):
    execute(
        folder / "shots.db",
        "UPDATE shot SET strike_up_mm = 900 WHERE id = 1",
        "UPDATE shot SET strike_up_mm = 'x' WHERE id = 2",
        "UPDATE shot SET strike_up_mm = NULL WHERE id = 3",
        "UPDATE logged_change SET kind = 'dance' WHERE id = 1",
        "UPDATE practice_session SET start = '1900-01-01 00:00:00.000000' WHERE id = 4",
        "INSERT INTO practice_session (id, player_id, start)"
        " VALUES (99, 77, '2026-01-01 00:00:00.000000')",
    )
    found = {p.what: p.remedy for p in problems_of(store)}
    for what in (
        "shot 1: found strike_up_mm 900.0, wanted -",
        "shot 2: found strike_up_mm 'x', wanted -",
        "found no reading",
        "kind 'dance'",
        "a session of 1900-01-01",
        "belongs to no row of player",
    ):
        assert any(what in line for line in found), (what, found)
    assert len(found) == 6
    assert all(found.values())


def test_a_fit_with_damaged_draws_is_a_problem_with_its_remedy(store, folder):
    execute(folder / "shots.db", "UPDATE fit SET draws = x'504b0304' WHERE id = 2")
    (found,) = problems_of(store)
    assert "fit 2 cannot be read: it is damaged" in found.what
    assert found.remedy == "run drive-progress fit again"


@pytest.fixture
def damaged(folder):
    """A database whose file was written over in the middle."""
    path = folder / "hurt.db"
    with Store.open(f"sqlite:///{path}") as opened:
        fill(opened, "Ann")
        start = datetime(2026, 3, 1)
        opened.add_shots([shot("Ann", n, start=start) for n in range(1, 3000)])
        opened.compact()
    content = bytearray(path.read_bytes())
    for place in range(len(content) // 4, len(content), 4096):
        content[place : place + 64] = b"\xff" * 64
    path.write_bytes(content)
    return path


def test_nothing_is_written_into_a_damaged_file(damaged):
    log = b"player,session,strike_up_mm\nBo,2026-03-01,1\n"
    changes = b"player,start,kind,name\nAnn,2026-03-01,drill,x\n"
    before = damaged.read_bytes()
    with Store.open(f"sqlite:///{damaged}") as store:
        (first, *_) = problems_of(store)
        assert "the file is damaged" in first.what
        for write in (
            lambda: load_shots(store, log),
            lambda: load_changes(store, changes),
            store.undo_last_load,
        ):
            with pytest.raises(
                DamagedDatabase, match=r"damaged.* nothing was written; put the last backup"
            ):
                write()
    assert damaged.read_bytes() == before
