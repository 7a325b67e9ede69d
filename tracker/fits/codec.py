"""How a fit is written as bytes and read back: a compressed NumPy archive with a head in JSON."""

import io
import json
import tokenize
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tracker.errors import UnreadableFit
from tracker.fit_info import FitInfo
from tracker.posterior import ARRAYS, Fit
from tracker.records import Change, Player

FORMAT = 1
"""Raised when what is written can no longer be read by programs that read the number before.

An archive without a number is of the first format."""
_PHYSICS, _BALL = "physics.", "ball."
"""Prefixes of the optional arrays in the archive."""
_BALL_NUMBERS = ("observed", "predicted", "uncalibrated", "standard_error")
_KIND = {"session_start": "i", "counts": "i", "jump_at": "i", "affects": "b"}
"""Kinds of the arrays that do not hold plain numbers with a fraction, as they are written."""
_DAMAGE = (
    *(zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError),
    *(ValueError, TypeError, KeyError, SyntaxError, tokenize.TokenError),
)
"""What NumPy, zip and JSON raise over bytes that are not what was written.

NumPy reads an array's head as Python: a head that is none of it ends in the last two.
"""


def encode(fit: Fit) -> bytes:
    """Return the fit as bytes; see ``decode``."""
    head = {
        "format": FORMAT,
        "players": [asdict(p) for p in fit.players],
        "traits": fit.traits,
        "methods": fit.methods,
        "changes": [{**asdict(c), "start": c.start.isoformat()} for c in fit.changes],
        "drills": fit.drills,
    }
    arrays = {name: getattr(fit, name) for name in ARRAYS}
    arrays["session_start"] = fit.session_start.astype("datetime64[s]").astype(np.int64)
    arrays |= {_PHYSICS + name: values for name, values in fit.physics.items()}
    arrays |= {_BALL + name: values for name, values in fit.ball_check.items()}
    buffer = io.BytesIO()
    np.savez_compressed(buffer, allow_pickle=False, head=np.array(json.dumps(head)), **arrays)
    return buffer.getvalue()


def decode(content: bytes, info: FitInfo) -> Fit:
    """Return the fit that ``encode`` wrote.

    Raises UnreadableFit for damaged bytes, for arrays that do not belong together and for another
    version's fit.
    """
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as archive:
            head = json.loads(str(archive["head"]))
            _refuse_other_version(head, archive, info)
            arrays: dict[str, Any] = {name: archive[name] for name in ARRAYS}
            physics, ball = (
                {n.removeprefix(mark): archive[n] for n in archive if n.startswith(mark)}
                for mark in (_PHYSICS, _BALL)
            )
        named: dict[str, Any] = {
            "players": tuple(Player(**p) for p in head["players"]),
            "traits": tuple(head["traits"]),
            "methods": tuple(tuple(names) for names in head["methods"]),
            "changes": tuple(
                Change(**{**c, "start": date.fromisoformat(c["start"])}) for c in head["changes"]
            ),
            "drills": tuple(head["drills"]),
        }
    except _DAMAGE as error:
        raise UnreadableFit(info.fit_id, f"it is damaged ({error})") from error
    wrong = _misfit(named, arrays) or _misfit_of_balls(named, arrays, physics, ball)
    if wrong:
        raise UnreadableFit(info.fit_id, f"it is damaged ({wrong})")
    arrays["session_start"] = arrays["session_start"].astype("datetime64[s]")
    return Fit(info=info, **named, **arrays, physics=physics, ball_check=ball)


def head_of(content: bytes) -> Mapping[str, Any] | None:
    """Return a stored fit's head (players, changes and other names); None where it is damaged."""
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as archive:
            return dict(json.loads(str(archive["head"])))
    except _DAMAGE:
        return None


def _refuse_other_version(head: Mapping[str, Any], archive: Any, info: FitInfo) -> None:
    number = dict(head).get("format", 1)
    if number != FORMAT:
        raise UnreadableFit(
            info.fit_id,
            f"it was made by another version (format {number}, this program reads {FORMAT})",
        )
    missing = [name for name in ARRAYS if name not in archive]
    if missing:
        raise UnreadableFit(
            info.fit_id, f"it was made by an earlier version (it has no {missing[0]})"
        )


def _misfit(
    named: Mapping[str, tuple[Any, ...]], arrays: Mapping[str, NDArray[np.generic]]
) -> str | None:
    """Return which array is not as long as its names, or not of its kind; None when all are."""
    lengths = {"p": len(named["players"]), "k": len(named["traits"])}
    lengths |= {"c": len(named["changes"]), "g": len(named["drills"])}
    for name, axes in ARRAYS.items():
        array = arrays[name]
        if array.dtype.kind != _KIND.get(name, "f"):
            return f"{name} holds {array.dtype}"
        if array.ndim != len(axes):
            return f"{name} has shape {array.shape}"
        for axis, length in zip(axes, array.shape, strict=True):
            if lengths.setdefault(axis, length) != length:
                return f"{name} has shape {array.shape}"
    if len(named["methods"]) != lengths["k"]:
        return f"methods of {len(named['methods'])} traits"
    if any(len(names) > lengths["m"] for names in named["methods"]):
        return "more names of methods than methods"
    return None


def _misfit_of_balls(
    named: Mapping[str, tuple[Any, ...]],
    arrays: Mapping[str, NDArray[np.generic]],
    physics: Mapping[str, NDArray[np.generic]],
    ball: Mapping[str, NDArray[np.generic]],
) -> str | None:
    """Return which array of the calibration does not belong to the rest; None when all do."""
    samples, players = len(arrays["level"]), len(named["players"])
    for name, values in physics.items():
        if values.dtype.kind != "f" or values.shape not in ((samples,), (samples, players)):
            return f"{name} has shape {values.shape}"
    if not ball:
        return None
    lacking = {"trait", "player", "session", *_BALL_NUMBERS} - set(ball)
    if lacking:
        return f"ball checks without {min(lacking)}"
    if len({values.shape for values in ball.values()}) > 1:
        return "columns of ball checks of unlike length"
    for name, most in (("player", players), ("session", arrays["session_start"].shape[1])):
        places = ball[name]
        if places.dtype.kind != "i" or not np.isin(places, np.arange(most)).all():
            return f"ball checks of a {name} that is not there"
    return None
