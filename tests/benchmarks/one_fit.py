"""What one size costs, in a process of its own so that its peak memory is its own.

Run as ``python -m tests.benchmarks.one_fit PLAYERS SESSIONS SHOTS TRAITS HOW`` with HOW one of
``gradient`` (compile, time gradients), ``sample`` (also draw) and ``fit`` (a table of single
shots through ``squad_data`` and ``sample_squad``, levels smoothed). Prints JSON.
"""

import json
import os
import resource
import sys
import time

import numpy as np

from models.sampling import Effort, compile_model, sample, sampler_report
from models.tendency import TendencyPriors, build_tendency_model
from models.traits import MODELLED, TRAITS
from tests.benchmarks.compiled_density import CompiledDensity
from tests.benchmarks.invented_squad import Size, invented, shot_table, shot_values, summaries
from tracker.dataset import squad_data
from tracker.fitting import sample_squad

EFFORT = Effort(draws=1000, tune=600, chains=4)
SHARED = ["mu", "spread", "drift", "session_sd", "log_shot_mean", "log_shot_spread", "log_shot_sd"]


def main() -> None:
    players, sessions, shots, traits = (int(v) for v in sys.argv[1:5])
    how = sys.argv[5]
    names = MODELLED[:traits]
    size = Size(players, sessions, shots, names)
    rng = np.random.default_rng(5)
    found: dict[str, float] = {}
    squad = None
    if how == "fit":
        truth = invented(size, rng)
        table = shot_table(truth, shot_values(truth, shots, rng), names)
        began = time.perf_counter()
        squad = squad_data(table, (), traits=names)
        found["summaries_s"] = time.perf_counter() - began
        data = squad.model
    else:
        data = summaries(size, rng)
    began = time.perf_counter()
    priors = TendencyPriors.from_table(tuple(TRAITS[t].prior for t in names))
    compiled = compile_model(build_tendency_model(data, priors))
    found["compile_s"] = time.perf_counter() - began
    density = CompiledDensity(compiled)
    point = np.asarray(compiled.initial_point_func(1))
    found["gradient_us"] = density.gradient_us(point)
    if how != "gradient":
        began, spent = time.perf_counter(), time.process_time()
        if squad is not None:
            report = sample_squad(compiled, squad, seed=1, effort=EFFORT).info.report
        else:
            report = sampler_report(sample(compiled, EFFORT, 1), SHARED)
        found["sample_s"] = time.perf_counter() - began
        found["sample_cpu_s"] = time.process_time() - spent
        found["min_ess"] = report.min_ess
        found["max_rhat"] = report.max_rhat
        found["divergences"] = float(report.divergences)
    found["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    found["load"] = os.getloadavg()[0]
    print(json.dumps(found))


if __name__ == "__main__":
    main()
