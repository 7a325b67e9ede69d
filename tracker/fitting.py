"""How a fit is made and kept: build, sample, report, smooth, store.

The only module of the tracker that loads PyMC, which takes seconds; import it where a fit is run.
"""

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from models import sampling_new
from models.calibration import SAMPLED, calibration_target, constants_and_heads
from models.sampler_report import SamplerReport
from models.sampling import Effort, compile_model, stacked, well_sampled
from models.tendency import (
    USUAL,
    Form,
    TendencyPriors,
    build_tendency_model,
    packed_data,
)
from models.traits import TRAITS
from tracker.ball_rows import ball_rows
from tracker.calibrating import ball_table, calibrated_physics, calibration_data, facts_of
from tracker.data_digest import data_digest
from tracker.dataset import SquadData, squad_data
from tracker.errors import NotEnoughData
from tracker.fit_assembly import assembled
from tracker.inferring import infer_readings, inferable
from tracker.kept_fits import keep_fit
from tracker.method_check import DUPLICATES_SETTING, from_json, sd_table
from tracker.posterior import Fit, FitInfo
from tracker.records import DEFAULT_CLUB, Change
from tracker.store import Store

Floats = NDArray[np.float64]
Progress = Callable[[str, int, int], None]
"""Called with the phase in words, steps done and steps in all."""

JOB_SECONDS = 0.5
"""Least time between two notes of progress in the store."""

CALIBRATION_EFFORT = sampling_new.Effort(draws=1000, tune=400, target_accept=0.95)

SMALL_SQUAD, SMALL_STEPS = 8, 0.99
"""Below this many players the SDs between players are loosely known: take smaller steps."""

KEPT_MODELS = 4
"""Compiled models kept in a process; the oldest goes first."""

KEPT_DRAWS = 1000
"""Draws kept of a fit; evenly thinned from all chains."""

PACKAGES = ("drive-progress", "pymc", "nutpie", "arviz", "numpy", "numba")


@dataclass(frozen=True, slots=True)
class KeptFit:
    """A fit that was stored, under its number."""

    fit_id: int
    fit: Fit
    sessions: int
    shots: int


REFERENCE_SETTING = "reference_methods"
"""Setting that names the reading methods taken as unbiased."""
ALIKE_SETTING = "days_alike"
"""Setting that says whether fits let a day resemble the days next to it."""


def fit_and_keep(
    store: Store,
    *,
    seed: int,
    effort: Effort | None = None,
    references: Sequence[str] | None = None,
    days_alike: bool | None = None,
    club: str = DEFAULT_CLUB,
    progress: Progress | None = None,
) -> KeptFit:
    """Fit what is stored of a club, keep the fit, and keep its progress where pages see it.

    ``references`` names reading methods to take as unbiased, ``days_alike`` lets a day resemble
    the days next to it; both are remembered for later fits. Raises NotEnoughData when nothing
    that the model reads is stored.
    """
    if references is not None:
        store.set_setting(REFERENCE_SETTING, list(references))
    if days_alike is not None:
        store.set_setting(ALIKE_SETTING, days_alike)
    waiting = store.job()
    mine = waiting is not None and waiting.state == "queued" and waiting.pid == os.getpid()
    job = waiting.id if waiting is not None and mine else store.start_job(pid=os.getpid())
    store.update_job(job, state="running", phase="reading the store")
    told = [time.monotonic()]

    def say(phase: str, done: int, total: int) -> None:
        if progress is not None:
            progress(phase, done, total)
        if done == 0 or done == total or time.monotonic() - told[0] > JOB_SECONDS:
            told[0] = time.monotonic()
            store.update_job(job, phase=phase, done=done, total=total)

    try:
        shots, changes = store.shots_frame(club=club), store.changes()
        if shots.empty and club != DEFAULT_CLUB:
            raise NotEnoughData(f"no shot with the club {club!r} is stored; {_clubs(store)}")
        fit, squad = fit_shots(
            shots,
            changes,
            seed=seed,
            effort=effort,
            references=references_of(store),
            reading_sds=reading_sds_of(store),
            form=Form(alike=bool(store.setting(ALIKE_SETTING, default=False))),
            club=club,
            data_digest=data_digest(shots, changes),
            progress=say,
        )
        number = keep_fit(store, fit, sessions=squad.sessions, shots=squad.shots)
    except BaseException as error:  # also a stop by the keyboard: the page must not wait for it
        store.update_job(job, state="failed", message=str(error) or type(error).__name__)
        raise
    store.update_job(job, state="done", phase="done", done=1, total=1)
    return KeptFit(number, fit, squad.sessions, squad.shots)


