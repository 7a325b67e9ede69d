"""How a log density is sampled, with the report that must travel with its draws.

A density comes as a ``Target``: a function of an unconstrained vector with its gradient, and how
that vector reads by name. Everything that knows the sampler is in this file.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import arviz as az
import numpy as np
import nutpie
import xarray as xr
from numpy.typing import NDArray
from nutpie.compiled_pyfunc import from_pyfunc
from scipy.optimize import minimize

from models.sampler_report import SamplerReport

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
"""Called with draws done and draws in all, warm-up included."""


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """A log density to be sampled.

    ``log_density`` takes an unconstrained vector of ``size`` and returns the log density with its
    gradient; a density that is not finite is -inf. It should leave the interpreter free.
    """

    size: int
    log_density: Callable[[Floats], tuple[float, Floats]]
    named: Callable[[Floats], Mapping[str, Floats]]
    """Turns unconstrained vectors, (..., size), into parameters by name, (..., *shape)."""
    start: Floats
    """Where chains set out, before each moves a little at random."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How much to sample: draws kept and warm-up draws a chain, and chains.

    ``target_accept`` sets how small the steps of a first attempt are.
    """

    draws: int = 400
    tune: int = 250
    chains: int = 4
    cores: int | None = None
    target_accept: float = 0.93


SMALLER_STEPS = (0.97, 0.99)
"""Acceptance asked for by a second and a third attempt: smaller steps, not only more of them."""
TOP_UPS = 2
"""How often chains that only need more draws are joined by as many others."""
TOP_UP = 31_337
"""Added to the seed of each set of further chains."""
AGAIN = 1_000_003
"""Added to the seed of each further attempt."""
JITTER = 0.1
"""SD of the starting points around ``Target.start``, in unconstrained units."""


def sample(
    target: Target, effort: Effort, seed: int, progress: Progress | None = None
) -> xr.DataTree:
    """Return posterior and sampler statistics of a target.

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

    shapes = {name: np.shape(value) for name, value in target.named(target.start).items()}

    def expand(x: Floats) -> dict[str, Floats]:
        return {name: np.asarray(value, np.float64) for name, value in target.named(x).items()}

    def initial(chain_seed: int) -> Floats:
        rng = np.random.default_rng([seed, chain_seed % 2**32])
        return target.start + JITTER * rng.standard_normal(target.size)

    compiled = from_pyfunc(
        target.size,
        lambda: target.log_density,
        lambda *_: expand,
        [np.dtype("float64")] * len(shapes),
        list(shapes.values()),
        list(shapes),
        make_initial_point_fn=initial,
    )
    tree: xr.DataTree = nutpie.sample(
        compiled,
        draws=effort.draws,
        tune=effort.tune,
        chains=effort.chains,
        cores=effort.cores,
        seed=seed,
        target_accept=effort.target_accept,
        save_warmup=False,
        progress_bar=False,
        progress_callback=report,
        progress_rate=250,
    )
    return tree


def well_sampled(
    target: Target,
    effort: Effort,
    seed: int,
    names: Sequence[str] = (),
    progress: Progress | None = None,
) -> tuple[xr.DataTree, SamplerReport]:
    """Return draws with the report on some variables, by default on all.

    Chains without a divergence that are only too short are joined by as many others. Draws that
    diverge are thrown away and taken again with smaller steps, up to twice. What is wrong then
    stays in the report, which counts the attempts.
    """
    for attempt, accept in enumerate((effort.target_accept, *SMALLER_STEPS), start=1):
        now = replace(effort, target_accept=max(accept, effort.target_accept))
        start = seed + (attempt - 1) * AGAIN
        tree = sample(target, now, start, progress)
        report = sampler_report(tree, names)
        for more in range(1, TOP_UPS + 1):
            if report.divergences or not report.problems:
                break
            tree = _joined(tree, sample(target, now, start + more * TOP_UP, progress))
            report = sampler_report(tree, names)
        report = replace(report, attempts=attempt)
        if not report.problems:
            break
    return tree, report


def _joined(first: xr.DataTree, second: xr.DataTree) -> xr.DataTree:
    """Return the chains of both."""
    groups = {
        name: xr.concat(
            [first[name].dataset, second[name].dataset], dim="chain", join="outer"
        ).assign_coords(chain=np.arange(first[name].sizes["chain"] + second[name].sizes["chain"]))
        for name in ("posterior", "sample_stats")
    }
    tree: xr.DataTree = xr.DataTree.from_dict(groups)
    return tree


def sampler_report(tree: xr.DataTree, names: Sequence[str] = ()) -> SamplerReport:
    """Return divergences, the largest rank R-hat and the smallest ESS, in bulk and tails."""
    posterior = tree["posterior"].dataset
    posterior = posterior[list(names) or [n for n in posterior.data_vars if posterior[n].size]]
    divergences = int(tree["sample_stats"].dataset["diverging"].sum())
    rhat = az.rhat(posterior, method="rank")
    ess = az.ess(posterior, method="bulk")
    tail = az.ess(posterior, method="tail", prob=(0.05, 0.95))
    smallest = {str(n): float(np.min(ess[n].to_numpy(), initial=np.inf)) for n in posterior}
    largest = [float(np.max(rhat[n].to_numpy(), initial=1.0)) for n in posterior]
    worst = min(smallest, key=lambda n: -np.inf if np.isnan(smallest[n]) else smallest[n])
    return SamplerReport(
        divergences=divergences,
        max_rhat=float(np.max(largest)),
        min_ess=smallest[worst],
        worst=worst,
        min_tail_ess=float(min(np.min(tail[n].to_numpy(), initial=np.inf) for n in posterior)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Peak:
    """The highest point of a target and the covariance of a normal as curved as it is there."""

    point: Floats
    covariance: Floats

    def draws(self, number: int, rng: np.random.Generator) -> Floats:
        """Return unconstrained draws of that normal, (number, size)."""
        root = np.linalg.cholesky(self.covariance)
        return np.asarray(self.point + rng.standard_normal((number, self.point.size)) @ root.T)


def peak(target: Target) -> Peak:
    """Return the mode of a target and its curvature, by gradients alone (Laplace 1774).

    Good enough for a first look, such as which readings the ball can stand in for; never quoted.
    """

    def falling(x: Floats) -> tuple[float, Floats]:
        value, slope = target.log_density(x)
        return -value, -slope

    point = minimize(falling, target.start, jac=True, method="L-BFGS-B").x
    step = 1e-3
    curve = np.empty((target.size, target.size))
    for i in range(target.size):
        ahead, behind = point.copy(), point.copy()
        ahead[i] += step
        behind[i] -= step
        curve[i] = (falling(ahead)[1] - falling(behind)[1]) / (2 * step)
    values, vectors = np.linalg.eigh((curve + curve.T) / 2)
    # a prior is never flatter than this, so that a ridge does not throw draws to infinity
    values = np.maximum(values, 0.25)
    return Peak(point, (vectors / values) @ vectors.T)


def stacked(tree: xr.DataTree, names: Sequence[str], keep: int) -> Mapping[str, Floats]:
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
