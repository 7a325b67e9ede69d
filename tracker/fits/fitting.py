"""How a fit is made and kept: summarise, sample, report, smooth, store.

Loads the sampler, which takes seconds; import it where a fit is run.
"""

import os
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd

import models
from models.arrays import Floats
from models.calibration.target import SAMPLED, calibration_target, constants_and_heads
from models.compiled_code import sources_digest
from models.sampling.report import SamplerReport, joined
from models.sampling.sampler import FREE_DOUBLINGS, Effort, peak, stacked, well_sampled
from models.tendency.data import TraitSeries, trait_series
from models.tendency.density import prior_draws, tendency_target
from models.tendency.smoother import smoothed
from models.traits import prior_of
from tracker.errors import NotEnoughData
from tracker.fit_info import PHYSICS, FitInfo
from tracker.fits.assembly import assembled
from tracker.fits.background import queue_job
from tracker.fits.ball_rows import ball_rows
from tracker.fits.calibrating import ball_table, calibrated_physics, calibration_data, facts_of
from tracker.fits.dataset import SquadData, squad_data
from tracker.fits.inferring import infer_readings, inferable
from tracker.fits.kept_fits import keep_fit
from tracker.fits.method_check import DUPLICATES_SETTING, from_json, sd_table
from tracker.posterior import Fit
from tracker.readings.stuck_device import without_stuck
from tracker.records import DEFAULT_CLUB, Change
from tracker.store.digest import data_digest
from tracker.store.store import Store

Progress = Callable[[str, int, int], None]
"""Called with the phase in words, steps done and steps in all."""

JOB_SECONDS = 0.5
"""Least time between two notes of progress in the store."""

EFFORT = Effort()
CALIBRATION_EFFORT = Effort(draws=800, tune=400, target_accept=0.9, doublings=FREE_DOUBLINGS)

DRILLED_PATHS, DRILLED_ACCEPT, DRILLED_DRAWS = 3, 0.9, 0.6
"""Doublings of a path, acceptance asked for and share of the draws of a trait with drills: how far
drills differ has a long tail, which takes longer paths to cross, and fewer draws then do."""

FEW_SESSIONS, FEW_PLAYERS = 120, 6
"""Sessions of all players together, and players, below which a trait is sampled with ..."""
SMALL_STEPS, LONG_PATHS = 0.98, 5
"""... smaller steps and longer paths from the start, where sessions are few: it says little about
its parameters, so their posterior is wide and curved, and a step costs next to nothing ..."""
MORE_OF_FEW_PLAYERS = 1.5
"""... after a warm-up of half the draws; of few players so many times the draws, since how far two
players differ has a long tail, which chains cross slowly."""

ROUGH_DRAWS = 200
"""Draws about the mode that a first look at the balls starts from."""
APART = 7919
"""Added to the seed for each further trait."""

KEPT_DRAWS = 1000
"""Draws kept of a fit; evenly thinned from all chains."""

PACKAGES = ("drive-progress", "pymc", "nutpie", "arviz", "numpy", "numba")
MODEL_LETTERS = 8
"""Letters of the digest of our mathematics that stand beside the packages' versions."""


@dataclass(frozen=True, slots=True)
class KeptFit:
    """A fit that was stored, under its number."""

    fit_id: int
    fit: Fit
    sessions: int
    shots: int


@dataclass(frozen=True, slots=True)
class FitRequest:
    """What is asked for when a fit is made: the same data and request give the same draws."""

    seed: int = 1
    effort: Effort = EFFORT
    references: tuple[str, ...] | None = None
    """Reading methods taken as unbiased; None is those named last, and at first none."""
    club: str = DEFAULT_CLUB


REFERENCE_SETTING = "reference_methods"
"""Setting that names the reading methods taken as unbiased."""


def fit_and_keep(
    store: Store, request: FitRequest = FitRequest(), progress: Progress | None = None
) -> KeptFit:
    """Fit what is stored of a club, keep the fit, and keep its progress where pages see it.

    The reading methods that are named as unbiased are remembered for later fits. Raises
    NotEnoughData when nothing that the model reads is stored.
    """
    if request.references is None:
        request = replace(request, references=references_of(store))
    else:
        store.set_setting(REFERENCE_SETTING, list(request.references))
    waiting = store.job()
    mine = waiting is not None and waiting.state == "queued" and waiting.pid == os.getpid()
    job = waiting.id if waiting is not None and mine else queue_job(store, os.getpid())
    store.update_job(job, state="running", phase="reading the store")
    told = [time.monotonic()]

    def say(phase: str, done: int, total: int) -> None:
        if progress is not None:
            progress(phase, done, total)
        if done == 0 or done == total or time.monotonic() - told[0] > JOB_SECONDS:
            told[0] = time.monotonic()
            store.update_job(job, phase=phase, done=done, total=total)

    try:
        shots, changes = store.shots_frame(club=request.club), store.changes()
        if shots.empty and request.club != DEFAULT_CLUB:
            raise NotEnoughData(
                f"no shot with the club {request.club!r} is stored; {_clubs(store)}"
            )
        fit, squad = fit_shots(
            shots,
            changes,
            request,
            reading_sds=reading_sds_of(store),
            data_digest=data_digest(shots, changes),
            progress=say,
        )
        number = keep_fit(store, fit, shots, sessions=squad.sessions, shots=squad.shots)
    except BaseException as error:  # also a stop by the keyboard: the page must not wait for it
        store.update_job(job, state="failed", message=str(error) or type(error).__name__)
        raise
    store.update_job(job, state="done", phase="done", done=1, total=1)
    return KeptFit(number, fit, squad.sessions, squad.shots)


