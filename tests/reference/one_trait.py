"""One trait sampled by hand, with some parameters left out if wanted; and any PyMC model."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pymc as pm
import xarray as xr

from models.arrays import Floats
from models.sampling.report import SamplerReport
from models.sampling.sampler import Effort, stacked, well_sampled
from models.tendency.data import TraitSeries
from models.tendency.density import tendency_target
from models.tendency.smoother import Smoothed, smoothed
from models.traits import Prior

ALIKE = frozenset({"day_alike"})
UNLOGGED = frozenset({"jump_sd", "jump_chance"})
STEADY_LEVELS = frozenset({"drift"})
"""Names of what a plainer model has not."""


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """Draws of one trait's parameters, of what was integrated out, and the sampler's report."""

    draws: Mapping[str, Floats]
    hidden: Smoothed
    report: SamplerReport
    tree: xr.DataTree


def sampled_trait(
    series: TraitSeries,
    prior: Prior,
    effort: Effort,
    seed: int,
    *,
    without: frozenset[str] = frozenset(),
    keep: int = 4000,
) -> Sampled:
    """Return the posterior of one trait with ``keep`` draws of everything."""
    target = tendency_target(series, prior, without)
    tree, report = well_sampled(target, effort, seed)
    draws = stacked(tree, list(target.named(target.start)), keep)
    hidden = smoothed(draws, series, np.random.default_rng([seed, 1]))
    return Sampled(draws, hidden, report, tree)


def sampled_model(model: pm.Model, effort: Effort, seed: int) -> xr.DataTree:
    """Return posterior and sampler statistics of a PyMC model by the same sampler as a fit's."""
    with model:
        tree: xr.DataTree = pm.sample(
            effort.draws,
            tune=effort.tune,
            chains=effort.chains,
            target_accept=effort.target_accept,
            random_seed=seed,
            nuts_sampler="nutpie",
            progressbar=False,
        )
    return tree


def by_player(level: Floats, series: TraitSeries) -> list[Floats]:
    """Return levels (sample, all sessions) by player, each (sample, session)."""
    return np.split(level, series.first[1:-1], axis=1)
