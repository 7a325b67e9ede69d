"""How a fit is started as a process of its own, and how its progress is read from the store."""

import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO

from tracker.fits.process import Process
from tracker.store.engine import DB_VARIABLE
from tracker.store.rows import FitJob, JobState
from tracker.store.store import Store

SILENT = timedelta(minutes=2)
"""How long a job that another machine may be running can say nothing before it counts as dead."""

PROCESS_SETTING = "fit_process"
"""Setting that says which process runs the latest job."""

ACTIVE: frozenset[JobState] = frozenset({"queued", "running"})

_FIT = "from tracker.cli.main import main; main()"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the latest fit has come; ``share`` is None while its length is unknown."""

    state: JobState
    phase: str
    share: float | None
    message: str
    job_id: int
    begun: datetime
    """When it was started, UTC."""

    @property
    def active(self) -> bool:
        """Return whether the fit is still under way."""
        return self.state in ACTIVE


@dataclass(frozen=True, slots=True)
class _Child:
    process: subprocess.Popen[bytes]
    errors: IO[bytes]


_children: dict[int, _Child] = {}
"""Fits started by this process, by process number: only a parent can tell a dead one at once."""


def start_fit(store: Store, url: str, command: tuple[str, ...] | None = None) -> int:
    """Start ``drive-progress fit`` on a database and return its process number.

    A fit already under way is left to finish and its number returned. The job is queued under the
    process number, which the command line takes over.
    """
    now = progress(store)
    if now is not None and now.active:
        running = store.job(now.job_id)
        return running.pid or 0 if running is not None else 0
    errors = tempfile.TemporaryFile()  # noqa: SIM115  (lives as long as the child)
    process = subprocess.Popen(  # noqa: S603  (our own interpreter and command line)
        command or (sys.executable, "-c", _FIT, "fit"),
        cwd=Path(__file__).resolve().parents[2],
        env={**os.environ, DB_VARIABLE: url},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=errors,
        start_new_session=True,
    )
    _children[process.pid] = _Child(process, errors)
    queue_job(store, process.pid, phase="starting")
    return process.pid


def queue_job(store: Store, pid: int, *, phase: str = "") -> int:
    """Queue a fit under a running process of this machine and return its job's number."""
    job = store.start_job(pid=pid, phase=phase)
    store.set_setting(PROCESS_SETTING, {"job": job, **Process.of(pid).as_json()})
    return job


def progress(store: Store) -> Progress | None:
    """Return how far the latest fit has come, None when none was ever started.

    A fit whose process has ended without saying so is marked as failed, with what to do.
    """
    job = store.job()
    if job is None:
        return None
    if job.state in ACTIVE:
        why = _why_dead(job, _process_of(store, job))
        if why is not None:
            latest = store.job(job.id)
            if latest is not None and latest.state in ACTIVE:
                store.update_job(job.id, state="failed", message=why)
            job = store.job(job.id) or job
    share = min(1.0, job.done / job.total) if job.total > 0 else None
    return Progress(job.state, job.phase, share, job.message, job.id, job.started_at)


def _process_of(store: Store, job: FitJob) -> Process | None:
    """Return which process runs a job; None for a job that did not say."""
    kept = store.setting(PROCESS_SETTING)
    ours = isinstance(kept, dict) and kept.get("job") == job.id and kept.get("pid") == job.pid
    return Process.from_json(kept) if ours else None


def _why_dead(job: FitJob, process: Process | None) -> str | None:
    """Return why a job counts as dead and what to do, or None while it lives."""
    child = _children.get(job.pid) if job.pid is not None else None
    code = None if child is None else child.process.poll()
    lives = None if process is None else process.lives()
    if lives or (child is not None and code is None):
        return None
    if child is not None:
        return _ended(f"ended with code {code}", _last_line(child))
    if lives is False:
        return _ended("is gone", "")
    silence = datetime.now(UTC) - job.updated_at
    if silence < SILENT:
        return None
    minutes = int(silence / timedelta(minutes=1))
    return _ended(f"has said nothing for {minutes} minutes", "")


def _ended(what: str, reason: str) -> str:
    why = f" It said: {reason}" if reason else ""
    return (
        f"The fit's process {what}, so no new fit was stored; the last one stays.{why} "
        "Start it again; if it ends again, run drive-progress fit in a terminal to see why."
    )


def _last_line(child: _Child) -> str:
    child.errors.seek(0)
    lines = child.errors.read().decode(errors="replace").strip().splitlines()
    return lines[-1].strip() if lines else ""
