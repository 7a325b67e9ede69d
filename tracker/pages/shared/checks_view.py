"""What the pages say of a fit's trust: does it reproduce what was seen, and was that possible."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.traits import TRAITS
from tracker.decisions.checks.predictive import SCATTER, PredictiveCheck, consequences
from tracker.decisions.checks.prior_predictive import MOST_OUTSIDE, SHOTS, PriorCheck, prior_checks
from tracker.decisions.checks.trust import checks_sentence
from tracker.fits.kept_fits import kept_checks
from tracker.pages.shared import context
from tracker.pages.shared.context import FitKey, Here
from tracker.pages.shared.once import once
from tracker.pages.shared.phrases import Rows, amount, amount_brief, trait_label
from tracker.units import System, brief_text, trait_display
from tracker.words import start_of_sentence

CHECK_COLUMNS = ("Reading", "What is compared", "Seen", "The model's own", "Looks alike?")
PRIOR_COLUMNS = (
    "Reading", "Level", "Shot scatter", "Days differ by", f"Means of {SHOTS} shots differ by",
    "Impossible shots",
)  # fmt: skip
HOW_TO_READ_CHECKS = (
    "The model makes up sessions and shots of its own; what was seen should look like them. "
    "Scatter of sessions: in the reading's unit. Largest session: in typical distances. Likeness "
    "of neighbouring sessions: 0 when days have nothing to do with one another. Far-off single "
    "shots: 3 for a bell curve, more when shots stray. Of some thirty comparisons one in every "
    "other fit looks odd by luck."
)
HOW_TO_READ_PRIORS = (
    "Before any shot is read, the model takes these for possible of a player nobody has measured; "
    "nine in ten lie in the brackets. Impossible shots: the share of imagined shots outside what "
    f"the shot log accepts, at most {MOST_OUTSIDE * 100:.0f} in 100 wanted."
)


@dataclass(frozen=True, slots=True)
class ChecksView:
    """The section on trust: a sentence, what to keep in mind, and two tables."""

    headline: str
    unlike: tuple[str, ...]
    checks: Rows
    priors: Rows


@once(8)
def checks_of(key: FitKey) -> tuple[PredictiveCheck, ...]:
    """Return the checks kept with a fit, those that look odd first."""
    return kept_checks(context.store_of(key.url), key.fit_id)


def unlike_model(here: Here, traits: Sequence[str]) -> tuple[str, ...]:
    """Return what of some traits wants care, in words; empty when nothing does."""
    return consequences(c for c in checks_of(here.key) if c.wants_care and c.trait in traits)


def checks_view(checks: Sequence[PredictiveCheck], system: System) -> ChecksView:
    """Return the section on whether a fit can be trusted."""
    return ChecksView(
        checks_sentence(checks),
        consequences(checks),
        tuple(_check_row(c, system) for c in checks),
        tuple(_prior_row(c, system) for c in prior_checks()),
    )


def _check_row(check: PredictiveCheck, system: System) -> tuple[str, ...]:
    seen, middle, low, high = (
        _shown(v, check, system) for v in (check.seen, check.replicated, *check.replicated90)
    )
    return (
        start_of_sentence(trait_label(check.trait)),
        check.what,
        seen,
        f"{middle} ({low.split()[0].rstrip('°')} to {high.split()[0].rstrip('°')})",
        "yes" if not check.flagged else "no" if check.wants_care else "no, but allowed for",
    )


def _shown(value: float, check: PredictiveCheck, system: System) -> str:
    if check.what == SCATTER:
        return amount(check.trait, value, system)
    return f"{value:.2f}".replace("-0.00", "0.00")


def _prior_row(check: PriorCheck, system: System) -> tuple[str, ...]:
    trait = check.trait
    row = TRAITS[trait]
    share = check.outside * 100
    told = "fewer than 1 in 100" if share < 1 else f"about {int(np.ceil(share))} in 100"
    spreads = (check.shot_sd, check.session_sd, check.session_mean_sd)
    return (
        start_of_sentence(row.label),
        amount_brief(trait, check.level, system),
        *(brief_text(s, trait_display(trait, system)) for s in spreads),
        told if check.plausible else f"{told}: too many, or too little room",
    )
