"""A fit runs beside the page; a process that dies is noticed and named."""

import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import create_engine, text

from tests.pages import drawn_by
from tests.tracker.pages.academy import fill
from tracker.fits import background
from tracker.fits.background import SILENT, progress, queue_job, start_fit
from tracker.fits.process import Process

UPDATE = """
import os
from tracker.store.store import Store
with Store.open() as store:
    job = store.job()
    assert job.pid == os.getpid(), (job.pid, os.getpid())
    store.update_job(job.id, state="done", done=10, total=10, phase="done")
"""


WAIT = """
import os, sys, time
from pathlib import Path
parent = os.getppid()
while not Path(sys.argv[1]).exists() and os.getppid() == parent:
    time.sleep(0.02)
"""


def python(code, *words):
    return (sys.executable, "-c", code, *map(str, words))


def wait_until_over(store):
    """Wait however long it takes: a hanging job is the test runner's affair, not a deadline's."""
    while (now := progress(store)) is not None and now.active:
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


@pytest.fixture
def other(tmp_path):
    """A process that is not a child of the page's, as a fit from a terminal is not."""
    started = tmp_path / "started"
    code = f"import pathlib, time; pathlib.Path({str(started)!r}).touch(); time.sleep(600)"
    process = subprocess.Popen(python(code))
    while not started.exists():
        time.sleep(0.01)
    yield process
    process.kill()
    process.wait()


def test_a_fit_that_was_killed_is_over_at_once(store, other):
    queue_job(store, other.pid)
    assert progress(store).active
    os.kill(other.pid, signal.SIGKILL)  # nobody waits for it: its number stays taken
    over = wait_until_over(store)
    assert over.state == "failed"
    assert "is gone" in over.message
    assert "said nothing" not in over.message  # told by its end, not by its silence
    assert "Start it again" in over.message


def test_a_process_that_inherited_the_number_is_not_the_fit(store, other):
    job = queue_job(store, other.pid)
    born_before = {**Process.of(other.pid).as_json(), "born": "1"}
    store.set_setting(background.PROCESS_SETTING, {"job": job, **born_before})
    assert progress(store).state == "failed"


def test_a_fit_on_another_machine_counts_as_alive_while_it_speaks(store):
    elsewhere = Process(os.getpid(), "another machine", "1")
    job = store.start_job(pid=elsewhere.pid)
    store.set_setting(background.PROCESS_SETTING, {"job": job, **elsewhere.as_json()})
    assert elsewhere.lives() is None
    assert progress(store).active


def test_this_process_lives_and_one_that_ended_does_not(other):
    mine, theirs = Process.of(os.getpid()), Process.of(other.pid)
    assert mine.lives() is theirs.lives() is True
    assert Process.from_json(mine.as_json()) == mine
    other.kill()
    other.wait()
    assert theirs.lives() is False
    assert Process.from_json({"pid": None}) is None


def test_the_page_stops_saying_fitting_when_the_fit_was_killed(store, other):
    fill(store)
    queue_job(store, other.pid)
    page = drawn_by(coach_page).run()
    assert not page.exception
    assert "Fit again" not in [b.label for b in page.sidebar.button]
    os.kill(other.pid, signal.SIGKILL)
    other.wait()
    page.run()
    assert "Fit again" in [b.label for b in page.sidebar.button]
    assert any("is gone" in e.value for e in page.sidebar.error)


def coach_page():
    from tracker.pages.shared.opening import open_page

    open_page()


def test_silence_is_long_enough_to_compile_a_model():
    assert timedelta(seconds=60) < SILENT
