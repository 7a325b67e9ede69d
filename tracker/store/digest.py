"""What of the stored data a fit depends on, as one short text that changes when it does."""

import hashlib
import json
from collections.abc import Sequence

import numpy as np
import pandas as pd

from tracker.readings.shot_frame import FLOAT_COLUMNS, KEY_COLUMNS, plain_values
from tracker.records import Change

_TEXTS = ("strike_method", "delivery_method", "missed_face", "ball")


def data_digest(shots: pd.DataFrame, changes: Sequence[Change]) -> str:
    """Return a digest of shots (any order) and changes; notes and hands do not enter.

    Shots are put in order here, not by the database, whose idea of order depends on its kind and
    settings. A column without any reading leaves no trace, so a new trait changes no digest.
    """
    found = hashlib.sha256()
    ordered = shots.sort_values(list(KEY_COLUMNS), ignore_index=True)
    keys = [ordered["session"].dt.strftime("%Y-%m-%dT%H:%M:%S").to_list()]
    keys += [plain_values(ordered[name]) for name in ("player", "club", "number", *_TEXTS)]
    found.update(json.dumps(keys, ensure_ascii=True).encode())
    for name in FLOAT_COLUMNS:
        values = ordered[name].to_numpy(dtype=np.float64)
        missing = np.isnan(values)
        if not missing.all():
            # one bit pattern for each value: no negative zero, one kind of NaN
            plain = np.where(missing, np.nan, values + 0.0)
            found.update(name.encode() + plain.astype("<f8").tobytes())
    rows = sorted(
        json.dumps([c.player, c.start.isoformat(), c.kind, c.name, c.trait]) for c in changes
    )
    found.update(json.dumps(rows).encode())
    return found.hexdigest()
