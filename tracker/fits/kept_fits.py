"""How a fit is turned into a stored row and back, with its checks; loads no PyMC."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

import pandas as pd

from models.sampling.report import SamplerReport
from tracker.decisions.checks.predictive import (
    PredictiveCheck,
    flagged_first,
    predictive_checks,
    shot_checks,
)
from tracker.errors import NoFit
from tracker.fit_info import FitInfo
from tracker.fits.codec import decode, encode
from tracker.posterior import Fit
from tracker.readings.stuck_device import without_stuck
from tracker.records import DEFAULT_CLUB
from tracker.store.rows import StoredFitRow
from tracker.store.store import Store
from tracker.words import listed

MOST_NAMED = 5
"""Fits named in one message."""


def keep_fit(store: Store, fit: Fit, log: pd.DataFrame, *, sessions: int, shots: int) -> int:
    """Store a fit with its reports and its predictive checks; return its number.

    ``log`` holds the shots that were fitted. A trait in doubt is not compared with anything.
    """
    log, _ = without_stuck(log)
    sound = {trait for trait in fit.traits if not fit.problems_of(trait)}
    checks: tuple[PredictiveCheck, ...] = ()
    if sound:
        every = (*predictive_checks(fit), *shot_checks(log, fit.traits))
        checks = flagged_first(c for c in every if c.trait in sound)
    return store.save_fit(
        StoredFitRow(
            data_digest=fit.info.data_digest,
            seed=fit.info.seed,
            versions=fit.info.versions,
            report={
                **_as_kept(fit.info.report),
                "reports": {part: _as_kept(r) for part, r in fit.info.reports.items()},
            },
            meta={
                "traits": list(fit.traits),
                "club": fit.info.club,
                "checks": [asdict(c) for c in checks],
            },
            draws=encode(fit),
            seconds=fit.info.seconds,
            players=len(fit.players),
            sessions=sessions,
            shots=shots,
        )
    )


def latest_fit(store: Store, club: str = DEFAULT_CLUB) -> Fit:
    """Return the latest stored fit of a club; raise NoFit with what to do when there is none."""
    number = next((f.id for f in store.fits() if f.club == club), None)
    if number is not None:
        return fit_of_row(store.load_fit(number))
    if not store.rows_by_table()["shot"]:
        raise NoFit("no shots are stored yet: load a log first, drive-progress load FILE")
    if club == DEFAULT_CLUB:
        raise NoFit("no fit is stored yet: run drive-progress fit")
    raise NoFit(f"no fit of the {club} is stored yet: run drive-progress fit --club {club!r}")


def fit_as_of(store: Store, day: date, club: str = DEFAULT_CLUB) -> Fit:
    """Return the newest fit of a club made on or before a day (UTC).

    Raises NoFit, naming the fits that there are, when every one is later.
    """
    of_club = [f for f in store.fits() if f.club == club]
    number = next((f.id for f in of_club if f.created_at.date() <= day), None)
    if number is not None:
        return fit_of_row(store.load_fit(number))
    if not of_club:
        return latest_fit(store, club)  # which says what to do first
    there = [f"fit {f.id} of {f.created_at.date()}" for f in reversed(of_club)]
    listed = [*there[:MOST_NAMED], *([f"{len(there) - MOST_NAMED} later ones"] * (
        len(there) > MOST_NAMED))]  # fmt: skip
    raise NoFit(
        f"no fit of the {club} was made on or before {day}; there is {', '.join(listed)}: "
        "choose a later date, or leave --as-of out"
    )


def not_stored(store: Store, fit: Fit) -> tuple[str, ...]:
    """Return the players of a fit who are no longer stored."""
    stored = {player.name for player in store.players()}
    return tuple(player.name for player in fit.players if player.name not in stored)


def not_stored_words(names: Sequence[str]) -> str:
    """Say that players of a fit are no longer stored; empty where all of them are."""
    if not names:
        return ""
    verb = "is" if len(names) == 1 else "are"
    return f"{listed(names)} {verb} in this fit but no longer stored: fit again to leave them out."


def kept_checks(store: Store, fit_id: int) -> tuple[PredictiveCheck, ...]:
    """Return a stored fit's predictive checks, those that look odd first.

    Fits of earlier versions and fits with problems have none.
    """
    found = store.load_fit(fit_id).meta.get("checks", [])
    return tuple(
        PredictiveCheck(**{**c, "replicated90": (c["replicated90"][0], c["replicated90"][1])})
        for c in found
    )


def fit_of_row(row: StoredFitRow) -> Fit:
    """Return the fit that a stored row holds."""
    if row.id is None or row.created_at is None:
        msg = "a row that was never stored has no number"
        raise ValueError(msg)
    info = FitInfo(
        fit_id=row.id,
        created_at=row.created_at,
        data_digest=row.data_digest,
        seed=row.seed,
        seconds=row.seconds,
        report=_report(row.report),
        versions=row.versions,
        club=str(row.meta.get("club", DEFAULT_CLUB)),
        reports={part: _report(kept) for part, kept in row.report.get("reports", {}).items()},
    )
    return decode(row.draws, info)


_NUMBERS = ("max_rhat", "min_ess", "min_tail_ess")
"""What of a report may be infinite (nothing was sampled) or not a number (the chains failed)."""


def _as_kept(report: SamplerReport) -> Mapping[str, Any]:
    """Return a report as it is kept: JSON knows neither infinity nor NaN, so words stand in."""
    words = {
        name: str(value) for name in _NUMBERS if not math.isfinite(value := getattr(report, name))
    }
    return {**report.as_json(), "worst": report.worst, **words}


def _report(kept: Mapping[str, Any]) -> SamplerReport:
    return SamplerReport(
        divergences=int(kept["divergences"]),
        max_rhat=float(kept["max_rhat"]),
        min_ess=float(kept["min_ess"]),
        worst=str(kept.get("worst", "")),
        min_tail_ess=float(kept.get("min_tail_ess", math.inf)),
        attempts=int(kept.get("attempts", 1)),
    )
