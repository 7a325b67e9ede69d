"""Which logged change says most: the one that is surest to have moved its player's trait."""

from collections.abc import Iterable

import numpy as np

from tracker.decisions.verdict.verdict import default_windows
from tracker.decisions.verdict.worthwhile import SMALL_SHARE
from tracker.errors import NotEnoughData
from tracker.posterior import Fit

_Telling = tuple[float, float]
"""Chance that the trait moved one way by more than a small share of the SD between players, and
how many such SDs it moved: the second parts those that are equally sure."""


def most_telling(fit: Fit, player: str | None = None) -> tuple[str | None, str | None]:
    """Return player and trait of the logged change that says most, of one player or of anybody.

    None and None where no change was logged that can be judged.
    """
    known = {p.name for p in fit.players}
    asked = dict.fromkeys(
        (change.player, trait)
        for change in fit.acting_changes
        if change.player in known and player in (None, change.player)
        for trait in _traits_of(fit, change.trait)
    )
    told = {pair: found for pair in asked if (found := _telling(fit, *pair)) is not None}
    return max(told, key=lambda pair: told[pair], default=(None, None))


def _traits_of(fit: Fit, trait: str | None) -> Iterable[str]:
    return fit.traits if trait is None else (trait,) if trait in fit.traits else ()


def _telling(fit: Fit, player: str, trait: str) -> _Telling | None:
    one = fit.of(player, trait)
    if not one.is_read or not one.changes or fit.problems_of(trait):
        return None
    try:
        before, after = (one.tendency(w) for w in default_windows(fit, player, trait))
    except NotEnoughData:
        return None
    moved = (after - before) / one.spread
    chance = max(float(np.mean(moved > SMALL_SHARE)), float(np.mean(moved < -SMALL_SHARE)))
    return chance, abs(float(np.median(moved)))
