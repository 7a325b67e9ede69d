"""What a sampler must have achieved before its draws may be quoted.

Limits: R-hat <= 1.01 and at least 400 bulk effective draws (Vehtari, Gelman, Simpson, Carpenter &
Buerkner 2021, Bayesian Analysis 16:667), no divergent transition.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

MAX_RHAT = 1.01
MIN_ESS = 400.0
MIN_TAIL_ESS = 400.0


@dataclass(frozen=True, slots=True)
class SamplerReport:
    """Divergences, the largest R-hat and the smallest effective sample size of one fit."""

    divergences: int
    max_rhat: float
    min_ess: float
    worst: str = ""
    """Name of the quantity with the smallest effective sample size."""
    min_tail_ess: float = math.inf
    """The smallest effective number of draws behind a 5 % or 95 % quantile."""
    attempts: int = 1
    """How often it was sampled; each further attempt took smaller steps."""

    @property
    def problems(self) -> tuple[str, ...]:
        """Return one sentence per failed check; empty when the fit can be used."""
        found = []
        if self.divergences:
            found.append(f"{self.divergences} divergent draws: intervals may be too narrow.")
        if not self.max_rhat <= MAX_RHAT:  # written so that NaN fails
            found.append(f"chains disagree (R-hat {self.max_rhat:.3f}, limit {MAX_RHAT}).")
        if not self.min_ess >= MIN_ESS:
            found.append(f"too few effective draws ({self.min_ess:.0f}, need {MIN_ESS:.0f}).")
        if not self.min_tail_ess >= MIN_TAIL_ESS:
            found.append(
                f"too few effective draws in the tails ({self.min_tail_ess:.0f}, need "
                f"{MIN_TAIL_ESS:.0f})."
            )
        return tuple(found)

    def as_json(self) -> Mapping[str, object]:
        """Return the report's keys as the command line prints them.

        A number that is not finite, as where nothing was sampled, is None: JSON has no other.
        """
        return {
            "divergences": self.divergences,
            "max_rhat": _finite(self.max_rhat),
            "min_ess": _finite(self.min_ess),
            "min_tail_ess": _finite(self.min_tail_ess),
            "attempts": self.attempts,
            "problems": list(self.problems),
        }


def joined(reports: Iterable[SamplerReport]) -> SamplerReport:
    """Return the worst of some reports in every respect; NaN is worst of all."""
    each = tuple(reports)
    if not each:
        return SamplerReport(0, 1.0, math.inf)
    fewest = min(each, key=lambda r: _least(r.min_ess))
    return SamplerReport(
        divergences=sum(r.divergences for r in each),
        max_rhat=max((r.max_rhat for r in each), key=lambda v: math.inf if math.isnan(v) else v),
        min_ess=fewest.min_ess,
        worst=fewest.worst,
        min_tail_ess=min((r.min_tail_ess for r in each), key=_least),
        attempts=max(r.attempts for r in each),
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _least(value: float) -> float:
    return -math.inf if math.isnan(value) else value