def references_of(store: Store) -> Sequence[str]:
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
    *,
    seed: int,
    effort: Effort | None = None,
    references: Sequence[str] = (),
    reading_sds: Mapping[tuple[str, str], float] = MappingProxyType({}),
    form: Form = USUAL,
    club: str = DEFAULT_CLUB,
    data_digest: str = "",
    progress: Progress | None = None,
) -> tuple[Fit, SquadData]:
    """Return the fit of a squad's shots with one club, and what it was fitted to.

    Three steps: the tendencies from what was read; the drive's constants from the balls; and,
    where balls tell of readings that were missed, the tendencies once more with those, on the
    model compiled for the first step. The drive's physics is a driver's: other clubs have the
    first step alone.
    """
    say = progress or (lambda phase, done, total: None)
    driver = club == DEFAULT_CLUB
    reserve = inferable(shots) if driver else frozenset()

    def summarised(table: pd.DataFrame, sds: Mapping[tuple[str, str], float]) -> SquadData:
        return squad_data(table, changes, references=references, reading_sds=sds, reserve=reserve)

    squad = summarised(shots, reading_sds)
    say("compiling the model", 0, 1)
    compiled = compile_squad(squad, form)
    fit = sample_squad(
        compiled,
        squad,
        seed=seed,
        effort=effort,
        form=form,
        data_digest=data_digest,
        progress=say,
    )
    fit = replace(fit, info=replace(fit.info, club=club))
    if not driver:
        return fit, squad
    fit = calibrated(fit, shots, seed=seed, progress=say)
    inferred = infer_readings(fit, shots) if reserve else None
    if inferred is None:
        return fit, squad
    squad = summarised(inferred.shots, {**reading_sds, **inferred.reading_sds})
    again = sample_squad(
        with_readings(compiled, squad),
        squad,
        seed=seed,
        effort=effort,
        form=form,
        data_digest=data_digest,
        progress=say,
    )
    info = replace(
        again.info,
        seconds=fit.info.seconds + again.info.seconds,
        report=fit.info.report.joined(again.info.report),
    )
    return replace(again, info=info, physics=fit.physics, ball_check=fit.ball_check), squad


_compiled: dict[tuple[Any, ...], Any] = {}
"""Models compiled by this process, by everything about a squad that is not in its data vector."""


def compile_squad(squad: SquadData, form: Form = USUAL) -> Any:
    """Return the tendency model compiled for a squad's shapes, with its readings.

    A squad of as many players, traits, methods and changes takes the model that is there already,
    however many sessions it has.
    """
    model = squad.model
    key = (
        form,
        model.players,
        model.traits,
        model.count.shape[0],
        *(
            tuple(a.tolist())
            for a in (model.free_method, model.free_trait, model.effect_group, model.group_trait)
        ),
    )
    if key not in _compiled:
        if len(_compiled) >= KEPT_MODELS:
            _compiled.pop(next(iter(_compiled)))
        traits = tuple(p for t in model.traits if (p := TRAITS[t].prior) is not None)
        priors = TendencyPriors.from_table(traits)
        _compiled[key] = compile_model(build_tendency_model(model, priors, form))
    return with_readings(_compiled[key], squad)


def with_readings(compiled: Any, squad: SquadData) -> Any:
    """Return a compiled model with other readings of the same squad, methods and changes."""
    return compiled.with_data(summaries=packed_data(squad.model))


