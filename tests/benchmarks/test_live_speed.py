"""How long the player's posterior takes to move after a shot: 1,000 draws, seven traits."""

import time
from datetime import datetime

import numpy as np
import pytest

from models.traits import MODELLED, TRAITS
from tests.fits import day, make_fit
from tracker.lesson.session import Lesson, commit
from tracker.lesson.update import live_fit
from tracker.pages.live_view import live_view
from tracker.records import Shot
from tracker.store.store import Store

pytestmark = pytest.mark.bench

WANTED_S = 0.2
SESSIONS, SHOTS, TODAY = 25, 20, 60


def best(work, repeats=7):
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return float(np.median(times))


def readings(rng):
    return {t: float(TRAITS[t].prior.mean + rng.normal(0, TRAITS[t].prior.shot_sd))
            for t in MODELLED}  # fmt: skip


def test_posterior_moves_within_200_ms_of_a_shot(tmp_path, capsys):
    rng = np.random.default_rng(1)
    days = [7 * i for i in range(SESSIONS)]
    names = [f"player {i}" for i in range(12)]
    fit = make_fit(
        {n: {} for n in names}, samples=1000, days=days, shots=SHOTS, jump_chance=0.4,
        day_alike=dict.fromkeys(MODELLED, 0.3),
    )  # fmt: skip
    today = datetime.combine(day(7 * SESSIONS), datetime.min.time())
    with Store.open(f"sqlite:///{tmp_path / 'speed.db'}") as store:
        store.add_shots(
            [
                Shot(name, datetime.combine(day(d), datetime.min.time()), n + 1, readings(rng))
                for name in names
                for d in days
                for n in range(SHOTS)
            ]
        )
        lesson = Lesson(names[0], today)
        for _ in range(TODAY):
            commit(store, lesson, readings(rng))
        frame = store.shots_frame(names[0])
        shots = [Shot(names[0], today, 1, {"strike_up_mm": 1.0, "strike_toe_mm": 2.0})] * TODAY
        update_s = best(lambda: live_fit(fit, names[0], frame, (), today))
        view_s = best(lambda: live_view(fit, lesson, shots, frame, (), "strike_up_mm", "yards"))
        commit_s = best(lambda: commit(store, lesson, readings(rng)))
        read_s = best(lambda: store.shots_frame(names[0]))
    with capsys.disabled():
        print(
            f"\n1,000 draws x 7 traits, {TODAY} shots today: posterior {1000 * update_s:.1f} ms, "
            f"with its sentences and picture {1000 * view_s:.1f} ms, shot stored "
            f"{1000 * commit_s:.1f} ms, shots read {1000 * read_s:.1f} ms; "
            f"posterior {WANTED_S / update_s:.0f} x faster than wanted"
        )
    assert update_s < WANTED_S
    assert view_s + commit_s + read_s < WANTED_S * 2
