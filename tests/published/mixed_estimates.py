"""Restricted maximum likelihood of a mixed case by dense normal algebra: no code of the product.

    y ~ Normal(X b, between^2 P P' + session^2 S S' + sum of spread_c^2 Q_c Q_c' + R)

P, S: whose shot it is, and of which session; X and Q_c: methods, and changes that have begun;
R: shot variance on the diagonal; readings have no error. Restricted likelihood: Patterson &
Thompson 1971, Biometrika 58:545. Random effects are their best linear unbiased predictors.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from models.arrays import Floats
from tests.published.mixed_cases import TRAIT, Case, Found


def _indicator(codes: NDArray[np.int64]) -> Floats:
    return np.eye(int(codes.max()) + 1)[codes]


def _begun(case: Case) -> dict[str, Floats]:
    """Return where each change has begun, by name, (shot,)."""
    days = case.shots["session"].dt.date
    begun: dict[str, Floats] = {}
    for change in case.changes:
        own = (case.shots["player"] == change.player) & (days >= change.start)
        before = begun.get(change.name, np.zeros(len(days)))
        begun[change.name] = before + own.to_numpy(dtype=np.float64)
    return begun


class _Restricted:
    """The restricted likelihood of a case as a function of its SDs."""

    def __init__(self, case: Case) -> None:
        shots = case.shots
        self.y = shots[TRAIT].to_numpy(dtype=np.float64)
        own = _indicator(pd.factorize(shots["player"], sort=True)[0])
        begun = _begun(case)
        method = shots["strike_method"].to_numpy()
        columns = [np.ones_like(self.y)]
        columns += [(method == name).astype(np.float64) for name in case.methods[1:]]
        self.x = np.stack([*columns, *begun.values()], axis=1)
        self.random = {"between": own}
        if "days" in case.parts:
            codes, _ = pd.factorize(pd.MultiIndex.from_frame(shots[["player", "session"]]))
            self.random["session"] = _indicator(codes)
        if "responders" in case.parts:
            self.random |= {name: own * on[:, None] for name, on in begun.items()}
        self.gram = {name: z @ z.T for name, z in self.random.items()}
        self.names = [*self.random, "shot"]

    def solved(self, sds: Floats) -> tuple[float, Floats, Floats]:
        """Return the log likelihood, the fixed effects and V^-1 times the residual."""
        variance = dict(zip(self.names, sds**2, strict=True))
        total = variance["shot"] * np.eye(self.y.size)
        for name, gram in self.gram.items():
            total += variance[name] * gram
        factor = cho_factor(total, lower=True)
        weighted = cho_solve(factor, self.x)
        information = self.x.T @ weighted
        fixed = np.linalg.solve(information, weighted.T @ self.y)
        pull = cho_solve(factor, self.y - self.x @ fixed)
        height = -np.log(np.diag(factor[0])).sum() - 0.5 * (
            np.linalg.slogdet(information)[1] + self.y @ pull
        )
        return float(height), fixed, pull


def restricted_estimates(case: Case) -> Found:
    """Return the REML estimates of a case, each as one draw."""
    likelihood = _Restricted(case)
    start = {"between": case.prior.between_scale / 2, "shot": case.prior.shot_sd}
    start["session"] = case.prior.session_scale / 2
    first = np.array([start.get(name, case.prior.change_scale / 4) for name in likelihood.names])

    def depth(logs: Floats) -> float:
        return -likelihood.solved(np.exp(logs))[0]

    best = minimize(
        depth,
        np.log(first),
        method="Nelder-Mead",
        options={"xatol": 1e-5, "fatol": 1e-9, "maxiter": 4000},
    )
    sds = np.exp(best.x)
    _, fixed, pull = likelihood.solved(sds)
    sd = {name: np.array([value]) for name, value in zip(likelihood.names, sds, strict=True)}
    none = np.zeros(1)
    biases, changes = case.methods[1:], tuple(_begun(case))
    effect = {c: fixed[None, 1 + len(biases) + i] for i, c in enumerate(changes)}
    own: dict[tuple[str, str], Floats] = {}
    for name in changes:
        z = likelihood.random.get(name)
        apart = np.zeros(len(case.players)) if z is None else sd[name] ** 2 * (z.T @ pull)
        own |= {(p, name): effect[name] + apart[i] for i, p in enumerate(case.players)}
    return Found(
        mean=fixed[None, 0],
        between=sd["between"],
        session=sd.get("session", none),
        shot=sd["shot"],
        bias={name: fixed[None, 1 + i] for i, name in enumerate(biases)},
        effect=effect,
        effect_spread={name: sd.get(name, none) for name in changes},
        own_effect=own,
    )
