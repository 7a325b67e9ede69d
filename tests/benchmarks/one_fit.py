"""What one size costs, in a process of its own so that its peak memory is its own.

Run as ``python -m tests.benchmarks.one_fit PLAYERS SESSIONS SHOTS TRAITS HOW`` with HOW one of
``gradient`` (time gradients of every trait), ``sample`` (also draw) and ``stages`` (a table of
single shots with ball data through a whole fit and a threshold, by stage). Prints JSON.
"""

import json
import math
import os
import resource
import sys
import time

import numpy as np

STARTED = time.perf_counter()

from models.sampling.sampler import Effort, LogDensity, well_sampled  # noqa: E402
from models.tendency.data import trait_series  # noqa: E402
from models.tendency.density import tendency_target  # noqa: E402
from models.traits import MODELLED, TRAITS  # noqa: E402
from tests.benchmarks.invented_squad import Size, summaries  # noqa: E402

EFFORT = Effort()


def gradient_us(target: LogDensity, repeats: int = 5, least_s: float = 0.1) -> float:
    """Processor time of one gradient in microseconds, the best of several runs.

    Processor time, since that hardly feels other work on the machine.
    """
    target.log_density(target.start)
    best, calls = math.inf, 1
    while repeats:
        began = time.process_time()
        for _ in range(calls):
            target.log_density(target.start)
        spent = time.process_time() - began
        if spent < least_s:
            calls *= 2
            continue
        best, repeats = min(best, spent / calls), repeats - 1
    return best * 1e6


def by_size(size: Size, draw: bool) -> dict[str, float]:
    """Gradients of all traits together, and what drawing from them costs."""
    data = summaries(size, np.random.default_rng(5))
    targets = []
    for k, trait in enumerate(size.traits):
        prior = TRAITS[trait].prior
        assert prior is not None
        targets.append(tendency_target(trait_series(data, k, prior), prior))
    found = {"gradient_us": sum(gradient_us(target) for target in targets)}
    if draw:
        began, spent = time.perf_counter(), time.process_time()
        reports = [well_sampled(target, EFFORT, 1)[1] for target in targets]
        found["sample_s"] = time.perf_counter() - began
        found["sample_cpu_s"] = time.process_time() - spent
        found["min_ess"] = min(r.min_ess for r in reports)
        found["max_rhat"] = max(r.max_rhat for r in reports)
        found["divergences"] = float(sum(r.divergences for r in reports))
    return found


def by_stage() -> dict[str, float]:
    """Wall seconds of each stage of a fit of an invented academy, in the order they come."""
    from synthetic_data import AcademySpec, make_academy
    from tests.recovery.test_planted_truth import log_of
    from tracker.decisions.verdict.threshold import calibrated_thresholds
    from tracker.fits.fitting import FitRequest, fit_shots

    found = {"imports": time.perf_counter() - STARTED}
    shots, changes = log_of(make_academy(1, AcademySpec()))
    phases: list[tuple[str, float]] = []

    def say(phase, done, total):
        if not phases or phases[-1][0] != phase:
            phases.append((phase, time.perf_counter()))

    began = time.perf_counter()
    fit, _ = fit_shots(shots, changes, FitRequest(references=("photo", "radar")), progress=say)
    ended = time.perf_counter()
    first = dict(reversed(phases))
    last = dict(phases)
    drawn = first["drawing from the posterior"]
    found["first look at the balls"] = drawn - began
    found["sampling"] = last["smoothing the levels"] - drawn
    found["what is left of the smoothing"] = (
        last["reading the ball data"] - last["smoothing the levels"]
    )
    found["calibration"] = ended - last["reading the ball data"]
    began = time.perf_counter()
    calibrated_thresholds(fit, fit.traits[0], logged=False, seed=1)
    found["threshold of one trait"] = time.perf_counter() - began
    found["players"] = len(fit.players)
    return found


def main() -> None:
    players, sessions, shots, traits = (int(v) for v in sys.argv[1:5])
    how = sys.argv[5]
    if how == "stages":
        found = by_stage()
    else:
        found = by_size(Size(players, sessions, shots, MODELLED[:traits]), how == "sample")
    found["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    found["load"] = os.getloadavg()[0]
    print(json.dumps(found))


if __name__ == "__main__":
    main()
