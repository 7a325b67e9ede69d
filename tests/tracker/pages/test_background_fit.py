"""A fit runs beside the page; a process that dies is noticed and named."""

import sys
import time
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import create_engine, text

from tracker.fits.background import SILENT, progress, start_fit

UPDATE = """
import os
from tracker.store.store import Store
with Store.open() as store:
    job = store.job()
    assert job.pid == os.getpid(), (job.pid, os.getpid())
    store.update_job(job.id, state="done", done=10, total=10, phase="done")
"""


WAIT = """
import sys, time
from pathlib import Path
for _ in range(6000):
    if Path(sys.argv[1]).exists():
        break
    time.sleep(0.02)
"""


def python(code, *words):
    return (sys.executable, "-c", code, *map(str, words))


def wait_until_over(store, seconds=120):
    end = time.monotonic() + seconds
    while (now := progress(store)) is not None and now.active and time.monotonic() < end:
        time.sleep(0.05)
    return now


def test_no_fit_was_ever_started(store):
    assert progress(store) is None


def test_fit_reads_its_database_and_job_from_its_parent(store, url, tmp_path):
    # the child looks the job up only later, as the real one does after its imports
    start_fit(store, url, python(WAIT + UPDATE, tmp_path / "go on"))
    assert progress(store).active
    (tmp_path / "go on").touch()
    over = wait_until_over(store)
    assert (over.state, over.share) == ("done", 1.0)


def test_dead_process_is_failed_with_its_last_words_and_a_remedy(store, url):
    start_fit(store, url, python("import sys; sys.exit('ran out of memory')"))
    over = wait_until_over(store)
    assert over.state == "failed"
    assert "ended with code 1" in over.message
    assert "It said: ran out of memory" in over.message
    assert "Start it again" in over.message
    assert store.job().state == "failed"


def test_second_start_leaves_the_first_to_finish(store, url, tmp_path):
    first = start_fit(store, url, python(WAIT, tmp_path / "go on"))
    assert start_fit(store, url, python("pass")) == first
    assert store.rows_by_table()["fit_job"] == 1
    (tmp_path / "go on").touch()
    wait_until_over(store)


def test_half_way_is_a_share(store):
    store.start_job(total=400, pid=None)
    store.update_job(store.job().id, state="running", done=100, phase="drawing")
    now = progress(store)
    assert (now.share, now.phase, now.active) == (0.25, "drawing", True)


@pytest.mark.parametrize(("silent_for", "state"), [(0.5, "running"), (1.5, "failed")])
def test_job_of_a_lost_process_fails_only_after_long_silence(store, url, silent_for, state):
    # 2**22 is the largest process number Linux gives, so none above it can be alive
    number = store.start_job(pid=2**22 + 7)
    store.update_job(number, state="running")
    engine = create_engine(url)
    with engine.begin() as connection:
        then = datetime.now(UTC).replace(tzinfo=None) - silent_for * SILENT
        statement = text("UPDATE fit_job SET updated_at = :then")
        connection.execute(statement, {"then": then.isoformat(" ")})
    engine.dispose()
    assert progress(store).state == state


def test_silence_is_long_enough_to_compile_a_model():
    assert timedelta(seconds=60) < SILENT
