"""Which missed readings the ball can stand in for, worked out player by player.

A shot whose attack angle, delivered loft or strike height was not read, but whose ball was, gets
that reading from the calibrated impact. In a session without any reading of the trait it is marked
as method ``inferred``, which has a bias of its own. Beside readings of the same session it stands
for the reading that the device did not give, with that method's bias and unmarked: as a method of
its own it would show a bias that is none where the device loses the steep swings. The SD of the
method is then the root mean square over both. A strike
that was not read at all counts across the face as the player's own tendency with its scatter.

The SD allows for what the constants leave open, and for how far the shots without a reading are
from those that taught the constants: d of the read shots' SDs apart in ball speed, launch and
spin, the impact's own miss counts sqrt(1 + d^2) times, as a fitted line's error grows away from
its points.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from models.arrays import Floats
from models.calibration.data import IMPACT_TRAITS
from models.drive.missed_readings import INFERABLE, infer_missing
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, STRIKES, TRAITS
from tracker.decisions.distance.cloud import spaced
from tracker.fits.ball_rows import MAD_TO_SD
from tracker.posterior import Fit
from tracker.readings.session_summary import inferred_column, methods_of
from tracker.records import INFERRED_METHOD

DOUBT_DRAWS = 40
"""Draws of the constants from which their doubt is worked out."""

FEWEST = 5
"""Inferred readings of a trait below which a second pass of the fit is not worth its time."""


@dataclass(frozen=True, eq=False)
class InferredReadings:
    """Shots with the inferred readings filled in and marked, and how good they are.

    ``counts`` are by trait; ``reading_sds``, by trait and method, root mean squares over the
    method's readings, those that stand in for missing ones included.
    """

    shots: pd.DataFrame
    counts: Mapping[str, int]
    reading_sds: Mapping[tuple[str, str], float]


def inferable(shots: pd.DataFrame) -> frozenset[str]:
    """Return the traits that some shots lack while the ball and the others were read."""
    ball = shots[list(IMPACT_TRAITS)].notna().all(axis=1) & shots["club_speed_mps"].notna()
    lacking = shots[list(INFERABLE)].isna()
    one = ball & (lacking.sum(axis=1) == 1)
    return frozenset(t for t in INFERABLE if int((one & lacking[t]).sum()) >= FEWEST)


def infer_readings(fit: Fit, shots: pd.DataFrame) -> InferredReadings | None:
    """Return the shots with what the ball tells of missed readings; None when it tells nothing.

    Only a fit with calibrated physics infers: the published constants would make every player's
    missing attack angle wrong by the same amount.
    """
    if not fit.is_calibrated:
        return None
    filled = shots.copy()
    value = {trait: np.full(len(shots), np.nan) for trait in INFERABLE}
    sd = {trait: np.full(len(shots), np.nan) for trait in INFERABLE}
    model_sd = _model_sd(fit)
    position = np.arange(len(shots))
    for player in fit.players:
        mine = position[(shots["player"] == player.name).to_numpy()]
        group = shots.iloc[mine]
        known, reading_sd = _club(fit, player.name, group)
        unlike = _squared_distance(group)
        names = (*IMPACT_TRAITS, "axis_deg")
        ball = {name: group[name].to_numpy(dtype=np.float64) for name in names}
        found = infer_missing(
            known,
            ball,
            parameters=_mean_physics(fit, player.name),
            doubt=_physics_doubt(fit, player.name),
            reading_sd={**reading_sd, **{name: TRAITS[name].reading_sd for name in names}},
            model_sd={name: sd * (1 + unlike) ** 0.5 for name, sd in model_sd.items()},
        )
        for trait in INFERABLE:
            good = np.isfinite(found.value[trait]) & group[trait].isna().to_numpy()
            value[trait][mine[good]] = found.value[trait][good]
            sd[trait][mine[good]] = found.sd[trait][good]
    counts = {t: int(np.isfinite(value[t]).sum()) for t in INFERABLE}
    kept = [t for t in INFERABLE if counts[t] >= FEWEST]
    if not kept:
        return None
    reading_sds: dict[tuple[str, str], float] = {}
    for trait in kept:
        reading_sds |= _fill(fit, filled, trait, value[trait], sd[trait])
    return InferredReadings(filled, {t: counts[t] for t in kept}, reading_sds)


def _fill(
    fit: Fit, shots: pd.DataFrame, trait: str, value: Floats, sd: Floats
) -> dict[tuple[str, str], float]:
    """Put inferred values of a trait into the shots; return the methods' SDs by trait and name."""
    squad = fit.squad(trait)
    found = np.isfinite(value)
    read = shots[trait].notna()
    beside = read.groupby([shots["player"], shots["session"]]).transform("any").to_numpy()
    method = methods_of(shots, trait).to_numpy()
    place = {name: m for m, name in enumerate(squad.methods)}
    known = np.array([name in place for name in method])
    stands_in = found & beside & known
    sds: dict[tuple[str, str], float] = {}
    filled = shots[trait].to_numpy(dtype=np.float64).copy()
    filled[found] = value[found]
    for name, m in place.items():
        mine = stands_in & (method == name)
        if mine.any():
            filled[mine] += float(squad.bias[:, m].mean())
            given = int((read.to_numpy() & (method == name)).sum())
            squares = given * squad.reading_sd[m] ** 2 + float((sd[mine] ** 2).sum())
            sds[trait, name] = float(np.sqrt(squares / (given + mine.sum())))
    marked = found & ~stands_in
    if marked.any():
        sds[trait, INFERRED_METHOD] = float(np.sqrt(np.mean(sd[marked] ** 2)))
    shots[trait] = filled
    shots[inferred_column(trait)] = marked
    return sds


