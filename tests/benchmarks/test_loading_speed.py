"""How long a season of 100,000 shots takes into the store."""

import time
from datetime import date, timedelta

import pytest

from models.traits import TRAITS
from tracker.files.shot_log import read_shots
from tracker.store.loading import load_shots
from tracker.store.store import Store

pytestmark = pytest.mark.bench

TODAY = date(2026, 6, 30)


def test_a_hundred_thousand_shots_are_read_and_stored_within_the_time_promised(tmp_path):
    rows = 100_000
    names = [name for name in TRAITS if not name.startswith("strike")]
    path = tmp_path / "season.csv"
    with path.open("w") as file:
        file.write(f"player,session,shot,strike_toe_mm,strike_up_mm,{','.join(names)}\n")
        middle = ",".join(f"{(TRAITS[n].low + TRAITS[n].high) / 2:g}" for n in names)
        for i in range(rows):
            session = date(2025, 1, 1) + timedelta(days=i // 20 % 500)
            file.write(
                f"P{i // 1000},{session},{i % 20 + 1},{i % 599 / 10 - 30},{i % 7},{middle}\n"
            )
    began = time.perf_counter()
    read_shots(path, today=TODAY)
    read_seconds = time.perf_counter() - began
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as store:
        began = time.perf_counter()
        report = load_shots(store, path, today=TODAY)
        load_seconds = time.perf_counter() - began
    print(f"\nread {read_seconds:.1f} s, read and stored {load_seconds:.1f} s")
    assert report.stored == rows
    assert read_seconds < 8
    assert load_seconds < 15
