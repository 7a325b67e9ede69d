"""What identifies a fit, and which of its parts may be trusted."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from models.sampling.report import SamplerReport
from models.traits import TRAITS
from tracker.records import DEFAULT_CLUB

PHYSICS = "physics"
"""Name of the calibration among the parts of a fit's report."""


def part_label(part: str) -> str:
    """Return how a part of a fit is named: a trait by its label, or ``Physics``."""
    return TRAITS[part].label.capitalize() if part in TRAITS else "Physics"


@dataclass(frozen=True, slots=True)
class FitInfo:
    """What identifies a fit and says whether it may be trusted."""

    fit_id: int
    created_at: datetime
    data_digest: str
    seed: int
    seconds: float
    report: SamplerReport
    """The worst of all parts."""
    versions: Mapping[str, str]
    club: str = DEFAULT_CLUB
    reports: Mapping[str, SamplerReport] = field(default_factory=dict)
    """By part: each trait that was sampled, and ``PHYSICS``."""

    def problems_of(self, parts: Iterable[str]) -> tuple[str, ...]:
        """Return what is wrong with some parts; one that was not sampled has no problems."""
        if not self.reports:
            return self.report.problems
        asked = set(parts)
        return tuple(
            f"{part_label(part)}: {problem}"
            for part, report in self.reports.items()
            if part in asked
            for problem in report.problems
        )
