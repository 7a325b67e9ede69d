"""How well forms of the tendency model foretell a session that they have not seen.

A left-out session's density given the player's other sessions is known in closed form in every
draw; the draws are weighed as if the session had been left out of the fit too (Buerkner, Gabry &
Vehtari 2021, Comput. Stat. 36:1243), smoothed by a Pareto tail (Vehtari, Simpson, Gelman, Yao &
Gabry 2024, JMLR 25:72), by ArviZ. Forms are compared by the expected log density of a session
and weighed by stacking (Yao, Vehtari, Simpson & Gelman 2018, Bayesian Analysis 13:917).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import arviz as az
import numpy as np
import xarray as xr
from numpy.typing import NDArray

from models.alike_days import held_out_series
from models.smoother import pooled_sessions

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FormScore:
    """How one form foretells left-out sessions, in log units over all sessions.

    ``elpd``: expected log density; ``behind``: how far behind the best form, with its standard
    error ``behind_se``; ``weight``: by stacking; ``unsure``: sessions whose weights have so long a
    tail that the estimate is not to be relied on.
    """

    form: str
    elpd: float
    behind: float
    behind_se: float
    weight: float
    unsure: int


def held_out_sessions(
    parameters: Mapping[str, Floats],
    *,
    count: Floats,
    mean: Floats,
    gap: Floats,
    reading_sd: Floats,
    step: Floats,
) -> Floats:
    """Return each session's log density given the player's other sessions.

    Arguments as of ``models.smoother.smooth_levels``; shape ``(sample, player, session, trait)``,
    NaN where nothing was read.
    """
    _, players, sessions, traits = count.shape
    samples = parameters["mu"].shape[0]
    alike = parameters.get("day_alike", np.zeros((samples, traits)))
    found = np.full((samples, players, sessions, traits), np.nan)
    for p in range(players):
        readings = pooled_sessions(parameters, p, count[:, p], mean[:, p], reading_sd)
        freed = readings.mean - step[:, p]
        for k in range(traits):
            for d in range(samples):
                found[d, p, :, k] = held_out_series(
                    np.ascontiguousarray(freed[d, :, k]),
                    np.ascontiguousarray(readings.variance[d, :, k]),
                    gap[p],
                    parameters["drift"][d, k] ** 2,
                    parameters["mu"][d, k],
                    parameters["spread"][d, k] ** 2,
                    parameters["session_sd"][d, k] ** 2,
                    alike[d, k],
                )
        found[:, p] += readings.apart
    return found


def compared_forms(log_density: Mapping[str, Floats]) -> tuple[FormScore, ...]:
    """Return the forms, the best first, from log densities ``(sample, session)`` by form."""
    elpd = {name: az.loo(_tree(values), reff=1.0) for name, values in log_density.items()}
    table = az.compare(elpd, method="stacking", round_to="none")
    return tuple(
        FormScore(
            form=str(name),
            elpd=float(row["elpd"]),
            behind=abs(float(row["elpd_diff"])),
            behind_se=float(row["dse"]),
            weight=float(row["weight"]),
            unsure=int((elpd[str(name)].pareto_k.to_numpy() > elpd[str(name)].good_k).sum()),
        )
        for name, row in table.iterrows()
    )


def _tree(log_density: Floats) -> xr.DataTree:
    """Return log densities in the form that ArviZ takes; draws are thinned, hence one chain."""
    tree: xr.DataTree = az.from_dict({"log_likelihood": {"session": log_density[None]}})
    return tree
