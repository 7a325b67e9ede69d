"""How a log density is sampled, with the report that must travel with its draws.

A density comes as a ``LogDensity``: a function of an unconstrained vector with its gradient, and
how that vector reads by name. Everything that knows the sampler is in this file. One that brings
its density as machine code (``Compiled``) is sampled without the interpreter, chains side by side;
any other through Python, one call at a time.
"""

import functools
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import arviz as az
import numba
import numpy as np
import nutpie
import xarray as xr
from numba import types
from nutpie.compile_pymc import CompiledPyMCModel
from nutpie.compiled_pyfunc import from_pyfunc
from nutpie.sample import CompiledModel
from scipy.optimize import minimize

from models.arrays import Floats
from models.sampling.report import SamplerReport

Progress = Callable[[int, int], None]
"""Called with draws done and draws in all, warm-up included."""


_NUMBER = types.CPointer(types.double)
DENSITY_SIGNATURE = types.int64(types.uint64, _NUMBER, _NUMBER, _NUMBER, types.voidptr)
"""Of a density as the sampler calls it: size, vector, gradient and log density out, data."""
_COPY_SIGNATURE = types.int64(types.uint64, types.uint64, _NUMBER, _NUMBER, types.voidptr)
NOT_FINITE = 4
"""What a density answers where it is not finite: the sampler takes it for a divergence."""


class MachineCode(Protocol):
    """A compiled function that is called by its address, without the interpreter."""

    @property
    def address(self) -> int:
        """Where the function begins."""


@dataclass(frozen=True, slots=True, eq=False)
class Compiled:
    """A log density as machine code.

    ``callback`` has ``DENSITY_SIGNATURE``: it is ``answered`` of a compiled function of what was
    ``asked``; ``data`` is what that function takes besides.
    """

    callback: MachineCode
    data: Floats


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def asked(size: int, vector: Any, held: Any) -> Any:
    """Return the point start + factor z that the sampler asks about, and the density's data.

    ``held`` is one vector: its own length, ``start``, ``factor`` (size, size), the density's data.
    """
    length = int(numba.carray(held, (1,), np.float64)[0])
    data = numba.carray(held, (length,), np.float64)
    z = numba.carray(vector, (size,))
    x, first = data[1 : 1 + size].copy(), 1 + size
    for i in range(size):
        for j in range(size):
            x[i] += data[first + i * size + j] * z[j]
    return x, data[first + size * size :]


@numba.njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def answered(
    size: int, found: float, slope: Floats, held: Any, gradient: Any, log_density: Any
) -> int:
    """Hand a log density and its gradient at ``asked`` to the sampler, by z; return its code."""
    data = numba.carray(held, (1 + size + size * size,), np.float64)
    by_z, value = numba.carray(gradient, (size,)), numba.carray(log_density, (1,))
    by_z[:] = 0.0
    for i in range(size):
        for j in range(size):
            by_z[j] += data[1 + size + i * size + j] * slope[i]
    value[0] = found
    return 0 if np.isfinite(found) and np.all(np.isfinite(by_z)) else NOT_FINITE


def _copied(size: int, expanded: int, vector: Any, out: Any, _: Any) -> int:
    given, told = numba.carray(vector, (size,)), numba.carray(out, (size,))
    for i in range(size):  # copying as a slice takes Numba seconds to compile
        told[i] = given[i]
    return 0


@dataclass(frozen=True, slots=True, eq=False)
class LogDensity:
    """A log density to be sampled.

    ``log_density`` takes an unconstrained vector of ``size`` and returns the log density with its
    gradient; a density that is not finite is -inf.
    """

    size: int
    log_density: Callable[[Floats], tuple[float, Floats]]
    named: Callable[[Floats], Mapping[str, Floats]]
    """Turns unconstrained vectors, (..., size), into parameters by name, (..., *shape)."""
    start: Floats
    """Where chains set out, before each moves a little at random."""
    factor: Floats | None = None
    """(size, size) the sampler moves z in start + factor z; None is the vector itself."""
    compiled: Compiled | None = None
    """The same density for the sampler alone."""


@dataclass(frozen=True, slots=True)
class Effort:
    """How much to sample: draws kept and warm-up draws a chain, and chains.

    ``target_accept`` sets how small the steps of a first attempt are, ``doublings`` how often its
    paths may double where a target has a factor. Along the axes of its curvature a posterior is
    nearly round: three steps go a quarter around it, which forgets most; seven go half around, to
    the mirrored point at the same distance, so that how far out a chain is hardly changes and
    chains seem to disagree in their tails (Neal 2011, Handbook of MCMC, ch. 5).
    """

    draws: int = 800
    tune: int = 200
    chains: int = 4
    cores: int | None = None
    target_accept: float = 0.8
    doublings: int = 2


SMALLER_STEPS = (0.98, 0.995)
"""Acceptance asked for by a second and a third attempt: smaller steps, not only more of them ..."""
FREE_DOUBLINGS = 10
"""... on paths that turn back by themselves."""
TOP_UPS = 2
"""How often chains that only need more draws are joined by as many others."""
TOP_UP = 31_337
"""Added to the seed of each set of further chains."""
AGAIN = 1_000_003
"""Added to the seed of each further attempt."""
JITTER = 0.1
"""SD of the starting points around ``LogDensity.start``, in unconstrained units."""
SPREAD_OUT = 0.7
"""The same in units of a factor, which is about the posterior's SDs."""


