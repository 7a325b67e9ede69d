"""Everything held of a player as one archive of tables and pictures."""

import io
import json
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tracker.files.csv_table import safe_csv
from tracker.files.written import changes_csv, shots_csv
from tracker.holdings.held import Held, held_of
from tracker.store.people import loads_of, rows_of
from tracker.store.private_files import write_private
from tracker.store.store import Store

_OWN_FILES = {"shot": "shots.csv", "logged_change": "changes.csv"}
"""Tables that are written as files that can be loaded again."""
_ABOUT = """Everything that Drive Progress holds of one player.

shots.csv    every shot; load it again with: drive-progress load shots.csv
changes.csv  drills, equipment and set-up; again with: drive-progress load changes.csv --changes
loads.csv    when the shots came, and from which file
fits.csv     the stored estimates that know the player
photos       kept photographs of the marked face
Other tables are written as they are stored.

A text that a spreadsheet would take for a formula has a single quote in front; loading takes it
off again.
"""


@dataclass(frozen=True, slots=True)
class Exported:
    """What an archive holds and where it is."""

    path: Path
    held: Held


def export_player(store: Store, player: str, path: Path) -> Exported:
    """Write everything held of a player to an archive; raise UnknownPlayer where nothing is."""
    held = held_of(store, player)
    write_private(path, _archive(_files(store, held)))
    return Exported(path, held)


def _files(store: Store, held: Held) -> Mapping[str, bytes]:
    """Return the archive's files by name; no name says whose they are."""
    with store.reading() as connection:
        tables, loads = rows_of(connection, held.player), loads_of(connection, held.player)
    files = {"about.txt": _ABOUT.encode()}
    if "shot" in tables:
        files["shots.csv"] = shots_csv(store.shots_frame(held.player))
    if "logged_change" in tables:
        files["changes.csv"] = changes_csv(store.changes(held.player))
    files |= {f"{n}.csv": _table_csv(rows) for n, rows in tables.items() if n not in _OWN_FILES}
    if loads:
        files["loads.csv"] = _table_csv(loads)
    fits = [fit for fit in store.fits() if fit.id in held.fits]
    if fits:
        names = ("id", "created_at", "club", "seed", "players", "sessions", "shots")
        files["fits.csv"] = safe_csv(names, [[str(getattr(f, n)) for n in names] for f in fits])
    return files | {f"photos/{photo.name}": photo.read_bytes() for photo in held.photos}


def _table_csv(rows: Sequence[Mapping[str, Any]]) -> bytes:
    return safe_csv(list(rows[0]), (_cells(row.values()) for row in rows))


def _cells(row: Iterable[Any]) -> list[str]:
    return [
        ""
        if value is None
        else json.dumps(value)
        if isinstance(value, dict | list)
        else f"{len(value)} bytes"
        if isinstance(value, bytes)
        else str(value)
        for value in row
    ]


def _archive(files: Mapping[str, bytes]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return content.getvalue()
