"""Everything stored as one file, checked by digest, and back into any kind of database."""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tracker.errors import BadRequest
from tracker.holdings.held import refuse_while_fitting
from tracker.lesson.kept_photos import all_photos, put_back_photo
from tracker.store.copies import (
    COPIED,
    PlainRow,
    byte_columns,
    holds_anything,
    plain_rows,
    replace_all_rows,
)
from tracker.store.private_files import private_draft
from tracker.store.store import Store

FORMAT = 1
"""Raised when a backup can no longer be read by programs that read the number before."""
_MANIFEST, _SEAL = "manifest.json", "manifest.sha256"
_PHOTOS = "photos/"
_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ValueError, NotImplementedError)
"""What unpacking raises over bytes that are not what was written."""


@dataclass(frozen=True, slots=True)
class Copied:
    """What a backup holds: rows by table, and photographs."""

    path: Path
    rows: Mapping[str, int]
    photos: int


def back_up(store: Store, path: Path) -> Copied:
    """Write every row, photograph and fit into one file for its owner alone."""
    photos = all_photos(store)
    digests: dict[str, str] = {}
    counts: dict[str, int] = {}
    with private_draft(path) as draft, zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED) as archive:

        def put(name: str, content: bytes) -> None:
            digests[name] = hashlib.sha256(content).hexdigest()
            archive.writestr(name, content)

        with store.reading() as connection:  # one reading: rows that belong together
            for table in COPIED:
                lines: list[str] = []
                for row in plain_rows(connection, table):
                    for column in byte_columns(table):
                        name = f"bytes/{table}.{column}.{len(lines)}"
                        put(name, row[column])
                        row[column] = name
                    lines.append(json.dumps(row, allow_nan=False))
                put(f"rows/{table}.jsonl", "\n".join(lines).encode())
                counts[table] = len(lines)
        for photo in photos:
            put(_PHOTOS + photo.name, photo.read_bytes())
        head = {
            "format": FORMAT,
            "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
            "rows": counts,
            "photos": len(photos),
            "digests": digests,
        }
        manifest = json.dumps(head, indent=1).encode()
        archive.writestr(_MANIFEST, manifest)
        archive.writestr(_SEAL, hashlib.sha256(manifest).hexdigest())
    return Copied(path, counts, len(photos))


def restore(store: Store, path: Path, *, force: bool = False) -> Copied:
    """Put a backup in the place of what a database holds.

    Raises BadRequest for a damaged file, for one of another version, and for a database that holds
    something already unless ``force``; nothing is changed then.
    """
    files, head = _checked(path)
    rows = {table: _rows(files, table) for table in head["rows"]}
    with store.reading() as connection:
        if holds_anything(connection) and not force:
            raise BadRequest(
                f"{store.address} holds data already, so nothing was restored; choose a new file "
                "with --db, or let --force replace all that it holds"
            )
    refuse_while_fitting(store)
    before = all_photos(store)
    try:
        with store.writing() as connection:
            replace_all_rows(connection, rows)
    except BadRequest as error:
        raise BadRequest(f"{path} cannot be restored: {error}") from error
    photos = {n.removeprefix(_PHOTOS): c for n, c in files.items() if n.startswith(_PHOTOS)}
    for name, content in photos.items():
        put_back_photo(name, content)
    for photo in before:
        if photo.name not in photos:
            photo.unlink(missing_ok=True)
    store.compact()
    return Copied(path, head["rows"], len(photos))


def _rows(files: Mapping[str, bytes], table: str) -> list[PlainRow]:
    rows = [json.loads(line) for line in files[f"rows/{table}.jsonl"].decode().split("\n") if line]
    for row in rows:
        for column in byte_columns(table) if table in COPIED else ():
            row[column] = files[row[column]]
    return rows


def _checked(path: Path) -> tuple[Mapping[str, bytes], Mapping[str, Any]]:
    """Return what a backup holds, by name, once every digest has been found right."""
    try:
        with zipfile.ZipFile(path) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BadRequest(f"{path} cannot be read ({reason}); wanted a backup") from error
    except _DAMAGE as error:
        raise _damaged(path, str(error)) from error
    manifest, seal = files.pop(_MANIFEST, None), files.pop(_SEAL, b"")
    if manifest is None:
        raise BadRequest(f"{path} is no backup of this program: it has no {_MANIFEST}")
    if hashlib.sha256(manifest).hexdigest().encode() != seal:
        raise _damaged(path, f"{_MANIFEST} is not as it was written")
    head = json.loads(manifest)
    if head["format"] != FORMAT:
        raise BadRequest(
            f"{path} was made by another version (format {head['format']}, this program reads "
            f"{FORMAT}); update the program"
        )
    for name in head["digests"].keys() | files.keys():
        found = hashlib.sha256(files[name]).hexdigest() if name in files else None
        if found != head["digests"].get(name):
            raise _damaged(path, f"{name} is not as it was written")
    return files, head


def _damaged(path: Path, why: str) -> BadRequest:
    return BadRequest(f"{path} is damaged ({why}), so nothing was restored; use another backup")