def _club(
    fit: Fit, player: str, group: pd.DataFrame
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Return a player's readings with method biases out, and the SD of each, by trait."""
    known, spread = {}, {}
    for trait in DELIVERY:
        one = fit.of(player, trait)
        place = {name: m for m, name in enumerate(one.methods)}
        method = methods_of(group, trait).map(place).fillna(0).to_numpy(dtype=np.int64)
        value = group[trait].to_numpy(dtype=np.float64) - one.bias[:, method].mean(axis=0)
        sd = np.hypot(one.reading_sd[method], one.bias[:, method].std(axis=0))
        if trait == STRIKES[0]:  # the ball tells next to nothing of it
            around = (one.shot_sd**2 + one.session_sd**2).mean()
            level = np.asfortranarray(one.level)  # summed session by session
            unread = np.isnan(value)
            value = np.where(unread, float(level.mean()), value)
            sd = np.where(unread, np.sqrt(around + level.var()), sd)
        known[trait], spread[trait] = value, sd
    return known, spread


def _mean_physics(fit: Fit, player: str) -> DriveParameters:
    draws = fit.physics_of(player)
    return DriveParameters(**{name: float(values.mean()) for name, values in draws.items()})


def _physics_doubt(fit: Fit, player: str) -> DriveParameters:
    kept = spaced(fit.samples, DOUBT_DRAWS)
    drawn: dict[str, Any] = {n: v[kept] for n, v in fit.physics_of(player).items()}
    return DriveParameters(**drawn)


def _squared_distance(group: pd.DataFrame) -> float:
    """Return d^2 of a player's shots that lack a reading from those that lack none."""
    ball = group[list(IMPACT_TRAITS)].to_numpy(dtype=np.float64)
    seen = np.isfinite(ball).all(axis=1)
    lacking = group[list(INFERABLE)].isna().any(axis=1).to_numpy()
    whole, part = ball[seen & ~lacking], ball[seen & lacking]
    if min(len(whole), len(part)) < FEWEST:
        return 0.0
    middle = np.median(whole, axis=0)
    sd = MAD_TO_SD * np.median(np.abs(whole - middle), axis=0)
    return float(np.mean(((np.median(part, axis=0) - middle) / np.maximum(sd, 1e-9)) ** 2))


def _model_sd(fit: Fit) -> dict[str, float]:
    """Return how far the calibrated impact misses session means beyond their reading error."""
    found = {}
    for trait in IMPACT_TRAITS:
        rows = [c for c in fit.ball_checks if c.trait == trait]
        missed = np.mean([(c.observed - c.predicted) ** 2 for c in rows])
        known = np.mean([c.standard_error**2 for c in rows])
        found[trait] = float(np.sqrt(max(missed - known, 0.0)))
    return found