def references_of(store: Store) -> tuple[str, ...]:
    """Return the reading methods that were named as unbiased."""
    return tuple(store.setting(REFERENCE_SETTING, default=()))


def reading_sds_of(store: Store) -> Mapping[tuple[str, str], float]:
    """Return the reading SDs that shots read twice have shown, by trait and method."""
    return sd_table(from_json(store.setting(DUPLICATES_SETTING, default=())))


def _clubs(store: Store) -> str:
    """Return which clubs have shots, in words."""
    clubs = sorted(store.shots_frame()["club"].unique())
    return f"stored are shots with {', '.join(clubs)}" if clubs else "load a shot log first"


def fit_shots(
    shots: pd.DataFrame,
    changes: Sequence[Change],
    request: FitRequest = FitRequest(),
    *,
    reading_sds: Mapping[tuple[str, str], float] = MappingProxyType({}),
    data_digest: str = "",
    progress: Progress | None = None,
) -> tuple[Fit, SquadData]:
    """Return the fit of a squad's shots with one club, and what it was fitted to.

    Where balls can tell of readings that were missed, the drive's constants are first learned
    from the modes of the traits; the readings inferred with them join the others. Then every
    trait is sampled, and the constants are learned from what was sampled. The drive's physics is
    a driver's: other clubs have their traits alone.
    """
    began = time.monotonic()
    say = progress or (lambda phase, done, total: None)
    seed, references = request.seed, request.references or ()
    driver = request.club == DEFAULT_CLUB
    shots, _ = without_stuck(shots)
    table, sds = shots, reading_sds
    if driver and inferable(shots):
        say("a first look at the balls", 0, 1)
        rough = rough_fit(squad_data(shots, changes, references=references, reading_sds=sds), seed)
        inferred = infer_readings(calibrated(rough, shots, seed=seed, rough=True), shots)
        if inferred is not None:
            table, sds = inferred.shots, {**reading_sds, **inferred.reading_sds}
    squad = squad_data(table, changes, references=references, reading_sds=sds)
    fit = fit_squad(squad, seed=seed, effort=request.effort, data_digest=data_digest, progress=say)
    fit = replace(fit, info=replace(fit.info, club=request.club))
    if driver:
        fit = calibrated(fit, shots, seed=seed, progress=say)
    return replace(fit, info=replace(fit.info, seconds=time.monotonic() - began)), squad


def fit_squad(
    squad: SquadData,
    *,
    seed: int,
    effort: Effort | None = None,
    data_digest: str = "",
    progress: Progress | None = None,
) -> Fit:
    """Return the tendencies of a squad; the same data, seed and effort give the same draws.

    Given their parameters traits are separate posteriors: each is sampled and reported by itself.
    A trait without a reading is not sampled: its parameters are drawn from their priors.
    """
    effort = effort or Effort()
    say = progress or (lambda phase, done, total: None)
    read = np.flatnonzero(squad.model.read())
    series = all_series(squad)
    draws, reports = [], {}
    with ThreadPoolExecutor(1) as beside:  # what chains that end one by one leave of the cores
        targets = [
            beside.submit(tendency_target, series[k], prior_of(squad.model.traits[k])) for k in read
        ]
        smooth = []
        for k, (trait, one) in enumerate(zip(squad.model.traits, series, strict=True)):
            if k in read:
                before = int(np.searchsorted(read, k))

                def told(done: int, total: int, before: int = before) -> None:
                    say("drawing from the posterior", before * total + done, read.size * total)

                target = targets[before].result()
                steps = _steps(effort, len(squad.players), one)
                tree, reports[trait] = well_sampled(target, steps, seed + APART * k, progress=told)
                found = stacked(tree, list(target.named(target.start)), _kept(effort))
                draws.append(_completed(found, trait, seed, k))
            else:
                rng = np.random.default_rng([seed, k])
                draws.append(prior_draws(prior_of(trait), _kept(effort), rng))
            smooth.append(
                beside.submit(smoothed, draws[k], one, np.random.default_rng([seed, 5, k]))
            )
        say("smoothing the levels", 0, 1)
        hidden = [s.result() for s in smooth]
    return assembled(squad, series, draws, hidden, _info(reports, data_digest, seed), seed)


