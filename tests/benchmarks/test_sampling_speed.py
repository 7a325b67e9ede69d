"""Effective draws a second: this model against the plain shot-level one, and against NumPyro.

All three stand for the same priors and the same squad. Seconds cover warm-up and draws, compiling
apart; levels count the time of drawing them too. Ratios are taken in processor seconds, which
other work on the machine hardly touches; wall seconds stand beside them. ESS is ArviZ's
rank-normalised bulk ESS, the smallest over squad SDs (and over levels where a model has them).
"""

import importlib.util
import os
import subprocess
import sys
import time
from dataclasses import dataclass

import arviz as az
import numpy as np
import pytest
import xarray as xr
from models.smoother import smooth_levels
from tests.benchmarks.compiled_density import CompiledDensity

from models.sampling import TARGET_ACCEPT, Effort, sample
from models.tendency import TendencyPriors
from models.traits import MODELLED, TRAITS
from tests.benchmarks.invented_squad import Size, invented, shot_table, shot_values, weeks
from tests.reference.shot_level import ShotReadings, build_shot_level_model
from tracker.dataset import SquadData, squad_data
from tracker.fitting import compile_squad

pytestmark = pytest.mark.bench

SCALES = ("spread", "drift", "session_sd", "log_shot_spread")
OTHERS = ("mu", "log_shot_mean", "log_shot_sd", "pair_mean", "pair_spread")
SMALL = Size(40, 25, 20)
EFFORT = Effort(draws=1500, tune=1000, chains=4)
PLAIN = Effort(draws=300, tune=300, chains=2)
"""The plain model is some hundred times slower: short chains, enough to tell its rate."""

LEAST_PLAIN_RATIO = 300.0


@dataclass(frozen=True, slots=True)
class Rate:
    """Effective draws of the worst scale and the worst level, and the seconds they took.

    ``seconds`` and ``level_seconds`` are processor time, ``wall`` is the clock's.
    """

    scale_ess: float
    level_ess: float
    seconds: float
    level_seconds: float
    wall: float
    worst_rhat: float

    @property
    def worst(self) -> float:
        """Effective draws a second of the slowest quantity."""
        return min(self.scale_ess / self.seconds, self.level_ess / self.level_seconds)

    def line(self, name: str) -> str:
        return (
            f"{name}: scales {self.scale_ess:.0f} effective draws in {self.seconds:.1f} processor "
            f"seconds, levels {self.level_ess:.0f} in {self.level_seconds:.1f} -> "
            f"{self.worst:.2f}/s (largest R-hat of a scale {self.worst_rhat:.3f}); wall "
            f"{self.wall:.1f} s, load {os.getloadavg()[0]:.1f}"
        )


def smallest_ess(values: dict[str, np.ndarray]) -> tuple[float, float]:
    """Smallest bulk ESS and largest R-hat of arrays (chain, draw, ...)."""
    data = xr.Dataset(
        {n: (("chain", "draw", *(f"{n}{i}" for i in range(v.ndim - 2))), v)
         for n, v in values.items()}
    )  # fmt: skip
    ess, rhat = az.ess(data, method="bulk"), az.rhat(data, method="rank")
    return (
        min(float(ess[n].min()) for n in values),
        max(float(rhat[n].max()) for n in values),
    )