def sample(
    target: LogDensity, effort: Effort, seed: int, progress: Progress | None = None
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

    factor = np.eye(target.size) if target.factor is None else target.factor
    apart = JITTER if target.factor is None else SPREAD_OUT

    def initial(chain_seed: int) -> Floats:
        rng = np.random.default_rng([seed, chain_seed % 2**32])
        return apart * rng.standard_normal(target.size)

    if target.compiled is None:
        model = _by_python(target, factor, initial)
    else:
        model = _by_machine_code(target, target.compiled, factor, initial)
    drawn = nutpie.sample(
        model,
        draws=effort.draws,
        tune=effort.tune,
        chains=effort.chains,
        cores=effort.cores,
        seed=seed,
        target_accept=effort.target_accept,
        maxdepth=FREE_DOUBLINGS if target.factor is None else effort.doublings,
        save_warmup=False,
        progress_bar=False,
        progress_callback=report,
        progress_rate=250,
    )
    z = drawn["posterior"].dataset["z"].transpose("chain", "draw", ...).to_numpy()
    values = target.named(target.start + z @ factor.T)
    data = {
        name: (("chain", "draw", *(f"{name}_dim_{i}" for i in range(np.ndim(v) - 2))), v)
        for name, v in values.items()
    }
    tree: xr.DataTree = xr.DataTree.from_dict(
        {
            "posterior": xr.Dataset(data, drawn["posterior"].dataset[["chain", "draw"]].coords),
            "sample_stats": drawn["sample_stats"].dataset,
        }
    )
    return tree


def _by_python(
    target: LogDensity, factor: Floats, initial: Callable[[int], Floats]
) -> CompiledModel:
    """Return the sampler's model of a density that it asks for through the interpreter."""

    def density(z: Floats) -> tuple[float, Floats]:
        value, slope = target.log_density(target.start + factor @ z)
        return value, factor.T @ slope

    return from_pyfunc(
        target.size,
        lambda: density,
        lambda *_: lambda z: {"z": np.asarray(z, np.float64)},
        [np.dtype("float64")],
        [(target.size,)],
        ["z"],
        make_initial_point_fn=initial,
    )


def _by_machine_code(
    target: LogDensity, compiled: Compiled, factor: Floats, initial: Callable[[int], Floats]
) -> CompiledModel:
    """Return the sampler's model of a compiled density; the interpreter stays free."""
    data = np.concatenate([[0.0], target.start, factor.ravel(), compiled.data])
    data[0] = data.size
    return CompiledPyMCModel(
        _n_dim=target.size,
        dims={},
        _coords={},
        _shapes={"z": (target.size,)},
        compiled_logp_func=compiled.callback,
        compiled_expand_func=_copy(),
        initial_point_func=initial,
        shared_data={},
        shared_var_keys={},
        user_data=data,
        n_expanded=target.size,
        shape_info=(["z"], [slice(0, target.size)], [(target.size,)]),
        logp_func=None,
        expand_func=None,
    )


@functools.cache
def _copy() -> MachineCode:
    """Return the machine code that hands an unconstrained vector on as it is."""
    code: MachineCode = numba.cfunc(_COPY_SIGNATURE, cache=True)(_copied)
    return code


def well_sampled(
    target: LogDensity,
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
    done = 0

    def forwards(now: int, total: int) -> None:
        nonlocal done  # another attempt starts at 0 again; what was told does not go back
        done = max(done, now)
        if progress is not None:
            progress(done, total)

    for attempt, accept in enumerate((effort.target_accept, *SMALLER_STEPS), start=1):
        now = replace(
            effort,
            target_accept=max(accept, effort.target_accept),
            doublings=effort.doublings if attempt == 1 else FREE_DOUBLINGS,
        )
        start = seed + (attempt - 1) * AGAIN
        tree = sample(target, now, start, forwards)
        report = sampler_report(tree, names)
        for more in range(1, TOP_UPS + 1):
            if report.divergences or not report.problems:
                break
            tree = _joined(tree, sample(target, now, start + more * TOP_UP, forwards))
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
        min_tail_ess=float(np.min([np.min(tail[n].to_numpy(), initial=np.inf) for n in posterior])),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Peak:
    """The highest point of a target and the covariance of a normal as curved as it is there."""

    point: Floats
    covariance: Floats

    def axes(self, widest: float) -> Floats:
        """Return the ellipsoid's axes as columns, (size, size), no variance above ``widest``."""
        values, vectors = np.linalg.eigh(self.covariance)
        return np.asarray(vectors * np.sqrt(np.minimum(values, widest)))

    def draws(self, number: int, rng: np.random.Generator) -> Floats:
        """Return unconstrained draws of that normal, (number, size)."""
        root = np.linalg.cholesky(self.covariance)
        return np.asarray(self.point + rng.standard_normal((number, self.point.size)) @ root.T)


def peak(target: LogDensity) -> Peak:
    """Return the mode of a target and its curvature, by gradients alone (Laplace 1774).

    Good enough for a first look, such as which readings the ball can stand in for; never quoted.
    """

    def falling(x: Floats) -> tuple[float, Floats]:
        value, slope = target.log_density(x)
        return -value, -slope

    # BFGS rather than L-BFGS-B, whose LAPACK calls wake a thread a core for matrices of ten rows
    point = minimize(falling, target.start, jac=True, method="BFGS").x
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
