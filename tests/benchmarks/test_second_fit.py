"""How long a process that has fitted once takes to start sampling again."""

import time

import numpy as np
import pytest

from models.sampling.sampler import Effort
from tests.benchmarks.invented_squad import Size, invented, shot_table, shot_values
from tracker.fits.dataset import squad_data
from tracker.fits.fitting import fit_squad

pytestmark = pytest.mark.bench

WANTED_S = 2.0
EFFORT = Effort(draws=100, tune=100, chains=2)


def seconds_to_the_first_draw(squad):
    begun = time.perf_counter()
    first = []

    def say(phase, done, total):
        if phase == "drawing from the posterior" and not first:
            first.append(time.perf_counter() - begun)

    fit_squad(squad, seed=1, effort=EFFORT, progress=say)
    return first[0]


def test_a_second_fit_samples_within_two_seconds(capsys):
    """The log grows by a session of every player; the readings are others."""
    size = Size(14, 11, 15)
    rng = np.random.default_rng(3)
    truth = invented(size, rng)
    table = shot_table(truth, shot_values(truth, size.shots, rng), size.traits)
    last = table.groupby("player")["session"].transform("max")
    before = squad_data(table[table["session"] < last], (), traits=size.traits)
    after = squad_data(table, (), traits=size.traits)
    assert after.model.count.shape[2] == before.model.count.shape[2] + 1
    first, second = seconds_to_the_first_draw(before), seconds_to_the_first_draw(after)
    with capsys.disabled():
        print(
            f"\nuntil the first draws: first fit {first:.2f} s, second {second:.2f} s "
            f"({first / second:.0f} x), wanted <= {WANTED_S} s"
        )
    assert second <= WANTED_S
