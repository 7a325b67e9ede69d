"""Where Numba keeps compiled code: a folder named by what the code was compiled from.

Numba looks only at a function's own file, so that after an edit or an upgrade of a file that it
calls into, or takes a constant from, the old machine code would still run. A folder by the digest
of all our sources cannot be stale.
"""

import atexit
import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from platformdirs import user_cache_dir

VARIABLE = "NUMBA_CACHE_DIR"
OURS = "DRIVE_PROGRESS_NUMBA_CACHE_DIR"
"""The same again: tells processes that we start, whose code may be newer, that nobody set it."""
KEPT = 8
"""Folders of other digests that stay: several versions may be in use side by side."""


def use_digest_folder(sources: Path, home: Path | None = None) -> Path | None:
    """Point Numba, not yet loaded, at the folder of these sources; return it.

    Someone who has set ``NUMBA_CACHE_DIR`` keeps it, and None is returned. ``home`` holds the
    folders, by default in the user's cache. Where it cannot be written, the folder is a passing one
    that goes when the process ends; processes that it starts share it.
    """
    inherited = os.environ.get(VARIABLE)
    if inherited and inherited != os.environ.get(OURS):
        return None
    home = home or Path(user_cache_dir("drive-progress", appauthor=False)) / "numba"
    digest = sources_digest(sources)
    if _writable(home / digest):
        _remove_oldest(home, home / digest)
    elif inherited and _writable(Path(inherited).parent / digest):
        home = Path(inherited).parent
    else:
        home = Path(tempfile.mkdtemp(prefix="drive-progress-numba-"))
        atexit.register(shutil.rmtree, home, ignore_errors=True)
        (home / digest).mkdir()
    os.environ[VARIABLE] = os.environ[OURS] = str(home / digest)
    return home / digest


def _writable(folder: Path) -> bool:
    """Make a folder and mark it as used now; return whether files can be written in it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=folder).close()
        os.utime(folder)
    except OSError:
        return False
    return True


def sources_digest(sources: Path) -> str:
    """Return a digest of every Python file under a folder, names and contents."""
    digest = hashlib.blake2b(digest_size=12)
    for path in sorted(sources.rglob("*.py")):
        content = path.read_bytes()
        digest.update(f"{path.relative_to(sources).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def _remove_oldest(home: Path, current: Path) -> None:
    """Remove all but the current folder and those last used; ours alone, by their names."""
    used = []
    for folder in home.iterdir():
        if folder != current and len(folder.name) == len(current.name) and folder.is_dir():
            try:
                used.append((folder.stat().st_mtime, folder))
            except OSError:  # another process has removed it
                continue
    for _, folder in sorted(used, reverse=True)[KEPT:]:
        shutil.rmtree(folder, ignore_errors=True)
