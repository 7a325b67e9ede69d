"""One file into the store in one go, as the command line and the page both do it."""

import hashlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import pandas as pd

from tracker.errors import BadRequest, FileRefused, RowProblem
from tracker.files.change_log import read_changes
from tracker.files.csv_table import file_bytes
from tracker.files.shot_log import read_shots
from tracker.readings.shot_columns import closest
from tracker.readings.stuck_device import StuckReadings, could_be_stuck, stuck_readings
from tracker.store.look_alike import LookAlike, look_alikes
from tracker.store.rows import OnConflict
from tracker.store.store import Store

UPLOADED = "uploaded file"


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What became of a file.

    ``rejected_csv`` holds the rows left out, each with why; ``rejected_path`` is where they were
    written, None for a file that came as bytes or had no bad row.
    """

    rows: int
    stored: int
    already_stored: int
    replaced: int
    rejected: tuple[RowProblem, ...] = ()
    rejected_path: Path | None = None
    rejected_csv: bytes | None = field(default=None, repr=False)
    stuck: tuple[StuckReadings, ...] = ()
    """What a stuck device gave in the file's sessions, judged by all that is stored."""
    look_alike: tuple[LookAlike, ...] = ()
    """Players of the file whose names look like another stored one's."""


def load_shots(
    store: Store,
    source: str | Path | bytes,
    *,
    skip_bad: bool = False,
    on_conflict: OnConflict = "refuse",
    today: date | None = None,
    name: str | None = None,
) -> LoadReport:
    """Read a shot log and store it in one transaction.

    Raises FileRefused with every problem, ConflictingShots for shots stored with other readings:
    nothing is stored then. With ``skip_bad`` the good rows are stored and the bad ones written to
    ``<file>.rejected.csv``. ``name`` is what a file given as bytes is called. Raises
    DamagedDatabase before a damaged file is written into.
    """
    store.refuse_damaged()
    data = file_bytes(source)
    log = read_shots(data, today=today or date.today(), skip_bad=skip_bad)
    path = None if isinstance(source, bytes) else Path(source)
    with _rejected_file(path, log.rejected) as rejected_path:
        added = store.add_shots(
            log.frame,
            on_conflict=on_conflict,
            source=name or (path.name if path else UPLOADED),
            source_digest=hashlib.sha256(data).hexdigest(),
            lines=log.lines,
        )
    return LoadReport(
        log.row_count,
        added.stored,
        added.already_stored,
        added.replaced,
        log.problems,
        rejected_path,
        log.rejected,
        _stuck(store, log.frame),
        look_alikes(log.frame["player"], (player.name for player in store.players())),
    )


def _stuck(store: Store, frame: pd.DataFrame) -> tuple[StuckReadings, ...]:
    """Return what a stuck device gave in the sessions of a file that has been stored."""
    if not could_be_stuck(frame):
        return ()
    in_file = set(zip(frame["player"], frame["session"], strict=True))
    found = (s for c in frame["club"].unique() for s in stuck_readings(store.shots_frame(club=c)))
    return tuple(s for s in found if (s.player, s.session) in in_file)


def load_changes(
    store: Store,
    source: str | Path | bytes,
    *,
    replace: bool = False,
    today: date | None = None,
) -> LoadReport:
    """Read a file of changes and store it in one transaction.

    Raises FileRefused with every problem, a player who is not stored among them; DamagedDatabase
    before a damaged file is written into.
    """
    store.refuse_damaged()
    log = read_changes(source, today=today or date.today())
    known = [player.name for player in store.players()]
    problems = []
    for change, line in zip(log.changes, log.lines, strict=True):
        if change.player not in known:
            near = closest(change.player, known)
            hint = f"the closest is {near}" if near else "load this player's shots first"
            wanted = f"a player who is stored ({hint})"
            problems.append(RowProblem(line, "player", change.player, wanted))
    if problems:
        summary = f"{len(problems)} of {log.row_count} rows cannot be used, so nothing was stored:"
        raise FileRefused(summary, problems, log.row_count)
    added = store.add_changes(log.changes, replace=replace, lines=log.lines)
    return LoadReport(log.row_count, added.stored, added.already_stored, added.replaced)


@contextmanager
def _rejected_file(path: Path | None, content: bytes | None) -> Iterator[Path | None]:
    """Write rejected rows beside their file, under their name only once the block ends well.

    Written first, so that good rows are not stored when the bad ones cannot be kept.
    """
    if path is None or content is None:
        yield None
        return
    try:
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
    except OSError as error:
        msg = (
            f"the bad rows of {path} cannot be written beside it ({error.strerror}), so nothing "
            f"was stored; allow writing to {path.parent}, or copy the file elsewhere"
        )
        raise BadRequest(msg) from error
    try:
        target = _free_name(path, content)
        yield target
        os.replace(draft, target)
    finally:
        Path(draft).unlink(missing_ok=True)


def _free_name(path: Path, content: bytes) -> Path:
    """Return a name that hides no earlier file, whose rows may have been put right by now."""
    number = 1
    while True:
        mark = "" if number == 1 else f"-{number}"
        name = path.with_name(f"{path.name}.rejected{mark}.csv")
        if not name.exists() or name.read_bytes() == content:
            return name
        number += 1
