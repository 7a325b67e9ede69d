"""How fits and the progress of a running fit are kept."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Column, Connection, Row, delete, func, select, update

from tracker.errors import NoFit
from tracker.records import DEFAULT_CLUB
from tracker.store.rows import FitJob, FitSummary, StoredFitRow
from tracker.store.tables import FIT, FIT_JOB, METADATA, SETTING, new_id, utc_now, with_utc

HIGHEST_SETTING = "highest_fit"
"""Setting with the highest number of a fit that was removed although it was the latest."""
_NOT_IN_SUMMARY = {"draws"}

FitMark = tuple[int, datetime, str]
"""What tells a stored fit from every other: its number, when it was kept, of which data."""


def save_fit(connection: Connection, fit: StoredFitRow) -> int:
    """Keep a fit beside those of before and return its number."""
    return new_id(
        connection,
        FIT,
        **_number(connection),
        created_at=utc_now(),
        data_digest=fit.data_digest,
        seed=fit.seed,
        versions=dict(fit.versions),
        report=dict(fit.report),
        meta=dict(fit.meta),
        draws=fit.draws,
        seconds=fit.seconds,
        players=fit.players,
        sessions=fit.sessions,
        shots=fit.shots,
    )


def prune_fits(connection: Connection, keep: int) -> tuple[int, ...]:
    """Remove all but the newest ``keep`` fits of each club; return the numbers of those removed."""
    by_club: dict[str, list[int]] = {}
    for row in connection.execute(select(FIT.c.id, FIT.c.meta).order_by(FIT.c.id.desc())):
        by_club.setdefault(_club(row.meta), []).append(row.id)
    gone = sorted(number for numbers in by_club.values() for number in numbers[keep:])
    for number in gone:
        connection.execute(delete(FIT).where(FIT.c.id == number))
    return tuple(gone)


def load_fit(connection: Connection, fit_id: int | None) -> StoredFitRow:
    """Return one fit, or the latest; raise NoFit when it is not stored."""
    query = select(FIT).order_by(FIT.c.id.desc()).limit(1)
    if fit_id is not None:
        query = query.where(FIT.c.id == fit_id)
    row = connection.execute(query).one_or_none()
    if row is None:
        which = "no fit is stored yet" if fit_id is None else f"fit {fit_id} is not stored"
        msg = f"{which}: load shots, then run drive-progress fit"
        raise NoFit(msg)
    return StoredFitRow(**with_utc(row, "created_at"))


def fit_summaries(
    connection: Connection, known: dict[FitMark, FitSummary]
) -> tuple[FitSummary, ...]:
    """Return the stored fits without what is large, the latest first.

    ``known`` keeps what was read before: a stored fit never changes, and what stands behind its
    draws is reached only through all of them.
    """
    marks = select(FIT.c.id, FIT.c.created_at, FIT.c.data_digest).order_by(FIT.c.id.desc())
    stored: list[FitMark] = [(row[0], row[1], row[2]) for row in connection.execute(marks)]
    for mark in stored:
        if mark not in known:
            known[mark] = _summary(connection, mark[0])
    return tuple(known[mark] for mark in stored)


def _summary(connection: Connection, number: int) -> FitSummary:
    columns: list[Any] = [c for c in FIT.columns if c.name not in _NOT_IN_SUMMARY]
    columns.append(func.length(FIT.c.draws).label("size"))
    row = connection.execute(select(*columns).where(FIT.c.id == number)).one()
    values = dict(with_utc(row, "created_at"))
    return FitSummary(club=_club(values.pop("meta")), **values)


def drop_fits(connection: Connection, numbers: Iterable[int]) -> None:
    """Remove fits; their numbers are never given again, so that no page takes one for another."""
    gone = list(numbers)
    if not gone:
        return
    highest = int(connection.scalar(select(func.max(FIT.c.id))) or 0)
    connection.execute(delete(SETTING).where(SETTING.c.key == HIGHEST_SETTING))
    connection.execute(SETTING.insert().values(key=HIGHEST_SETTING, value=highest))
    connection.execute(delete(FIT).where(FIT.c.id.in_(gone)))


def rewrite_fits(
    connection: Connection, rewritten: Mapping[int, tuple[bytes, str]]
) -> Mapping[int, int]:
    """Give fits other draws and another data digest; return their new numbers by the old ones.

    They and all later ones are numbered anew, in their order: pages keep a fit by its number.
    """
    changed = {}
    later = select(FIT).where(FIT.c.id >= min(rewritten)).order_by(FIT.c.id)
    for row in connection.execute(later).all():
        values = dict(row._mapping)
        old = values.pop("id")
        if old in rewritten:
            values["draws"], values["data_digest"] = rewritten[old]
        changed[old] = new_id(connection, FIT, **_number(connection), **values)
    for column in _fit_numbers():
        for old, new in changed.items():
            connection.execute(update(column.table).where(column == old).values({column.name: new}))
    connection.execute(delete(FIT).where(FIT.c.id.in_(list(changed))))
    return changed


def _fit_numbers() -> list[Column[Any]]:
    """Return the columns of other tables that name a fit by its number."""
    return [
        column
        for table in METADATA.sorted_tables
        for column in table.columns
        if column.name == "fit_id"
        or any(key.column.table.name == FIT.name for key in column.foreign_keys)
    ]


def _number(connection: Connection) -> dict[str, int]:
    """Return the number of a new fit where the database would give a removed one's again."""
    if connection.dialect.name != "sqlite":
        return {}  # a sequence never does
    used = connection.scalar(select(SETTING.c.value).where(SETTING.c.key == HIGHEST_SETTING))
    highest = int(connection.scalar(select(func.max(FIT.c.id))) or 0)
    return {"id": int(used) + 1} if used is not None and int(used) > highest else {}


def _club(meta: Mapping[str, Any]) -> str:
    """Return the club that a fit is of; fits of earlier versions are of the driver."""
    return str(meta.get("club", DEFAULT_CLUB))


def start_job(connection: Connection, *, total: int, pid: int | None, phase: str) -> int:
    """Queue a fit and return its job's number."""
    now = utc_now()
    return new_id(
        connection,
        FIT_JOB,
        state="queued",
        done=0,
        total=total,
        phase=phase,
        message="",
        started_at=now,
        updated_at=now,
        pid=pid,
    )


def update_job(connection: Connection, job_id: int, values: dict[str, Any]) -> bool:
    """Set columns of a job and note the time; return whether the job is stored."""
    given = {name: value for name, value in values.items() if value is not None}
    statement = update(FIT_JOB).where(FIT_JOB.c.id == job_id)
    changed = connection.execute(statement.values(**given, updated_at=utc_now()))
    return changed.rowcount > 0


def find_job(connection: Connection, job_id: int | None) -> FitJob | None:
    """Return one job, or the latest; None when it is not stored."""
    query = select(FIT_JOB).order_by(FIT_JOB.c.id.desc()).limit(1)
    if job_id is not None:
        query = query.where(FIT_JOB.c.id == job_id)
    row: Row[Any] | None = connection.execute(query).one_or_none()
    return None if row is None else FitJob(**with_utc(row, "started_at", "updated_at"))
