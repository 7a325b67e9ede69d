"""What a fit holds of the levers of one player, as plain arrays: the only reader of its changes."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tracker.decisions.distance.cloud import DELIVERY
from tracker.posterior import (
    Fit,
    Floats,
    between_sd_draws,
    change_effect_draws,
    changes_on,
    drill_effect_draws,
    drill_scale_draws,
    effect_sd_draws,
    level_path_draws,
    reading_count,
    session_starts,
)
from tracker.records import ChangeKind


@dataclass(frozen=True, eq=False, slots=True)
class Logged:
    """One logged name on one trait; draws have the shape ``(sample,)``, the trait's unit."""

    name: str
    kind: ChangeKind
    trait: str
    mean: Floats
    """What it does on average over players."""
    responses: tuple[Floats, ...]
    """What it did to each who did it and has readings of the trait."""
    own: Floats | None
    """What it did to this player, the last time; None who has not done it."""
    start_level: float
    """Where those who did it stood on average at their first session."""


@dataclass(frozen=True, eq=False, slots=True)
class Sizes:
    """How far things differ in one trait: draws ``(sample,)``, the trait's unit."""

    between: Floats
    """SD between players."""
    effect: Floats
    """SD between players of what one drill does."""
    drills: Floats
    """SD between drills of what they do on average."""


@dataclass(frozen=True, eq=False, slots=True)
class LeverInputs:
    """All that the levers of one player are made from."""

    logged: tuple[Logged, ...]
    sizes: Mapping[str, Sizes]
    efforts: Mapping[str, float]
    """Mean logged sessions of practice by name, of those for which any were logged."""
    usual_effort: float | None
    """Median of all logged sessions of practice."""
    read: tuple[str, ...]
    """Traits of which this player has readings."""


def lever_inputs(fit: Fit, player: str | None) -> LeverInputs:
    """Return what the levers of a player are made from; of nobody in particular for None."""
    known = [c.effort_sessions for c in fit.changes if c.effort_sessions is not None]
    by_name: dict[str, list[float]] = {}
    for change in fit.changes:
        if change.effort_sessions is not None:
            by_name.setdefault(change.name, []).append(change.effort_sessions)
    return LeverInputs(
        logged=tuple(
            _logged(fit, player, name, trait)
            for trait in DELIVERY
            for name in dict.fromkeys(fit.changes[c].name for c in changes_on(fit, trait))
        ),
        sizes={
            t: Sizes(between_sd_draws(fit, t), effect_sd_draws(fit, t), drill_scale_draws(fit, t))
            for t in DELIVERY
        },
        efforts={name: float(np.mean(sessions)) for name, sessions in by_name.items()},
        usual_effort=float(np.median(known)) if known else None,
        read=tuple(t for t in DELIVERY if player is None or reading_count(fit, player, t)[0]),
    )


def _logged(fit: Fit, player: str | None, name: str, trait: str) -> Logged:
    named = [c for c in changes_on(fit, trait) if fit.changes[c].name == name]
    begun = [
        c
        for c in named
        if reading_count(fit, fit.changes[c].player, trait)[0]
        and fit.changes[c].start <= session_starts(fit, fit.changes[c].player)[-1].date()
    ]
    last = {fit.changes[c].player: c for c in sorted(begun, key=lambda c: fit.changes[c].start)}
    first_levels = [level_path_draws(fit, doer, trait)[1][:, 0].mean() for doer in last]
    return Logged(
        name=name,
        kind=fit.changes[named[0]].kind,
        trait=trait,
        mean=drill_effect_draws(fit, name, trait),
        responses=tuple(change_effect_draws(fit, c, trait) for c in last.values()),
        own=change_effect_draws(fit, last[player], trait) if player in last else None,
        start_level=float(np.mean(first_levels)) if first_levels else float("nan"),
    )
