"""Photographs: for their owner alone, found by player, and named without one."""

import os
import stat
from datetime import datetime

import pytest

from tracker.errors import BadRequest
from tracker.lesson.kept_photos import (
    all_photos,
    keep_photo,
    photo_folder,
    photos_of,
    put_back_photo,
    rename_photos,
)
from tracker.records import Shot
from tracker.store.store import Store

HOSTILE = "Elm ../x"


def shot(player=HOSTILE, number=3):
    return Shot(player, datetime(2026, 2, 9), number, {"strike_up_mm": 1.0})


@pytest.fixture
def store(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as opened:
        opened.add_shots([shot(), shot("Ann"), shot("Bob")])
        yield opened


def test_a_photograph_is_never_written_over_and_does_not_say_whose_it_is(store):
    first, second = keep_photo(store, b"one", shot()), keep_photo(store, b"two", shot())
    assert first.parent == second.parent == photo_folder()
    assert (first.read_bytes(), second.read_bytes()) == (b"one", b"two")
    assert photos_of(store, HOSTILE) == (second, first)
    assert "Elm" not in first.name
    assert first.name.endswith("_2026-02-09_shot3.jpg")
    assert second.name == first.name.replace(".jpg", "-2.jpg")


def test_photographs_and_their_folder_are_for_their_owner_alone(store):
    before = os.umask(0o022)
    try:
        photo_folder().mkdir(parents=True, mode=0o755)
        kept = keep_photo(store, b"one", shot())
    finally:
        os.umask(before)
    assert stat.S_IMODE(photo_folder().stat().st_mode) == 0o700
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


def test_each_player_has_their_own_photographs(store):
    ann, bob = keep_photo(store, b"a", shot("Ann")), keep_photo(store, b"b", shot("Bob"))
    assert photos_of(store, "Ann") == (ann,)
    assert photos_of(store, "Bob") == (bob,)
    assert set(all_photos(store)) == {ann, bob}


def test_another_database_does_not_take_them(store, tmp_path):
    keep_photo(store, b"a", shot("Ann"))
    with Store.open(f"sqlite:///{tmp_path / 'other.db'}") as other:
        other.add_shots([shot("Ann")])
        assert photos_of(other, "Ann") == ()
        assert all_photos(other) == ()


def test_photographs_follow_a_player_to_another_name_and_hide_none_that_is_there(store):
    keep_photo(store, b"a", shot("Ann"))
    keep_photo(store, b"b", shot("Bob"))
    assert rename_photos(store, "Ann", "Bob") == 1
    assert photos_of(store, "Ann") == ()
    assert {p.read_bytes() for p in photos_of(store, "Bob")} == {b"a", b"b"}


def test_a_photograph_named_after_its_player_by_an_earlier_version_loses_the_name(store):
    photo_folder().mkdir(parents=True)
    (photo_folder() / "Elm_x_2026-02-09_shot3.jpg").write_bytes(b"old")
    (found,) = photos_of(store, HOSTILE)
    assert found.read_bytes() == b"old"
    assert [p.name for p in photo_folder().iterdir()] == [found.name]
    assert "Elm" not in found.name


@pytest.mark.parametrize("name", ["../x.jpg", "a.jpg", "0" * 18 + "_2026-02-09_shot1.exe"])
def test_a_backup_puts_nothing_outside_the_folder(store, name):
    with pytest.raises(BadRequest, match="no name that this program gives"):
        put_back_photo(name, b"x")
