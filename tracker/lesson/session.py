"""A lesson as it happens: every shot in the store when it is entered, and taken back by its key."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

import pandas as pd

from tracker.errors import BadRequest, FileRefused, UnknownPlayer
from tracker.readings.shot_frame import frame_of, shots_of, tidy
from tracker.records import DEFAULT_CLUB, UNSTATED_METHOD, Handed, Shot
from tracker.store.loading import LoadReport, load_shots
from tracker.store.store import Store

SOURCE = "live lesson"
LARGEST_FILE_BYTES = 50_000_000


@dataclass(frozen=True, slots=True)
class Lesson:
    """Whose shots are entered, when, with which club, and how they are read."""

    player: str
    session: datetime
    club: str = DEFAULT_CLUB
    handed: Handed = "right"
    strike_method: str = UNSTATED_METHOD
    delivery_method: str = UNSTATED_METHOD


def lesson_today(
    store: Store,
    player: str,
    *,
    today: date,
    club: str = DEFAULT_CLUB,
    handed: Handed = "right",
    strike_method: str = "",
    delivery_method: str = "",
) -> Lesson:
    """Return the player's lesson of today, going on where an earlier one of the day stopped.

    The hand of a stored player is the stored one. Raises BadRequest for an empty name.
    """
    name = tidy(player)
    if not name:
        raise BadRequest("player: found an empty name, wanted a player's name")
    stored = {p.name: p.handed for p in store.players()}
    start = datetime.combine(today, time.min)
    if name in stored:
        starts = store.shots_frame(name)["session"]
        same_day = [s.to_pydatetime() for s in starts if s.date() == today]
        start = max(same_day, default=start)
    return Lesson(
        name,
        start,
        _word(club, DEFAULT_CLUB),
        stored.get(name, handed),
        _word(strike_method, UNSTATED_METHOD),
        _word(delivery_method, UNSTATED_METHOD),
    )


def _word(text: str, empty: str) -> str:
    return tidy(text).lower() or empty


def commit(
    store: Store, lesson: Lesson, readings: Mapping[str, float], *, missed_face: bool = False
) -> Shot:
    """Store one shot, numbered after the last one of the lesson, and return it.

    The number is given inside the store's transaction, so two devices never share one. Raises
    BadRequest for a reading outside its plausible range, with nothing stored.
    """
    shot = Shot(
        lesson.player,
        lesson.session,
        1,
        dict(readings),
        lesson.club,
        lesson.handed,
        lesson.strike_method,
        lesson.delivery_method,
        missed_face,
    )
    store.add_shots([shot], on_conflict="append", source=SOURCE)
    # another device may have stored a shot since
    alike = (s for s in reversed(shots_today(store, lesson)) if s.readings == shot.readings)
    return next(alike, shot)


def take_back(store: Store, shot: Shot) -> None:
    """Remove exactly this shot of a lesson.

    Raises BadRequest, with nothing removed, where another device has taken it back before, or has
    stored another shot under its number since.
    """
    if not store.remove_shot(shot):
        raise BadRequest(f"shot {shot.number} was taken back before, on another device perhaps")


def player_of_today(store: Store, today: date) -> str | None:
    """Return the player whose lesson goes on today; None without one, or with more than one."""
    names = store.players_on(today)
    return names[0] if len(names) == 1 else None


def shots_today(store: Store, lesson: Lesson) -> tuple[Shot, ...]:
    """Return the lesson's shots as stored, first to last."""
    return lesson_shots(stored_shots(store, lesson), lesson)


def stored_shots(store: Store, lesson: Lesson) -> pd.DataFrame:
    """Return the player's table with the lesson's club; empty for a player not stored yet."""
    try:
        return store.shots_frame(lesson.player, lesson.club)
    except UnknownPlayer:
        return frame_of(())


def lesson_shots(stored: pd.DataFrame, lesson: Lesson) -> tuple[Shot, ...]:
    """Return the lesson's shots out of the player's table with the lesson's club."""
    return shots_of(stored[stored["session"] == lesson.session])


def take_growing(store: Store, content: bytes, *, today: date, finished: bool) -> LoadReport:
    """Store the rows of a file that are not stored yet; the file may still be growing.

    Rows stored before are passed over, bad rows left out and reported. Of an unfinished file a
    last line without its end is left for the next reading. Raises FileRefused for a header that
    cannot be used or for rows stored with other readings.
    """
    if not finished and not content.endswith((b"\n", b"\r")):
        content = content[: max(content.rfind(b"\n"), content.rfind(b"\r")) + 1]
    if not content.strip():
        return LoadReport(0, 0, 0, 0)
    return load_shots(store, content, skip_bad=True, today=today, name=SOURCE)


@dataclass(frozen=True, slots=True)
class FileState:
    """What a followed file held when it was last read."""

    digest: str
    rows: int
    stored: int
    rejected: int


def follow(
    store: Store, path: str, last: FileState | None, *, today: date
) -> tuple[FileState, LoadReport | None]:
    """Read a file again if it has changed since ``last``; the report is None when it has not.

    Raises BadRequest for a path that cannot be read, FileRefused as ``take_growing``.
    """
    where = Path(path.strip().strip('"')).expanduser()
    try:
        size = where.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise BadRequest(f"{where}: found {size / 1e6:.0f} MB, wanted at most 50 MB")
        content = where.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadRequest(f"{where} cannot be read ({reason}); wanted a CSV file") from error
    digest = hashlib.sha256(content).hexdigest()
    if last is not None and digest == last.digest:
        return last, None
    try:
        report = take_growing(store, content, today=today, finished=False)
    except FileRefused as error:
        raise BadRequest(f"{where}: {error}") from error
    stored = report.stored + (last.stored if last is not None else 0)
    return FileState(digest, report.rows, stored, len(report.rejected)), report
