"""Promises are kept beside their change: once, whole, and as long as the change."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from tests.fits import day
from tests.tracker.decisions.promises.logbook import LADDER, promise
from tracker.holdings.erase import erase_player
from tracker.holdings.held import held_of
from tracker.holdings.merge import merge_players
from tracker.holdings.rename import rename_player
from tracker.records import Shot
from tracker.store.store import Store


@pytest.fixture
def store(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as opened:
        start = datetime.combine(day(0), datetime.min.time())
        opened.add_shots(Shot(name, start, 1, {"attack_deg": 1.0}) for name in ("Ann", "Bo"))
        opened.add_changes([LADDER, replace(LADDER, player="Bo")])
        yield opened


def test_a_promise_comes_back_whole_with_the_time_it_was_made(store):
    ann, bo = store.logged_changes()
    store.add_promises([(ann, promise(fit_id=7))])
    assert list(store.promises()) == [ann.id]
    kept = store.promises()[ann.id]
    assert replace(kept, stored_at=None) == replace(promise(fit_id=7), stored_at=None)
    assert timedelta(0) <= datetime.now(UTC) - kept.stored_at < timedelta(minutes=1)
    assert store.promises("Bo") == {}
    store.add_promises([(bo, promise(change=bo.change))])
    assert [p.change.player for p in store.promises().values()] == ["Ann", "Bo"]


def test_the_first_promise_of_a_change_stays(store):
    ann = store.logged_changes("Ann")[0]
    assert len(store.add_promises([(ann, promise(gain=6.0))])) == 1
    assert store.add_promises([(ann, promise(gain=9.0))]) == ()
    assert store.promises()[ann.id].mean_gain_m == 6.0


def test_a_removed_change_takes_its_promise_along(store):
    ann, bo = store.logged_changes()
    store.add_promises([(ann, promise()), (bo, promise(change=bo.change))])
    store.delete_change(ann.id)
    assert list(store.promises()) == [bo.id]
    assert store.rows_by_table()["promise"] == 1
    assert store.add_promises([(ann, promise())]) == ()  # removed meanwhile


def test_a_promise_makes_no_fit_stale(store):
    digest, version = store.data_digest(), store.data_version()
    ann = store.logged_changes("Ann")[0]
    store.add_promises([(ann, promise())])
    assert (store.data_digest(), store.data_version()) == (digest, version)


def test_another_effort_of_a_change_keeps_its_promise(store):
    ann = store.logged_changes("Ann")[0]
    store.add_promises([(ann, promise())])
    store.add_changes([replace(LADDER, effort_sessions=9.0)], replace=True)
    kept = store.promises()[ann.id]
    assert kept.change.effort_sessions == 9.0
    assert kept.effort_sessions == 2.0  # as was promised


def test_a_promise_goes_with_its_player(store):
    ann = store.logged_changes("Ann")[0]
    store.add_changes([replace(LADDER, name="coin")])
    coin = next(c for c in store.logged_changes("Ann") if c.change.name == "coin")
    store.add_promises([(ann, promise()), (coin, promise(change=coin.change))])
    rename_player(store, "Ann", "Anna")
    assert [p.change.player for p in store.promises().values()] == ["Anna", "Anna"]
    merge_players(store, "Anna", "Bo", append=True)  # the ladder is Bo's own: that of Anna goes
    ((number, kept),) = store.promises("Bo").items()
    assert (number, kept.change.name) == (coin.id, "coin")
    erase_player(store, held_of(store, "Bo"))
    assert store.rows_by_table()["promise"] == 0
