"""Arrays packed into one vector, which a compiled function called from outside takes apart again.

The vector opens with where each field begins and the last one ends; whole numbers stand in it as
floats. Both sides name a field by its place in one table of names.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numba
import numpy as np

from models.arrays import Floats


def packed(names: Sequence[str], arrays: Mapping[str, Any]) -> Floats:
    """Return arrays as one vector in the order of their names; scalars are arrays of one."""
    if set(names) != set(arrays):
        msg = f"fields {sorted(set(names) ^ set(arrays))} stand on one side only"
        raise ValueError(msg)
    parts = [np.asarray(arrays[name], dtype=np.float64).ravel() for name in names]
    ends = len(parts) + 1 + np.cumsum([0, *(part.size for part in parts)])
    return np.concatenate([ends.astype(np.float64), *parts])


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def field(data: Floats, place: int) -> Any:
    """Return the field at a place among the names, flat."""
    return data[int(data[place]) : int(data[place + 1])]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def whole(data: Floats, place: int) -> Any:
    """Return a field of whole numbers, flat."""
    return data[int(data[place]) : int(data[place + 1])].astype(np.int64)