def rough_fit(squad: SquadData, seed: int) -> Fit:
    """Return a fit from each trait's mode and curvature: for a first look, never to be quoted."""
    series, draws, hidden = all_series(squad), [], []
    for k, (trait, one) in enumerate(zip(squad.model.traits, series, strict=True)):
        rng = np.random.default_rng([seed, k, 3])
        if squad.model.read()[k]:
            target = tendency_target(one, prior_of(trait))
            near = target.named(peak(target).draws(ROUGH_DRAWS, rng))
            draws.append(_completed(near, trait, seed, k))
        else:
            draws.append(prior_draws(prior_of(trait), ROUGH_DRAWS, rng))
        hidden.append(smoothed(draws[k], one, rng))
    return assembled(squad, series, draws, hidden, _info({}, "", seed), seed)


def all_series(squad: SquadData) -> tuple[TraitSeries, ...]:
    """Return each trait's part of a squad's summaries."""
    return tuple(
        trait_series(squad.model, k, prior_of(trait)) for k, trait in enumerate(squad.model.traits)
    )


def _steps(effort: Effort, players: int, series: TraitSeries) -> Effort:
    """Return how a trait of a squad of so many players is sampled."""
    if series.gap.size >= FEW_SESSIONS and players >= FEW_PLAYERS:
        if not series.groups.size:
            return effort
        draws = round(DRILLED_DRAWS * effort.draws)
        return replace(
            effort,
            draws=draws,
            target_accept=max(effort.target_accept, DRILLED_ACCEPT),
            doublings=max(effort.doublings, DRILLED_PATHS),
        )
    draws = round(MORE_OF_FEW_PLAYERS * effort.draws) if players < FEW_PLAYERS else effort.draws
    return replace(
        effort,
        draws=draws,
        tune=max(effort.tune, draws // 2),
        target_accept=max(effort.target_accept, SMALL_STEPS),
        doublings=max(effort.doublings, LONG_PATHS),
    )


def _kept(effort: Effort) -> int:
    return min(KEPT_DRAWS, effort.draws * effort.chains)


def _completed(found: Mapping[str, Floats], trait: str, seed: int, k: int) -> Mapping[str, Floats]:
    """Return draws with those of the parameters that the data could not speak of, by the prior."""
    rng = np.random.default_rng([seed, k, 2])
    return {**prior_draws(prior_of(trait), len(found["mu"]), rng), **found}


def _info(reports: Mapping[str, SamplerReport], data_digest: str, seed: int) -> FitInfo:
    return FitInfo(
        fit_id=0,
        created_at=datetime.now(UTC).replace(tzinfo=None, microsecond=0),
        data_digest=data_digest,
        seed=seed,
        seconds=0.0,
        report=joined(reports.values()),
        versions=versions_now(),
        reports=dict(reports),
    )


def versions_now() -> Mapping[str, str]:
    """Return what a fit is made with: packages, and the model by a digest of its sources.

    The program's version stands still while it is worked on; the digest tells its models apart, so
    that a level that moved with the model is not put down to luck.
    """
    ours = sources_digest(Path(models.__file__).parent)[:MODEL_LETTERS]
    return {**{name: version(name) for name in PACKAGES}, "model": ours}


def calibrated(
    fit: Fit,
    shots: pd.DataFrame,
    *,
    seed: int,
    rough: bool = False,
    progress: Progress | None = None,
) -> Fit:
    """Return the fit with the drive's constants learned from the squad's balls.

    Without enough ball data the fit comes back as it is, and the published physics serves.
    ``rough`` takes mode and curvature in place of sampling.
    """
    say = progress or (lambda phase, done, total: None)
    say("reading the ball data", 0, 1)
    rows = ball_rows(fit, shots)
    if rows is None:
        return fit
    data = calibration_data(rows, tuple(p.name for p in fit.players))
    target, reports = calibration_target(data), dict(fit.info.reports)
    draws: Mapping[str, Floats]
    if rough:
        draws = target.named(peak(target).draws(fit.samples, np.random.default_rng([seed, 4])))
    else:
        tree, reports[PHYSICS] = well_sampled(
            target,
            CALIBRATION_EFFORT,
            seed,
            SAMPLED,
            lambda done, total: say("adapting the physics to your balls", done, total),
        )
        draws = stacked(tree, ["white", "head"], fit.samples)
    rng = np.random.default_rng([seed, 2])
    physics = calibrated_physics(*constants_and_heads(data, draws), rng)
    return replace(
        fit,
        info=replace(fit.info, report=joined(reports.values()), reports=reports),
        physics={**physics, **facts_of(fit, physics)},
        ball_check=ball_table(rows, physics, len(fit.players)),
    )
