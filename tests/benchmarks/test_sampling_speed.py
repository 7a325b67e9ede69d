"""Effective draws a second: one trait by the compiled density, and shot by shot.

Both stand for the same priors and the same squad. Seconds cover warm-up and draws, and for the
levels also drawing them; compiling apart. Ratios are taken in processor seconds, which other work
on the machine hardly touches; wall seconds stand beside them. ESS is ArviZ's rank-normalised bulk
ESS, the smallest over the parameters that both sample.
"""

import os
import time
from dataclasses import dataclass

import arviz as az
import numpy as np
import pytest
import xarray as xr

from models.sampling.sampler import Effort, sample, stacked
from models.tendency.data import trait_series
from models.tendency.density import tendency_target
from models.tendency.smoother import smoothed
from models.traits import TRAITS
from tests.benchmarks.invented_squad import Size, invented, shot_table, shot_values, weeks
from tests.reference.one_trait import sampled_model
from tests.reference.shot_level import SHARED, ShotReadings, build_shot_level_model
from tracker.fits.dataset import squad_data

pytestmark = pytest.mark.bench

TRAIT = "strike_up_mm"
SMALL = Size(12, 10, 15, (TRAIT,))
EFFORT = Effort(draws=1000, tune=400, chains=2)
PLAIN = Effort(draws=200, tune=300, chains=2)
"""The plain model is far slower: short chains, enough to tell its rate."""

LEAST_RATIO = 10.0


@dataclass(frozen=True, slots=True)
class Rate:
    """Effective draws of the worst parameter and the seconds they took; ``wall`` by the clock."""

    ess: float
    worst_rhat: float
    seconds: float
    wall: float

    @property
    def per_s(self) -> float:
        return self.ess / self.seconds

    def line(self, name: str) -> str:
        return (
            f"{name}: {self.ess:.0f} effective draws in {self.seconds:.1f} processor seconds -> "
            f"{self.per_s:.2f}/s (largest R-hat {self.worst_rhat:.3f}); wall {self.wall:.1f} s, "
            f"load {os.getloadavg()[0]:.1f}"
        )


def rate(tree: xr.DataTree, seconds: float, wall: float) -> Rate:
    posterior = tree["posterior"].dataset[list(SHARED)]
    ess, rhat = az.ess(posterior, method="bulk"), az.rhat(posterior, method="rank")
    return Rate(
        min(float(ess[n].min()) for n in SHARED),
        max(float(rhat[n].max()) for n in SHARED),
        seconds,
        wall,
    )


def test_against_the_plain_shot_level_model(capsys):
    rng = np.random.default_rng(7)
    truth = invented(SMALL, rng)
    values = shot_values(truth, SMALL.shots, rng)
    prior = TRAITS[TRAIT].prior
    squad = squad_data(shot_table(truth, values, SMALL.traits), (), traits=SMALL.traits)
    series = trait_series(squad.model, 0, prior)
    target = tendency_target(series, prior)
    sample(target, Effort(draws=20, tune=20, chains=1), 1)  # loads the compiled functions

    began, clock = time.process_time(), time.perf_counter()
    tree = sample(target, EFFORT, 1)
    smoothed(stacked(tree, list(target.named(target.start)), 1000), series, rng)
    ours = rate(tree, time.process_time() - began, time.perf_counter() - clock)

    p, s, _, _ = (a.ravel() for a in np.indices(values.shape))
    readings = ShotReadings(
        players=squad.model.players, week=weeks(truth), player_idx=p, session_idx=s,
        value=values.ravel(), reading_sd=np.full(p.size, truth.reading_sd[0]),
    )  # fmt: skip
    model = build_shot_level_model(readings, prior)
    began, clock = time.process_time(), time.perf_counter()
    sampled_model(model, Effort(draws=1, tune=1, chains=1), 1)
    compiling = time.process_time() - began, time.perf_counter() - clock
    began, clock = time.process_time(), time.perf_counter()
    plain_tree = sampled_model(model, PLAIN, 1)
    plain = rate(
        plain_tree,
        time.process_time() - began - compiling[0],
        time.perf_counter() - clock - compiling[1],
    )
    ratio = ours.per_s / plain.per_s
    with capsys.disabled():
        print(f"\n{SMALL.words}, {os.cpu_count()} cores")
        print(ours.line("this model, 2 x (400 + 1000), levels drawn"))
        print(plain.line("plain shot-level model, 2 x (300 + 200)"))
        print(f"ratio {ratio:.0f} by processor time")
    assert ours.worst_rhat < 1.02
    assert ratio >= LEAST_RATIO
