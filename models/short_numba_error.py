"""A short text for one error inside compiled code, since compiling the long one takes two seconds.

Wherever an array is assigned to a slice, Numba compiles the message that names both shapes, with
all of its string handling, in every process. The sampler's own code holds one such assignment,
whose shapes always agree. Numba resolves the function that raises by name, so that a target may
bring its own.
"""

from collections.abc import Callable
from typing import Any

from numba.extending import overload
from numba.np import arrayobj

HOOK = "raise_with_shape_context"
"""Numba's name of the function that raises; where a version has none, nothing is replaced."""


def wrong_size(found: tuple[int, ...], wanted: tuple[int, ...]) -> None:
    """Raise ValueError in compiled code; never called outside it."""
    raise NotImplementedError


@overload(wrong_size)  # type: ignore[untyped-decorator]  # Numba ships no types
def _compiled_wrong_size(found: Any, wanted: Any) -> Callable[..., None]:
    def raise_it(found: Any, wanted: Any) -> None:
        raise ValueError("cannot assign slice from input of different size")

    return raise_it


def shorten() -> None:
    """Use the short text from now on in this process."""
    if hasattr(arrayobj, HOOK):
        setattr(arrayobj, HOOK, wrong_size)
