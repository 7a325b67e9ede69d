"""What a sampler must have achieved before its draws may be quoted.

Limits: R-hat <= 1.01 and at least 400 bulk effective draws (Vehtari, Gelman, Simpson, Carpenter &
Buerkner 2021, Bayesian Analysis 16:667), no divergent transition.
"""

import math
from collections.abc import Mapping
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

    def joined(self, other: "SamplerReport") -> "SamplerReport":
        """Return the worse of two reports in every respect; NaN is worst of all."""
        fewest = min(self, other, key=lambda r: -math.inf if math.isnan(r.min_ess) else r.min_ess)
        tail = min(
            self.min_tail_ess, other.min_tail_ess, key=lambda v: -math.inf if math.isnan(v) else v
        )
        rhat = max(self.max_rhat, other.max_rhat, key=lambda v: math.inf if math.isnan(v) else v)
        divergences = self.divergences + other.divergences
        return SamplerReport(
            divergences,
            rhat,
            fewest.min_ess,
            fewest.worst,
            tail,
            max(self.attempts, other.attempts),
        )

    def as_json(self) -> Mapping[str, object]:
        """Return the report's keys as the command line prints them."""
        return {
            "divergences": self.divergences,
            "max_rhat": self.max_rhat,
            "min_ess": self.min_ess,
            "min_tail_ess": self.min_tail_ess,
            "attempts": self.attempts,
            "problems": list(self.problems),
        }
