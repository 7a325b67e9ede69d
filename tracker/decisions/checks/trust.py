"""Whether a fit can be trusted, part by part, and what a doubt means for the advice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from models.sampling.report import SamplerReport
from models.traits import TRAITS
from tracker.decisions.checks.misses import Miss, miss
from tracker.decisions.checks.predictive import PredictiveCheck, consequences
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.fit_info import PHYSICS, part_label
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.units import display
from tracker.words import listed

WHOLE = "all traits"
"""Stands for every part of a fit that was reported as one."""


@dataclass(frozen=True, slots=True)
class FitPart:
    """One part of a fit with its sampler report; None where nothing was sampled."""

    name: str
    """A trait, ``physics`` or ``WHOLE``."""
    report: SamplerReport | None

    @property
    def label(self) -> str:
        """Return how the part is named."""
        return WHOLE.capitalize() if self.name == WHOLE else part_label(self.name)

    @property
    def in_doubt(self) -> bool:
        """Return whether what was sampled must not be quoted."""
        return self.report is not None and bool(self.report.problems)


@dataclass(frozen=True, slots=True)
class Trust:
    """Whether a fit can be trusted: in a sentence, what is in doubt, what wants care, by part."""

    headline: str
    lead: str
    doubts: tuple[str, ...]
    """By part in doubt: why, and what that means for the advice."""
    care: tuple[str, ...]
    """What of the numbers to read with care, in words."""
    parts: tuple[FitPart, ...]
    checks: tuple[PredictiveCheck, ...]

    @property
    def sound(self) -> bool:
        """Return whether every part passed the sampler's checks."""
        return not self.doubts


def fit_trust(fit: Fit, checks: Sequence[PredictiveCheck]) -> Trust:
    """Return how far a fit can be trusted; ``checks`` are those kept with it."""
    parts = _parts(fit)
    doubtful = [part for part in parts if part.in_doubt]
    care = consequences(c for c in checks if c.wants_care)
    return Trust(
        _headline(parts, doubtful, care),
        _lead(doubtful, care),
        tuple(_doubt(part) for part in doubtful),
        care,
        parts,
        tuple(checks),
    )


PART_COLUMNS = (
    "Part", "Divergent draws", "R-hat", "Effective draws", "Effective in the tails", "Attempts",
    "Checks",
)  # fmt: skip


def part_row(part: FitPart) -> tuple[str, ...]:
    """Return a part's sampler report under ``PART_COLUMNS``."""
    report = part.report
    if report is None:
        return (part.label, "", "", "", "", "", "not read: what is usual stands in")
    numbers = (
        f"{value:.{decimals}f}" if np.isfinite(value) else ""
        for value, decimals in (
            (report.max_rhat, 3),
            (report.min_ess, 0),
            (report.min_tail_ess, 0),
        )
    )
    return (
        part.label,
        str(report.divergences),
        *numbers,
        str(report.attempts),
        "in doubt" if report.problems else "passed",
    )


def checks_sentence(checks: Sequence[PredictiveCheck]) -> str:
    """Return whether what was seen looks like what the model makes up, in words."""
    odd = sum(c.flagged for c in checks)
    care = sum(c.wants_care for c in checks)
    compared = "comparisons of your sessions and shots with what the model makes up"
    if not checks:
        return "Too few sessions to compare the model's own with yours."
    if care:
        return f"Read with care: of {len(checks)} {compared}, {care} look odd."
    if odd:
        return (
            f"Nothing here takes away from the numbers: of {len(checks)} {compared}, "
            f"{len(checks) - odd} look alike and {odd} differ in a way that is allowed for."
        )
    return f"All {len(checks)} {compared} look alike."


def carry_miss(fit: Fit) -> Miss | None:
    """Return how far predicted carry misses, in metres; None without carry read."""
    found = [c for c in fit.ball_checks if c.trait == "carry_m"]
    return miss(found, display("distance", "metres")) if found else None


def learned_constants(fit: Fit) -> Mapping[str, Interval]:
    """Return the constants of the drive learned from the squad's balls, players averaged."""
    if not fit.is_calibrated:
        return {}
    by_player = [fit.physics_of(p.name) for p in fit.players]
    return {
        name: Interval.from_draws(np.mean([own[name] for own in by_player], axis=0), "")
        for name in by_player[0]
    }


def _parts(fit: Fit) -> tuple[FitPart, ...]:
    reports = fit.info.reports
    if not reports:
        return (FitPart(WHOLE, fit.info.report),)
    traits = tuple(FitPart(trait, reports.get(trait)) for trait in fit.traits)
    return (*traits, *([FitPart(PHYSICS, reports[PHYSICS])] if PHYSICS in reports else []))


def _headline(parts: Sequence[FitPart], doubtful: Sequence[FitPart], care: Sequence[str]) -> str:
    if doubtful:
        labels = [part.label if n == 0 else part.label.lower() for n, part in enumerate(doubtful)]
        if len(doubtful) == sum(part.report is not None for part in parts):
            return "No part of this fit passed its checks."
        are = "is" if len(doubtful) == 1 else "are"
        return f"{listed(labels)} {are} in doubt; every other part passed its checks."
    if care:
        return "Every part of this fit was sampled well; some of it wants care."
    return "Every part of this fit passed its checks."


def _lead(doubtful: Sequence[FitPart], care: Sequence[str]) -> str:
    if doubtful:
        return (
            "What rests on a part in doubt is withheld; the rest of the advice stands. Fit again; "
            "if the doubt comes back, ask for more draws: `drive-progress fit --draws 2000`."
        )
    if care:
        return (
            "The numbers stand as the model's answer, but the model does not make up everything "
            "that was seen. What to keep in mind is listed here."
        )
    return "Verdicts, ranks and gains may be read as they stand, with the intervals they have."


def _doubt(part: FitPart) -> str:
    report = part.report
    why = " ".join(report.problems) if report is not None else ""
    return f"{part.label}: {_meaning(part.name)} ({why.rstrip('.')})."


def _meaning(name: str) -> str:
    """Return what is withheld while a part is in doubt."""
    if name == WHOLE:
        return "no verdict, no rank and nothing in distance is given"
    if name not in TRAITS:
        return "nothing in distance is given; verdicts and ranks stand"
    own = "no verdict on it is given"
    return f"{own}, nor anything in distance" if name in DISTANCE_PARTS else own
