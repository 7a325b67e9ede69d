"""The same data and seed give the same numbers, from any cache and on any number of cores."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

CHILD = """
import hashlib, os, sys
if sys.argv[1] == "one":
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
import numpy as np
from models.sampling.sampler import Effort
from synthetic_data import AcademySpec, make_academy
from tests.recovery.test_planted_truth import log_of
from tracker.fits.fitting import FitRequest, fit_shots
academy = make_academy(3, AcademySpec(players=5, sessions=5, shots=(8, 10)))
shots, changes = log_of(academy)
effort = Effort(draws=120, tune=120, chains=2)
fit, _ = fit_shots(shots, changes, FitRequest(5, effort, ("photo", "radar")))
digest = hashlib.sha256()
for part in (fit.level, fit.shot_sd, fit.bias, *(fit.physics[n] for n in sorted(fit.physics))):
    digest.update(np.ascontiguousarray(part).tobytes())
print(digest.hexdigest())
"""


def digest(cores: str, cache: Path | None) -> str:
    environment = {k: v for k, v in os.environ.items() if "NUMBA_CACHE_DIR" not in k}
    if cache is not None:
        environment["NUMBA_CACHE_DIR"] = str(cache)
    done = subprocess.run(
        [sys.executable, "-c", CHILD, cores],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.splitlines()[-1]


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="cores cannot be chosen here")
def test_cold_or_warm_cache_one_core_or_all_the_numbers_are_the_same(tmp_path):
    cold = digest("all", tmp_path / "cache")
    assert any((tmp_path / "cache").rglob("*.nbi"))
    assert digest("all", tmp_path / "cache") == cold
    assert digest("one", tmp_path / "cache") == cold
