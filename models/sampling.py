"""How a PyMC model is compiled and sampled, with the report that must travel with its draws."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import arviz as az
import numpy as np
import nutpie
import pymc as pm
import xarray as xr
from numpy.typing import NDArray

from models.sampler_report import SamplerReport
from models.short_numba_error import shorten

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
"""Called with draws done and draws in all, warm-up included."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How much to sample: draws kept and warm-up draws a chain, and chains.

    ``target_accept`` sets how small the steps are; little data wants small ones.
    """

    draws: int = 1200
    tune: int = 500
    chains: int = 4
    cores: int | None = None
    target_accept: float | None = None


TARGET_ACCEPT = 0.85
AGAIN = 1_000_003
"""Added to the seed of a second attempt."""


def compile_model(model: pm.Model) -> Any:
    """Return the compiled model; tens of seconds at worst, once a process."""
    shorten()
    return nutpie.compile_pymc_model(model)


def sample(
    compiled: Any, effort: Effort, seed: int, progress: Progress | None = None
) -> xr.DataTree:
    """Return posterior and sampler statistics of a compiled model.

    ``progress`` runs on another thread, about four times a second.
    """
    lock = threading.Lock()

    def report(chains: list[Any]) -> None:
        if progress is not None:
            with lock:
                progress(
                    sum(c.finished_draws for c in chains),
                    effort.chains * (effort.draws + effort.tune),
                )

    tree: xr.DataTree = nutpie.sample(
        compiled,
        draws=effort.draws,
        tune=effort.tune,
        chains=effort.chains,
        cores=effort.cores,
        seed=seed,
        target_accept=effort.target_accept or TARGET_ACCEPT,
        save_warmup=False,
        progress_bar=False,
        progress_callback=report,
        progress_rate=250,
    )
    return tree


def well_sampled(
    compiled: Any,
    effort: Effort,
    seed: int,
    names: list[str],
    progress: Progress | None = None,
) -> tuple[xr.DataTree, SamplerReport]:
    """Return draws with the report on some variables.

    Draws whose report has problems are taken once more, with twice the warm-up and draws: among
    hundreds of variables one chain in a long while wanders by chance. What is wrong then stays in
    the report.
    """
    tree = sample(compiled, effort, seed, progress)
    report = sampler_report(tree, names)
    if not report.problems:
        return tree, report
    twice = replace(effort, draws=2 * effort.draws, tune=2 * effort.tune)
    tree = sample(compiled, twice, seed + AGAIN, progress)
    return tree, sampler_report(tree, names)


def sampler_report(tree: xr.DataTree, names: list[str]) -> SamplerReport:
    """Return divergences, the largest rank R-hat and the smallest bulk ESS of some variables."""
    posterior = tree["posterior"].dataset[names]
    divergences = int(tree["sample_stats"].dataset["diverging"].sum())
    rhat = az.rhat(posterior, method="rank")
    ess = az.ess(posterior, method="bulk")
    smallest = {name: float(np.min(ess[name].to_numpy(), initial=np.inf)) for name in names}
    largest = {name: float(np.max(rhat[name].to_numpy(), initial=1.0)) for name in names}
    worst = min(names, key=lambda name: -np.inf if np.isnan(smallest[name]) else smallest[name])
    return SamplerReport(
        divergences=divergences,
        max_rhat=float(np.max(list(largest.values()))),
        min_ess=smallest[worst],
        worst=worst,
    )


def stacked(tree: xr.DataTree, names: list[str], keep: int) -> Mapping[str, Floats]:
    """Return ``keep`` evenly spaced draws by name, chains joined, shape ``(sample, ...)``."""
    posterior = tree["posterior"].dataset
    chains, draws = posterior.sizes["chain"], posterior.sizes["draw"]
    total = chains * draws
    places = np.linspace(0, total - 1, min(keep, total)).round().astype(int)
    found = {}
    for name in names:
        values = posterior[name].transpose("chain", "draw", ...).to_numpy()
        found[name] = values.reshape(total, *values.shape[2:])[places].astype(np.float64)
    return found
