"""The records that only the store gives out: loads, stored fits and the progress of a fit."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from tracker.records import Change

OnConflict = Literal["refuse", "replace", "append"]
JobState = Literal["queued", "running", "done", "failed"]


@dataclass(frozen=True, slots=True)
class Added:
    """How many entries of one load were new, stored before, or took the place of stored ones."""

    stored: int
    already_stored: int
    replaced: int


@dataclass(frozen=True, slots=True)
class ImportBatch:
    """One load of shots; ``loaded_at`` is UTC."""

    id: int
    source: str
    loaded_at: datetime
    stored: int
    already_stored: int
    replaced: int


@dataclass(frozen=True, slots=True)
class LoggedChange:
    """A stored change with the number that ``Store.delete_change`` takes."""

    id: int
    change: Change


@dataclass(frozen=True, slots=True)
class StoredFitRow:
    """A fit as the database keeps it."""

    data_digest: str
    seed: int
    versions: Mapping[str, Any]
    report: Mapping[str, Any]
    meta: Mapping[str, Any]
    draws: bytes
    """An .npz file."""
    seconds: float
    players: int
    sessions: int
    shots: int
    id: int | None = None
    """Given by the store when the fit is saved ..."""
    created_at: datetime | None = None
    """... and so is this, UTC."""


@dataclass(frozen=True, slots=True)
class FitSummary:
    """A stored fit without its draws, and the club it is of; ``created_at`` is UTC."""

    id: int
    created_at: datetime
    data_digest: str
    seed: int
    versions: Mapping[str, str]
    report: Mapping[str, Any]
    seconds: float
    players: int
    sessions: int
    shots: int
    size: int
    """Bytes that its draws take."""
    club: str


@dataclass(frozen=True, slots=True)
class FitJob:
    """How far a running fit has come; times are UTC, ``pid`` is the process that runs it."""

    id: int
    state: JobState
    done: int
    total: int
    phase: str
    message: str
    started_at: datetime
    updated_at: datetime
    pid: int | None = None
