"""The command that says whether the latest fit can be trusted, and on what that rests."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from tracker.cli.common import (
    ClubOption,
    DbOption,
    JsonOption,
    UnitsOption,
    out,
    print_json,
    print_table,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, Belief, belief_asked_for, open_store
from tracker.decisions.checks.chance_words import (
    BY_ITS_LIGHTS,
    CHANCE_COLUMNS,
    chance_rows,
    chances_json,
    chances_sentence,
    intervals_sentence,
)
from tracker.decisions.checks.chances import ChanceBook
from tracker.decisions.checks.evidence import (
    evidence,
    evidence_sentence,
    lever_evidence,
    lever_evidence_sentence,
    published_checks,
    published_sentence,
)
from tracker.decisions.checks.trust import (
    PART_COLUMNS,
    FitPart,
    Trust,
    carry_miss,
    checks_sentence,
    fit_trust,
    learned_constants,
    part_row,
)
from tracker.fits.earlier_fits import chances_of
from tracker.fits.kept_fits import kept_checks
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, display


def trust(
    as_of: AsOfOption = None,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say whether the latest fit can be trusted, part by part, and on what that rests."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        found = fit_trust(fit, kept_checks(store, fit.info.fit_id))
        if as_json:
            chances = chances_json(chances_of(store, fit))
            print_json({**trust_json(belief, found), "chances": chances})
            return
        _print_trust(belief, found, system)
        _print_chances(chances_of(store, fit))
        _print_made(fit)


def trust_json(belief: Belief, found: Trust) -> Mapping[str, Any]:
    """Return how far a fit can be trusted under keys of its own."""
    fit = belief.fit
    tried, published = evidence(), published_checks()
    return {
        **belief.as_json(),
        "headline": found.headline,
        "sound": found.sound,
        "doubts": list(found.doubts),
        "care": list(found.care),
        "stale": belief.is_stale,
        "parts": [_part_json(part) for part in found.parts],
        "checks": [
            {**asdict(c), "flagged": c.flagged, "wants_care": c.wants_care} for c in found.checks
        ],
        "evidence": asdict(tried),
        "lever_evidence": asdict(lever_evidence()),
        "published": {
            "rows": len(published),
            "met": sum(c.met for c in published),
            "missed": [asdict(c) for c in published if not c.met],
        },
        "physics": _physics_json(fit),
        "seed": fit.info.seed,
        "seconds": fit.info.seconds,
        "versions": dict(fit.info.versions),
        "data_digest": fit.info.data_digest,
        "club": fit.info.club,
    }


def _part_json(part: FitPart) -> Mapping[str, Any]:
    report = part.report
    sampled = {} if report is None else {**report.as_json(), "worst": report.worst}
    return {"part": part.name, "sampled": report is not None, **sampled}


def _physics_json(fit: Fit) -> Mapping[str, Any]:
    carry = carry_miss(fit)
    return {
        "calibrated": fit.is_calibrated,
        "constants": {name: one.as_json() for name, one in learned_constants(fit).items()},
        "carry_miss_m": carry and carry.learned.as_json(),
        "carry_miss_published_m": carry and carry.published.as_json(),
        "sessions": 0 if carry is None else carry.sessions,
    }


def _print_trust(belief: Belief, found: Trust, system: System) -> None:
    out.print(found.headline, style="bold")
    out.print(found.lead.replace("`", ""))
    for line in (*found.doubts, *found.care):
        out.print(f"  {line}")
    if belief.is_stale:
        out.print("Shots or changes were stored after this fit: run drive-progress fit.")
    print_table(PART_COLUMNS, map(part_row, found.parts))
    tried, first, published = evidence(), lever_evidence(), published_checks()
    out.print(checks_sentence(found.checks))
    for said, missed in (
        (evidence_sentence(tried), tried.missed),
        (lever_evidence_sentence(first), first.missed),
    ):
        out.print(said)
        for row in missed:
            out.print(f"  {row.means}")
    out.print(published_sentence(published))
    for check in published:
        if not check.met:
            out.print(
                f"  missed: {check.check}, {check.quantity}: {check.found}, published "
                f"{check.published} +- {check.tolerance} ({check.why_missed})",
            )
    out.print(_physics_words(belief.fit, system))


def _print_chances(book: ChanceBook) -> None:
    out.print(chances_sentence(book))
    if book.every is None:
        return
    print_table(CHANCE_COLUMNS, chance_rows(book))
    out.print(f"{intervals_sentence(book)} {BY_ITS_LIGHTS}")


def _print_made(fit: Fit) -> None:
    versions = ", ".join(f"{name} {number}" for name, number in fit.info.versions.items())
    out.print(
        f"Fit {fit.info.fit_id} of {fit.info.created_at:%Y-%m-%d %H:%M} UTC, seed "
        f"{fit.info.seed}, data {fit.info.data_digest[:8]}; {versions}."
    )


def _physics_words(fit: Fit, system: System) -> str:
    carry = carry_miss(fit)
    if not fit.is_calibrated:
        return "The published physics serves: no ball data went into this fit."
    if carry is None:
        return "The physics is adapted to the squad's own balls; carry was not read."
    how = replace(display("distance", system), decimals=1)
    return (
        f"The physics is adapted to the squad's own balls: a session's mean carry is missed by "
        f"{brief_text(carry.learned, how)}, in brackets 90 %."
    )
