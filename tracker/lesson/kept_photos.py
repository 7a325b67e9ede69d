"""Where photographs of a marked face are kept when somebody asks for it, and under which name.

The name of a file says the day and the shot, never the player: in the player's place stands a mark
that only the database can turn into a name, since it holds the key.
"""

import hashlib
import hmac
import re
import secrets
from pathlib import Path

import platformdirs

from tracker.errors import BadRequest
from tracker.records import Shot
from tracker.store.private_files import FILE_MODE, private_folder, tighten_file
from tracker.store.store import Store

KEY_SETTING = "photo_key"
"""Setting with the key of a database's photographs, 16 bytes in hexadecimal."""

_DATABASE_LENGTH, _PLAYER_LENGTH = 6, 12
_REST = r"_\d{4}-\d{2}-\d{2}_shot\d+(-\d+)?\.jpg"
"""What follows the mark: day, shot and copy."""


def photo_folder() -> Path:
    """Return the folder of kept photographs, in the user's data folder."""
    return platformdirs.user_data_path("drive-progress", appauthor=False) / "photos"


def keep_photo(store: Store, content: bytes, shot: Shot) -> Path:
    """Write a photograph (JPEG) under its shot's name and return where; none is written over."""
    folder = photo_folder()
    name = f"{_mark(_key(store), shot.player)}_{shot.session:%Y-%m-%d}_shot{shot.number}"
    try:
        private_folder(folder)
        return _write_new(folder, name, content)
    except OSError as error:
        msg = f"the photograph cannot be kept in {folder} ({error.strerror}); the strike is stored"
        raise BadRequest(msg) from error


def photos_of(store: Store, player: str) -> tuple[Path, ...]:
    """Return a player's kept photographs, by day and shot."""
    _adopt(store)
    return _found(_mark(_key(store), player))


def all_photos(store: Store) -> tuple[Path, ...]:
    """Return every photograph kept for a database."""
    _adopt(store)
    return _found(_database_mark(_key(store)))


def rename_photos(store: Store, old: str, new: str) -> int:
    """Give one player's photographs to another name; return how many there were."""
    found = photos_of(store, old)
    for path in found:
        _move(path, path.name.replace(_mark(_key(store), old), _mark(_key(store), new), 1))
    return len(found)


def put_back_photo(name: str, content: bytes) -> None:
    """Write a photograph of a backup under its own name, in place of one of that name.

    Raises BadRequest for a name that no kept photograph has.
    """
    if not re.fullmatch(rf"[0-9a-f]{{{_DATABASE_LENGTH + _PLAYER_LENGTH}}}{_REST}", name):
        raise BadRequest(f"photograph {name!r}: no name that this program gives")
    folder = photo_folder()
    private_folder(folder)
    target = folder / name
    target.touch(FILE_MODE)
    tighten_file(target)
    target.write_bytes(content)


def _key(store: Store) -> bytes:
    kept = store.setting(KEY_SETTING)
    if kept is None:
        kept = secrets.token_hex(16)
        store.set_setting(KEY_SETTING, kept)
    return bytes.fromhex(str(kept))


def _database_mark(key: bytes) -> str:
    return hashlib.sha256(key).hexdigest()[:_DATABASE_LENGTH]


def _mark(key: bytes, player: str) -> str:
    own = hmac.new(key, player.encode(), hashlib.sha256).hexdigest()[:_PLAYER_LENGTH]
    return _database_mark(key) + own


def _found(start: str) -> tuple[Path, ...]:
    folder = photo_folder()
    if not folder.is_dir():
        return ()
    private_folder(folder)
    pattern = re.compile(re.escape(start) + r"[0-9a-f]*" + _REST)
    found = tuple(sorted(p for p in folder.iterdir() if pattern.fullmatch(p.name)))
    for path in found:
        tighten_file(path)
    return found


def _adopt(store: Store) -> None:
    """Give photographs that an earlier version named after their player a name without it."""
    folder = photo_folder()
    if not folder.is_dir():
        return
    files = [path for path in folder.iterdir() if path.suffix == ".jpg"]
    for player in store.players():
        who = re.sub(r"[^\w-]+", "_", player.name)
        named = re.compile(re.escape(who) + _REST)
        for path in files:
            if path.exists() and named.fullmatch(path.name):
                _move(path, _mark(_key(store), player.name) + path.name.removeprefix(who))


def _move(path: Path, name: str) -> None:
    """Give a photograph another name, or that name's next copy where one is there."""
    stem = re.sub(r"(_shot\d+)(-\d+)?\.jpg$", r"\1", name)
    target = _write_new(path.parent, stem, path.read_bytes())
    if target != path:
        path.unlink()


def _write_new(folder: Path, name: str, content: bytes) -> Path:
    for copy in range(1, 1000):
        target = folder / (f"{name}.jpg" if copy == 1 else f"{name}-{copy}.jpg")
        try:
            target.touch(FILE_MODE, exist_ok=False)
        except FileExistsError:
            continue
        target.write_bytes(content)
        return target
    raise BadRequest(f"{folder} holds 999 photographs of {name}; move some elsewhere")
