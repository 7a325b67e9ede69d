"""Files with people's data: for their owner alone, whole or not at all."""

import os
import stat

import pytest

from tracker.errors import BadRequest
from tracker.store.engine import user_database
from tracker.store.private_files import private_draft, write_private
from tracker.store.store import Store


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture(autouse=True)
def open_umask():
    before = os.umask(0o022)
    yield
    os.umask(before)


def test_a_file_is_written_for_its_owner_alone(tmp_path):
    write_private(tmp_path / "a.zip", b"x")
    assert (tmp_path / "a.zip").read_bytes() == b"x"
    assert mode(tmp_path / "a.zip") == 0o600


def test_a_file_that_fails_half_way_leaves_the_old_one_and_no_draft(tmp_path):
    target = tmp_path / "a.zip"
    target.write_bytes(b"old")

    def fail_half_way():
        with private_draft(target) as draft:
            draft.write_bytes(b"half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_place_that_cannot_be_written_is_named_with_the_remedy(tmp_path):
    with pytest.raises(BadRequest, match=r"none.a\.zip cannot be written .*choose another place"):
        write_private(tmp_path / "none" / "a.zip", b"x")


def test_a_new_database_and_what_lies_beside_it_are_for_the_owner_alone(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as store:
        store.set_setting("a", 1)
        beside = sorted(path.name for path in tmp_path.iterdir())
        assert beside == ["shots.db", "shots.db-shm", "shots.db-wal"]
        assert {mode(path) for path in tmp_path.iterdir()} == {0o600}


def test_an_open_database_is_tightened_when_it_is_opened_and_its_folder_is_not(tmp_path):
    path = tmp_path / "shots.db"
    with Store.open(f"sqlite:///{path}"):
        pass
    path.chmod(0o644)
    tmp_path.chmod(0o755)
    with Store.open(f"sqlite:///{path}"):
        pass
    assert mode(path) == 0o600
    assert mode(tmp_path) == 0o755


def test_the_users_data_folder_is_for_the_owner_alone(tmp_path, monkeypatch):
    folder = tmp_path / "drive-progress"
    folder.mkdir(mode=0o755)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with Store.open(user_database("demo.db")):
        pass
    assert mode(folder) == 0o700
    assert mode(folder / "demo.db") == 0o600