def some_sessions(level: np.ndarray) -> np.ndarray:
    """First, middle and last session of every player: levels are many and alike."""
    return level[..., [0, level.shape[-2] // 2, -1], :]


def product_rate(squad: SquadData, compiled: object) -> tuple[Rate, xr.Dataset]:
    began, clock = time.process_time(), time.perf_counter()
    tree = sample(compiled, EFFORT, 1)
    seconds, wall = time.process_time() - began, time.perf_counter() - clock
    posterior = tree["posterior"].dataset
    chains, draws = posterior.sizes["chain"], posterior.sizes["draw"]
    flat = {
        name: posterior[name].transpose("chain", "draw", ...).to_numpy().reshape(
            chains * draws, *posterior[name].shape[2:])
        for name in ("mu", "spread", "drift", "session_sd", "log_shot_sd")
    }  # fmt: skip
    model = squad.model
    began = time.process_time()
    level = smooth_levels(
        {**flat, "bias": np.zeros((chains * draws, *model.reading_sd.shape))},
        count=model.count, mean=model.mean, gap=model.gap, reading_sd=model.reading_sd,
        step=np.zeros((chains * draws, *model.count.shape[1:])), rng=np.random.default_rng(2),
    )  # fmt: skip
    smoothing = time.process_time() - began
    scales = {n: posterior[n].transpose("chain", "draw", ...).to_numpy() for n in SCALES}
    scale_ess, rhat = smallest_ess(scales)
    level_ess, _ = smallest_ess(
        {"level": some_sessions(level).reshape(chains, draws, len(model.players), 3, -1)}
    )
    return Rate(scale_ess, level_ess, seconds, seconds + smoothing, wall, rhat), posterior


def made_squad(size: Size) -> tuple[SquadData, ShotReadings]:
    rng = np.random.default_rng(7)
    truth = invented(size, rng)
    values = shot_values(truth, size.shots, rng)
    squad = squad_data(shot_table(truth, values, size.traits), (), traits=size.traits)
    at = np.indices(values.shape).reshape(4, -1)
    readings = ShotReadings(
        players=squad.model.players, traits=size.traits, week=weeks(truth), player_idx=at[0],
        session_idx=at[1], trait_idx=at[3], value=values.ravel(),
        reading_sd=truth.reading_sd[at[3]],
    )  # fmt: skip
    return squad, readings


def priors(traits: tuple[str, ...]) -> TendencyPriors:
    return TendencyPriors.from_table(tuple(TRAITS[t].prior for t in traits))


def plain_rate(readings: ShotReadings) -> Rate:
    import nutpie

    model = build_shot_level_model(readings, priors(readings.traits))
    compiled = nutpie.compile_pymc_model(model)
    began, clock = time.process_time(), time.perf_counter()
    tree = sample(compiled, PLAIN, 1)
    seconds, wall = time.process_time() - began, time.perf_counter() - clock
    posterior = tree["posterior"].dataset
    scales = {n: posterior[n].transpose("chain", "draw", ...).to_numpy() for n in SCALES}
    scale_ess, rhat = smallest_ess(scales)
    level = posterior["level"].transpose("chain", "draw", ...).to_numpy()
    level_ess, _ = smallest_ess({"level": some_sessions(level)})
    return Rate(scale_ess, level_ess, seconds, seconds, wall, rhat)


@pytest.fixture(scope="module")
def small() -> tuple[SquadData, ShotReadings]:
    return made_squad(SMALL)


@pytest.fixture(scope="module")
def small_compiled(small) -> object:
    return compile_squad(small[0])


@pytest.fixture(scope="module")
def small_rate(small, small_compiled) -> tuple[Rate, xr.Dataset]:
    sample(small_compiled, Effort(draws=50, tune=50, chains=2), 1)
    return product_rate(small[0], small_compiled)


def test_against_the_plain_shot_level_model(small, small_rate, capsys):
    squad, readings = small
    rate, _ = small_rate
    plain = plain_rate(readings)
    wide = Size(SMALL.players, SMALL.sessions, SMALL.shots, MODELLED)
    seven, _ = made_squad(wide)
    wide_rate, _ = product_rate(seven, compile_squad(seven))
    ratio = rate.worst / plain.worst
    with capsys.disabled():
        print(f"\n{SMALL.words}")
        print(rate.line("this model, 4 x (1000 + 1500)"))
        print(plain.line("plain shot-level model, 2 x (300 + 300)"))
        wall_ratio = ratio * rate.level_seconds / rate.wall * plain.wall / plain.seconds
        print(f"ratio {ratio:.0f} by processor time, about {wall_ratio:.0f} by wall time")
        print(wide_rate.line(f"this model, {wide.words}"))
    assert squad.shots == SMALL.players * SMALL.sessions * SMALL.shots
    assert rate.worst_rhat < 1.01
    assert ratio >= LEAST_PLAIN_RATIO


POSITIVE = ("spread", "drift", "session_sd", "log_shot_spread", "pair_spread")


def test_against_numpyro_on_the_same_marginal_model(small, small_compiled, small_rate, tmp_path,
                                                    capsys):  # fmt: skip
    if importlib.util.find_spec("numpyro") is None:
        pytest.skip("numpyro is not installed; make bench installs it")
    squad, _ = small
    rate, posterior = small_rate
    density = CompiledDensity(small_compiled)
    names = [*SCALES, *OTHERS]
    free = unconstrained(posterior, small_compiled, names)
    rng = np.random.default_rng(3)
    chosen = free["all"].reshape(-1, density.size)[rng.integers(0, 4 * EFFORT.draws, 8)]
    points = np.concatenate([chosen, chosen[:4] + rng.normal(0, 0.3, (4, density.size))])
    ours = [density(p) for p in points]
    other = run_numpyro(squad, small_compiled, points, tmp_path)

    away = np.array([v for v, _ in ours]) - other["density"]
    assert np.ptp(away) < 1e-7 * abs(ours[0][0])
    by_jax = flattened(small_compiled, {n: other[f"gradient_{n}"] for n in names})
    np.testing.assert_allclose(by_jax, [g for _, g in ours], rtol=1e-7, atol=1e-6)

    draws = {n: other[f"draw_{n}"] for n in SCALES}
    ess, rhat = smallest_ess(draws)
    numpyro_rate = ess / float(other["seconds"])
    own = rate.scale_ess / rate.seconds
    gradient = density.gradient_us(points[0])
    for name in SCALES:  # the two samplers' answers agree within 6 Monte Carlo errors
        mine = posterior[name].transpose("chain", "draw", ...).to_numpy()
        error = 6 * mine.std(axis=(0, 1)) * np.sqrt(1 / rate.scale_ess + 1 / ess)
        assert np.all(np.abs(mine.mean(axis=(0, 1)) - draws[name].mean(axis=(0, 1))) < error)
    with capsys.disabled():
        print(f"\n{SMALL.words}; log densities apart by at most {np.ptp(away):.1e} at 12 points")
        print(f"this model: {rate.scale_ess:.0f} in {rate.seconds:.1f} processor seconds = "
              f"{own:.0f}/s (wall {rate.wall:.1f} s), gradient {gradient:.0f} us")  # fmt: skip
        print(
            f"NumPyro NUTS, same chains and draws ({other['versions']}): {ess:.0f} in "
            f"{float(other['seconds']):.1f} processor seconds = {numpyro_rate:.1f}/s (wall "
            f"{float(other['wall_s']):.1f} s), R-hat {rhat:.3f}, gradient "
            f"{float(other['gradient_us']):.0f} us, first run with compiling "
            f"{float(other['first_s']):.0f} s wall"
        )
        wall_ratio = rate.scale_ess / rate.wall / (ess / float(other["wall_s"]))
        print(f"ratio {own / numpyro_rate:.1f} by processor time, {wall_ratio:.1f} by wall time")
    assert own > numpyro_rate


def parameter_slices(compiled) -> dict[str, tuple[slice, tuple[int, ...]]]:
    """Where each parameter lies in the sampler's flat point, by its plain name."""
    found, at = {}, 0
    for name, _, shape in zip(*compiled.shape_info, strict=True):
        plain = name.removesuffix("_log__")
        size = int(np.prod(shape))
        found[plain] = (slice(at, at + size), tuple(shape))
        at += size
        if at == compiled.n_dim:
            break
    return found


def flattened(compiled, parts: dict[str, np.ndarray]) -> np.ndarray:
    first = next(iter(parts.values()))
    flat = np.empty((len(first), compiled.n_dim))
    for name, (where, _) in parameter_slices(compiled).items():
        flat[:, where] = parts[name].reshape(len(first), -1)
    return flat


def unconstrained(posterior, compiled, names) -> dict[str, np.ndarray]:
    parts = {}
    for name in names:
        v = posterior[name].transpose("chain", "draw", ...).to_numpy()
        v = v.reshape(-1, *v.shape[2:])
        parts[name] = np.log(v) if name in POSITIVE else v
    return {"all": flattened(compiled, parts)}


def run_numpyro(squad: SquadData, compiled, points: np.ndarray, folder) -> dict[str, np.ndarray]:
    model, table = squad.model, priors(squad.model.traits)
    parts = {
        f"point_{name}": points[:, where].reshape(len(points), *shape)
        for name, (where, shape) in parameter_slices(compiled).items()
    }
    known = np.isfinite(model.pair_variance)
    np.savez(
        folder / "given.npz",
        draws=EFFORT.draws, tune=EFFORT.tune, accept=TARGET_ACCEPT,
        mean_0=table.mean, mean_sd=table.mean_sd, between=table.between_scale,
        drift=table.drift_scale, session=table.session_scale, shot_sd=table.shot_sd,
        log_spread=table.log_shot_sd_spread, count=model.count[0], mean=model.mean[0],
        scatter=model.scatter[0], scatter_df=model.scatter_df[0], reading_sd=model.reading_sd[0],
        gap=model.gap, pair_z=np.where(known, model.pair_z, 0),
        pair_variance=np.where(known, model.pair_variance, 1e12), **parts,
    )  # fmt: skip
    script = __file__.replace("test_sampling_speed", "jax_marginal")
    said = subprocess.run(
        [sys.executable, script, str(folder / "given.npz"), str(folder / "found.npz"),
         str(EFFORT.chains)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    found = dict(np.load(folder / "found.npz"))
    return {**found, "versions": said.stdout.strip()}
