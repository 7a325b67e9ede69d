"""Groups and coaches: the newest word counts, of the log or by hand; no fit depends on it."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from tracker.errors import BadRequest, UnknownPlayer
from tracker.records import Labels, Shot
from tracker.store.store import Store


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'shots.db'}"


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    with Store.open(url) as opened:
        yield opened


def shot(day: int, number: int = 1, player: str = "Ann", **more) -> Shot:
    return Shot(player, datetime(2026, 5, day), number, {"attack_deg": 1.0}, **more)


def test_the_last_session_that_says_so_tells_the_group_and_the_coach(store):
    store.add_shots(
        [
            shot(3, group="seniors", coach="Kim"),
            shot(1, group="juniors", coach="Lee"),
            shot(4, 1, coach="Max"),
            shot(4, 2, coach="Ash"),
            shot(4, 3, coach="Max"),
            shot(5),
            shot(2, player="Bo"),
        ]
    )
    assert store.labels() == {"Ann": Labels("seniors", "Max"), "Bo": Labels()}
    assert store.labels("Bo") == {"Bo": Labels()}


def test_what_is_said_by_hand_stands_until_a_later_session_says_otherwise(store):
    store.add_shots([shot(1, group="juniors", coach="Lee")])
    store.set_labels("Ann", {"group": "seniors"}, since=datetime(2026, 5, 2, 12))
    assert store.labels() == {"Ann": Labels("seniors", "Lee")}
    store.add_shots([shot(3, group="masters")])
    assert store.labels() == {"Ann": Labels("masters", "Lee")}
    store.set_labels("Ann", {"group": "B", "coach": None}, since=datetime(2026, 5, 4))
    assert store.labels() == {"Ann": Labels("B", None)}


def test_a_label_by_hand_is_tidied_or_refused(store):
    store.add_shots([shot(1)])
    store.set_labels("Ann", {"group": "  the   A team "})
    assert store.labels()["Ann"].group == "the A team"
    for bad in ("  ", "a\x07b"):
        with pytest.raises(BadRequest, match=r"coach: found .* wanted a name in plain words"):
            store.set_labels("Ann", {"group": "lost", "coach": bad})
    assert store.labels()["Ann"] == Labels("the A team")
    with pytest.raises(UnknownPlayer, match="the closest is 'Ann'"):
        store.set_labels("Anne", {"group": "B"})
    with pytest.raises(UnknownPlayer, match="the closest is 'Ann'"):
        store.labels("Anne")


def test_no_fit_grows_stale_by_a_label_but_pages_hear_of_it(store):
    store.add_shots([shot(1)])
    digest, version = store.data_digest(), store.data_version()
    store.add_shots([shot(1, group="A", coach="Kim")], on_conflict="replace")
    store.set_labels("Ann", {"group": "B"})
    assert store.data_digest() == digest
    assert store.data_version() == version + 2


def test_labels_go_with_their_player(store):
    store.add_shots([shot(1)])
    store.set_labels("Ann", {"group": "A"})
    assert store.rows_by_table()["player_label"] == 1
    store.undo_last_load()
    assert store.rows_by_table()["player_label"] == 0


def test_a_database_from_before_groups_keeps_its_shots(url):
    with Store.open(url) as opened:
        opened.add_shots([shot(1), shot(2)])
        before = opened.data_digest()
    engine = create_engine(url)
    with engine.begin() as connection:
        for step in (
            "DROP TABLE player_label",
            'ALTER TABLE shot DROP COLUMN "group"',
            "ALTER TABLE shot DROP COLUMN coach",
            "UPDATE drive_progress_schema SET version_num = '0002'",
        ):
            connection.execute(text(step))
    engine.dispose()
    with Store.open(url) as opened:
        assert opened.data_digest() == before
        assert opened.labels() == {"Ann": Labels()}
        opened.add_shots([shot(3, group="A")])
        assert opened.labels() == {"Ann": Labels("A")}
