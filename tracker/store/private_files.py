"""How files that hold people's data are made: readable by their owner alone, whatever the umask."""

import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tracker.errors import BadRequest

FOLDER_MODE = 0o700
FILE_MODE = 0o600


def private_folder(path: Path) -> None:
    """Make a folder, and those above it, that its owner alone may enter; tighten one that is."""
    path.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
    _tighten(path, FOLDER_MODE)


def tighten_file(path: Path) -> None:
    """Take the rights of others off a file; one that is not there, or not ours, is left alone."""
    if path.is_file():
        _tighten(path, FILE_MODE)


def make_private(path: Path) -> None:
    """Make an empty file for its owner alone where there is none, else tighten the one there."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, FILE_MODE))
    except FileExistsError:
        tighten_file(path)


@contextmanager
def private_draft(target: Path) -> Iterator[Path]:
    """Give a draft beside ``target`` that takes its place when the block ends well.

    Raises BadRequest where nothing can be written there.
    """
    draft = None
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.")
        os.close(handle)  # mkstemp makes it for its owner alone
        draft = Path(name)
        yield draft
        os.replace(draft, target)
    except OSError as error:
        msg = f"{target} cannot be written ({error.strerror}); choose another place"
        raise BadRequest(msg) from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)


def write_private(target: Path, content: bytes) -> None:
    """Write a file whole or not at all, for its owner alone; raise BadRequest where it cannot."""
    with private_draft(target) as draft:
        draft.write_bytes(content)


def _tighten(path: Path, mode: int) -> None:
    try:
        found = stat.S_IMODE(path.stat().st_mode)
        if found & ~mode:
            path.chmod(found & mode)
    except OSError:  # another owner's: theirs to decide
        return
