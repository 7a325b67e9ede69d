"""Where photographs of a marked face are kept when somebody asks for it, and under which name."""

import re
from pathlib import Path

import platformdirs

from tracker.errors import BadRequest
from tracker.records import Shot


def photo_folder() -> Path:
    """Return the folder of kept photographs, in the user's data folder."""
    return platformdirs.user_data_path("drive-progress", appauthor=False) / "photos"


def keep_photo(content: bytes, shot: Shot) -> Path:
    """Write a photograph (JPEG) under its shot's name and return where; none is written over."""
    folder = photo_folder()
    who = re.sub(r"[^\w-]+", "_", shot.player)
    name = f"{who}_{shot.session:%Y-%m-%d}_shot{shot.number}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for copy in range(1, 1000):
            target = folder / (f"{name}.jpg" if copy == 1 else f"{name}-{copy}.jpg")
            try:
                with target.open("xb") as file:
                    file.write(content)
            except FileExistsError:
                continue
            return target
    except OSError as error:
        msg = f"the photograph cannot be kept in {folder} ({error.strerror}); the strike is stored"
        raise BadRequest(msg) from error
    raise BadRequest(f"{folder} holds 999 photographs of {name}; move some elsewhere")
