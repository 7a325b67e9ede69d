"""Whether the model could have produced the sessions it was fitted to.

Realised discrepancies of the posterior predictive distribution (Gelman, Meng & Stern 1996, Stat.
Sinica 6:733): in each draw the same measure is taken of the squad's session residuals (session
mean less level and method bias) and of residuals drawn anew from that draw.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.traits import TRAITS
from tracker.posterior import Fit, Floats

DRAWS = 300
EXTREME = 0.01
"""A share of replications this small, on either side, is flagged."""


@dataclass(frozen=True, slots=True)
class PredictiveCheck:
    """One measure of a trait's session residuals: seen and replicated medians, and P(rep >= seen).

    ``what`` says in words what is measured.
    """

    trait: str
    what: str
    seen: float
    replicated: float
    p: float

    @property
    def flagged(self) -> bool:
        """Return whether the model hardly ever produces what was seen."""
        return not EXTREME <= self.p <= 1 - EXTREME

    @property
    def sentence(self) -> str:
        """Return the check in words."""
        label = TRAITS[self.trait].label
        verdict = "does not look like the model's" if self.flagged else "looks like the model's"
        return (
            f"{label}: {self.what} {verdict} "
            f"(seen {self.seen:.2f}, model {self.replicated:.2f}, p {self.p:.2f})"
        )


def predictive_checks(fit: Fit, *, seed: int = 1) -> tuple[PredictiveCheck, ...]:
    """Return the checks of every trait with at least three sessions of readings."""
    rng = np.random.default_rng([seed, fit.info.seed])
    found = []
    for trait in fit.traits:
        residual, spread, neighbours = _residuals(fit, trait)
        if residual.shape[1] < 3:
            continue
        drawn = spread * rng.standard_normal(residual.shape)
        measures = {
            "scatter of sessions": (residual.std(axis=1), drawn.std(axis=1)),
            "largest session": (
                np.abs(residual / spread).max(axis=1),
                np.abs(drawn / spread).max(axis=1),
            ),
            "likeness of neighbouring sessions": (
                _lag_one(residual / spread, neighbours),
                _lag_one(drawn / spread, neighbours),
            ),
        }
        for what, (seen, replicated) in measures.items():
            p = float(np.mean(replicated >= seen))
            medians = float(np.median(seen)), float(np.median(replicated))
            found.append(PredictiveCheck(trait, what, *medians, p))
    return tuple(found)


def _residuals(fit: Fit, trait: str) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return residuals and their SD, (draw, session), and which follow on the one before."""
    k = fit.trait_index(trait)
    draws = np.linspace(0, fit.samples - 1, min(DRAWS, fit.samples)).round().astype(int)
    counts = fit.counts[..., k].astype(np.float64)
    total = counts.sum(axis=0)
    player, session = np.nonzero(total > 0)
    share = counts[:, player, session] / total[player, session]
    bias = fit.bias[draws, : counts.shape[0], k] @ share
    level = fit.level[draws][:, player, session, k]
    residual = fit.raw_mean[player, session, k] - bias - level
    shot2 = fit.shot_sd[draws][:, player, k] ** 2 + (fit.reading_sd[:, k] ** 2) @ share
    day2 = fit.session_sd[draws, k][:, None] ** 2
    follows = np.concatenate([[False], player[1:] == player[:-1]])
    return residual, np.sqrt(day2 + shot2 / total[player, session]), follows


def _lag_one(values: Floats, follows: NDArray[np.bool_]) -> Floats:
    """Return the mean product of neighbours of standardised residuals, (draw,)."""
    products = values[:, 1:] * values[:, :-1]
    return np.asarray(products[:, follows[1:]].mean(axis=1)) if follows.any() else values[:, 0] * 0