def fit_squad(
    squad: SquadData,
    *,
    seed: int,
    effort: Effort | None = None,
    form: Form = USUAL,
    progress: Progress | None = None,
) -> Fit:
    """Return the tendencies of a squad; the same data, seed and effort give the same draws."""
    if progress is not None:
        progress("compiling the model", 0, 1)
    compiled = compile_squad(squad, form)
    return sample_squad(compiled, squad, seed=seed, effort=effort, form=form, progress=progress)


def sample_squad(
    compiled: Any,
    squad: SquadData,
    *,
    seed: int,
    effort: Effort | None = None,
    form: Form = USUAL,
    data_digest: str = "",
    progress: Progress | None = None,
) -> Fit:
    """Return the fit of a squad by a model compiled for its shapes and form."""
    say = progress or (lambda phase, done, total: None)
    began = time.monotonic()
    draws, report = drawn_parameters(
        compiled, squad, seed=seed, effort=effort, form=form, progress=say
    )
    say("smoothing the levels", 0, 1)
    info = FitInfo(
        fit_id=0,
        created_at=datetime.now(UTC).replace(tzinfo=None, microsecond=0),
        data_digest=data_digest,
        seed=seed,
        seconds=time.monotonic() - began,
        report=report,
        versions={name: version(name) for name in PACKAGES},
    )
    return assembled(squad, draws, info, seed)


def drawn_parameters(
    compiled: Any,
    squad: SquadData,
    *,
    seed: int,
    effort: Effort | None = None,
    form: Form = USUAL,
    progress: Progress | None = None,
) -> tuple[dict[str, Floats], SamplerReport]:
    """Return draws of everything that a form samples, by name, with the sampler's report."""
    effort = effort or Effort()
    if effort.target_accept is None and len(squad.players) < SMALL_SQUAD:
        effort = replace(effort, target_accept=SMALL_STEPS)
    say = progress or (lambda phase, done, total: None)
    names = _parameters(squad, form)
    tree, report = well_sampled(
        compiled,
        effort,
        seed,
        names,
        lambda done, total: say("drawing from the posterior", done, total),
    )
    return dict(stacked(tree, names, KEPT_DRAWS)), report


def calibrated(
    fit: Fit,
    shots: pd.DataFrame,
    *,
    seed: int,
    progress: Progress | None = None,
) -> Fit:
    """Return the fit with the drive's constants learned from the squad's balls.

    Without enough ball data the fit comes back as it is, and the published physics serves.
    """
    say = progress or (lambda phase, done, total: None)
    began = time.monotonic()
    say("reading the ball data", 0, 1)
    rows = ball_rows(fit, shots)
    if rows is None:
        return fit
    data = calibration_data(rows, tuple(p.name for p in fit.players))
    tree, physics_report = sampling_new.well_sampled(
        calibration_target(data),
        CALIBRATION_EFFORT,
        seed,
        SAMPLED,
        lambda done, total: say("adapting the physics to your balls", done, total),
    )
    report = fit.info.report.joined(physics_report)
    draws = sampling_new.stacked(tree, ["white", "head"], fit.samples)
    rng = np.random.default_rng([seed, 2])
    physics = calibrated_physics(*constants_and_heads(data, draws), rng)
    seconds = fit.info.seconds + time.monotonic() - began
    return replace(
        fit,
        info=replace(fit.info, report=report, seconds=seconds),
        physics={**physics, **facts_of(fit, physics)},
        ball_check=ball_table(rows, physics, len(fit.players)),
    )


def _parameters(squad: SquadData, form: Form) -> list[str]:
    """Return the names of everything sampled, which is what the report must cover."""
    names = ["mu", "spread", "log_shot_mean", "log_shot_spread", "log_shot_sd"]
    asked = {"drift": form.drift, "session_sd": form.days, "day_alike": form.alike}
    names += [name for name, there in asked.items() if there]
    if len(squad.model.free_method):
        names.append("free_bias")
    if len(squad.model.effect_change):
        names += ["group_effect", "group_spread", "effect"]
    if squad.model.pair_z.shape[1]:
        names += ["pair_mean", "pair_spread"]
    return names
