"""What the trust page says: how far the fit holds, on what that rests, what it was made of."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tracker.decisions.checks.evidence import (
    Requirement,
    evidence,
    evidence_sentence,
    lever_evidence,
    lever_evidence_sentence,
    published_checks,
    published_sentence,
)
from tracker.decisions.checks.predictive import PredictiveCheck
from tracker.decisions.checks.trust import WHOLE, Trust, carry_miss, fit_trust, part_row
from tracker.fit_info import PHYSICS
from tracker.pages.constants_view import constant_rows
from tracker.pages.shared.phrases import Rows, counted
from tracker.posterior import Fit
from tracker.units import System, display, range_text, value_text
from tracker.words import start_of_sentence

REQUIREMENT_COLUMNS = ("What verdicts must do", "Wanted", "Found (95 %)", "Met")
LEVER_COLUMNS = ("What first levers must do", "Wanted", "Found (90 %)", "Met")
PUBLISHED_COLUMNS = ("Check", "Quantity", "Published", "Found here", "Within", "Met", "Source")
MADE_COLUMNS = ("What", "This fit's")

HOW_TO_READ_SAMPLER = (
    "Several independent runs must end in the same answer. R-hat: how far they differ, 1 when not "
    "at all, at most 1.01 allowed. Effective draws: how many independent draws the answer is "
    "worth, and how many stand behind the ends of its intervals; 400 of each are needed. Divergent "
    "draws: places that the sampler could not follow; none are allowed. A part that failed at "
    "first is sampled again with smaller steps: attempts says how often."
)
HOW_TO_READ_EVIDENCE = (
    "Invented players whose true changes are known practise for a season, by another model than "
    "the one that judges them; every verdict is then held against the truth. In brackets: 95 % "
    "limits for the luck of so many seasons."
)
HOW_TO_READ_LEVERS = (
    "Players of invented academies are given a first lever. What it truly gives is flown by the "
    "academy's own impact and flight, not by this program's, with what its drills are known to do, "
    "and held against every other lever. In brackets: 90 % range for the luck of so many players."
)
HOW_TO_READ_PUBLISHED = (
    "Values from books and papers, and facts of the trade, beside what this program's own code "
    "finds for the same case."
)


@dataclass(frozen=True, slots=True)
class TrustView:
    """Everything the trust page shows beside the model's comparisons and the history."""

    headline: str
    lead: str
    doubts: tuple[str, ...]
    care: tuple[str, ...]
    sampled: str
    """How the sampling went, in a sentence."""
    parts: Rows
    evidence: str
    missed: tuple[str, ...]
    """What the requirements that are not met mean for the reader."""
    requirements: Rows
    levers: str
    lever_requirements: Rows
    published: str
    checks: Rows
    """Published checks, those not met first."""
    physics: str
    constants: Rows
    made: Rows


def trust_view(fit: Fit, checks: Sequence[PredictiveCheck], system: System) -> TrustView:
    """Return what the page says of a fit; ``checks`` are those kept with it."""
    found, tried, published = fit_trust(fit, checks), evidence(), published_checks()
    first = lever_evidence()
    learned, flight = ((), ()) if _doubtful_physics(found) else constant_rows(fit, system)
    return TrustView(
        headline=found.headline,
        lead=found.lead,
        doubts=found.doubts,
        care=tuple(f"{start_of_sentence(sentence)}." for sentence in found.care),
        sampled=_sampled(found),
        parts=tuple(part_row(part) for part in found.parts),
        evidence=evidence_sentence(tried),
        missed=tuple(r.means for r in (*tried.missed, *first.missed)),
        requirements=_requirement_rows(tried.requirements),
        levers=lever_evidence_sentence(first),
        lever_requirements=_requirement_rows(first.requirements),
        published=published_sentence(published),
        checks=tuple(
            (
                start_of_sentence(c.check),
                c.quantity,
                c.published,
                c.found,
                f"± {c.tolerance}",
                "yes" if c.met else f"no: {c.why_missed}",
                c.source,
            )
            for c in sorted(published, key=lambda c: c.met)
        ),
        physics=_physics(fit, found, system),
        constants=(*learned, *flight),
        made=_made(fit),
    )


def _wanted(text: str) -> str:
    """Return a bound in words: a sign of order at the start of a cell would open a quotation."""
    return text.replace(">= ", "at least ").replace("<= ", "at most ")


def _limits(text: str) -> str:
    """Return a share with its limits as no table takes for a 90 % interval."""
    return text.replace(" to ", "–")


def _yes(met: bool) -> str:
    return "yes" if met else "no"


def _doubtful_physics(found: Trust) -> bool:
    return any(part.in_doubt and part.name in (PHYSICS, WHOLE) for part in found.parts)


def _requirement_rows(requirements: Sequence[Requirement]) -> Rows:
    return tuple(
        (start_of_sentence(_limits(r.what)), _wanted(r.wanted), _limits(r.found), _yes(r.met))
        for r in requirements
    )


def _sampled(found: Trust) -> str:
    drawn = [part for part in found.parts if part.report is not None]
    failed = sum(part.in_doubt for part in drawn)
    again = [p.label for p in drawn if p.report is not None and p.report.attempts > 1]
    said = (
        f"{counted(len(drawn), 'part')} sampled apart, {len(drawn) - failed} passed every check."
        if len(drawn) > 1 or failed
        else "Sampled in one, and it passed every check."
    )
    if again:
        said += f" At first not well enough, then with smaller steps: {', '.join(again)}."
    left = [part.label for part in found.parts if part.report is None]
    if left:
        said += f" Nobody has a reading of: {', '.join(left)}; what is usual stands in."
    return said


def _physics(fit: Fit, found: Trust, system: System) -> str:
    if _doubtful_physics(found):
        return "The physics could not be adapted soundly, so nothing is said of it."
    if not fit.is_calibrated:
        return (
            "The published physics serves: no ball data went into this fit. Gains, being "
            "differences, hold much better than levels of carry."
        )
    carry = carry_miss(fit)
    if carry is None:
        return "The physics is adapted to your own balls; carry was not read."
    how = replace(display("distance", system), decimals=1)
    return (
        "The physics is adapted to your own balls: from the club alone a session's mean carry is "
        f"missed by {value_text(carry.learned.median, how)} ({range_text(carry.learned, how)}), "
        f"with the published constants by {value_text(carry.published.median, how)} "
        f"({range_text(carry.published, how)})."
    )


def _made(fit: Fit) -> Rows:
    info = fit.info
    return (
        ("Number", str(info.fit_id)),
        ("Made", f"{info.created_at:%d %b %Y, %H:%M} UTC, in {info.seconds:.0f} s"),
        ("Seed", f"{info.seed}: the same shots, seed and versions give the same draws"),
        ("Data digest", info.data_digest),
        *((name, number) for name, number in info.versions.items()),
    )
