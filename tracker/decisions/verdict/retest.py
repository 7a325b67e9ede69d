"""How many sessions and shots would show a change, before anybody hits one (preposterior).

Each number of shots a session is one imagined retest (``trial``), of which designs with fewer and
more sessions are leading parts, so that they differ by design and not by luck. Fixed effort goes
farthest with (shot SD / session SD) * sqrt(session cost / shot cost) shots a session (Cochran 1977,
Sampling Techniques, 3rd ed., ch. 10): the days differ, and more shots on one day say nothing about
the other days.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np

from models.arrays import Floats
from models.traits import TRAITS
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.next_reading import reading_variance
from tracker.decisions.distance.worth import best_lever
from tracker.decisions.verdict.trial import FUTURES, SESSIONS, trial
from tracker.decisions.verdict.worthwhile import worthwhile_change
from tracker.errors import BadRequest
from tracker.interval import Z90
from tracker.posterior import Fit
from tracker.units import System, trait_display, value_text
from tracker.words import with_chance

SHOTS: Final = (5, 10, 15, 20, 30)
WANTED: Final = 0.8
SESSION_COST: Final = 20.0
"""What coming for a session costs, in shots (a coach's setting)."""
LEVER_DRAWS: Final = 200
"""Draws from which the move of the best lever is taken."""


@dataclass(frozen=True, slots=True)
class Design:
    """So many sessions of so many shots, what they cost in shots, and P(real verdict)."""

    sessions: int
    shots_per_session: int
    p_real: float
    cost_shots: float


@dataclass(frozen=True, slots=True)
class RetestPlan:
    """What would show a change of a trait (its unit); no ``recommended`` design within reach.

    ``best_shots`` is Cochran's number of shots a session.
    """

    player: str
    trait: str
    change: float
    change_basis: str
    worthwhile: float
    threshold: float
    designs: tuple[Design, ...]
    recommended: Design | None
    best_shots: int
    sentence: str
    reason: str
    problems: tuple[str, ...]


def plan_retest(
    fit: Fit,
    player: str,
    trait: str,
    *,
    change: float | None = None,
    threshold: float,
    session_cost: float = SESSION_COST,
    shot_cost: float = 1.0,
    shots_a_session: Sequence[int] = SHOTS,
    gap_weeks: float | None = None,
    system: System = "yards",
    seed: int = 1,
) -> RetestPlan:
    """Return the chance that each design ends in a real verdict, and the cheapest with .8.

    ``change`` (trait's unit) is what the player will have changed by; left out, it is what the best
    lever of the trait is expected to move. ``threshold`` is that of the verdict to come.
    ``session_cost`` and ``shot_cost`` share any unit. ``gap_weeks`` lie between the new sessions;
    left out, as many as usual for the player.
    """
    for name, value in (("session cost", session_cost), ("shot cost", shot_cost)):
        if not (np.isfinite(value) and value > 0):
            raise BadRequest(f"{name}: found {value}, wanted a number above 0")
    worth = worthwhile_change(fit, player, trait, system=system)
    asked, basis = _asked(fit, player, trait, change, worth.value, worth.target)

    designs = _designs(
        lambda shots: trial(
            fit, player, trait, asked, shots, worth.value, threshold, seed, gap_weeks
        ).chances(),
        shots_a_session, session_cost / shot_cost,
    )  # fmt: skip
    best = _cheapest(designs)
    problems = fit.problems_of(trait)
    shots, reason = _more_sessions(fit, player, trait, session_cost / shot_cost, system)
    return RetestPlan(
        player=player,
        trait=trait,
        change=asked,
        change_basis=basis,
        worthwhile=worth.value,
        threshold=threshold,
        designs=designs,
        recommended=None if problems else best,
        best_shots=shots,
        sentence=_sentence(player, trait, asked, designs, best, system),
        reason=reason,
        problems=problems,
    )


def cheapest_design(fit: Fit, player: str, trait: str, *, threshold: float) -> Design | None:
    """Return what ``plan_retest`` recommends for the best lever; no dearer design is tried."""
    if fit.problems_of(trait):
        return None
    worth = worthwhile_change(fit, player, trait)
    asked, _ = _asked(fit, player, trait, None, worth.value, worth.target)
    return _cheapest(
        _designs(
            lambda shots: trial(
                fit, player, trait, asked, shots, worth.value, threshold
            ).chances_if(WANTED),
            SHOTS, SESSION_COST,
        )
    )  # fmt: skip


def _designs(
    chances_with: Callable[[int], Floats], shots_a_session: Sequence[int], cost_ratio: float
) -> tuple[Design, ...]:
    """Return every design; ``cost_ratio`` is session cost / shot cost."""
    with ThreadPoolExecutor() as pool:
        by_shots = list(pool.map(chances_with, shots_a_session))
    return tuple(
        Design(n, shots, float(p), n * (cost_ratio + shots))
        for shots, found in zip(shots_a_session, by_shots, strict=True)
        for n, p in zip(SESSIONS, found, strict=True)
    )


def _cheapest(designs: Sequence[Design]) -> Design | None:
    """Return the cheapest design that is likely enough to show the change."""
    enough = [d for d in designs if d.p_real >= WANTED]
    return min(enough, key=lambda d: (d.cost_shots, d.sessions), default=None)


def luck_words() -> str:
    """Return how far a chance may be off because it is counted over so many futures."""
    most = Z90 * float(np.sqrt(0.25 / FUTURES))
    return (
        f"Each chance is counted over {FUTURES} imagined futures and may be off by up to "
        f"{most * 100:.0f} in 100 (90 % sure): smaller steps from one design to the next may be "
        "luck."
    )


def _asked(
    fit: Fit, player: str, trait: str, change: float | None, worth: float, target: float | None
) -> tuple[float, str]:
    if change is not None:
        if not np.isfinite(change) or change == 0:
            raise BadRequest(f"change: found {change}, wanted a number other than 0")
        return float(change), "as asked for"
    if target is None:
        return worth, "the smallest change that matters"
    best = best_lever(fit, player_cloud(fit, player, draws=LEVER_DRAWS), trait)
    if best is None:
        return worth, "the smallest change that matters"
    planned = float(best[1].mean())
    if abs(planned) >= worth:
        return planned, f"what {best[0].lever.name} is expected to move"
    way = target - float(np.median(fit.of(player, trait).now))
    return (
        float(np.copysign(worth, way)),
        f"what {best[0].lever.name} is expected to move is too little to matter; "
        "this is the smallest change that does",
    )


def _more_sessions(
    fit: Fit, player: str, trait: str, cost_ratio: float, system: System
) -> tuple[int, str]:
    """Return Cochran's best number of shots a session, and why sessions beat shots."""
    one = fit.of(player, trait)
    shot = float(np.sqrt(np.mean(one.shot_sd**2) + reading_variance(one)))
    day = float(np.sqrt(np.mean(one.session_sd**2)))
    best = max(1, round(cochran_shots(shot, day, cost_ratio)))
    how = trait_display(trait, system)
    return best, (
        f"One shot scatters by {value_text(shot, how)} and the days differ by "
        f"{value_text(day, how)} (SDs). More shots shrink only the first: 40 shots in one session "
        f"leave an error of {value_text(float(np.sqrt(day**2 + shot**2 / 40)), how)}, the same 40 "
        f"spread over four sessions {value_text(float(np.sqrt(day**2 / 4 + shot**2 / 40)), how)}. "
        f"With a session costing as much as {cost_ratio:g} shots, effort goes farthest at about "
        f"{best} shots a session."
    )


def cochran_shots(shot_sd: float, session_sd: float, cost_ratio: float) -> float:
    """Return the best number of shots a session; ``cost_ratio`` is session cost / shot cost."""
    return shot_sd / max(session_sd, 1e-6) * float(np.sqrt(cost_ratio))


def _sentence(
    player: str,
    trait: str,
    change: float,
    designs: tuple[Design, ...],
    best: Design | None,
    system: System,
) -> str:
    size = value_text(change, trait_display(trait, system), signed=True)
    what = f"a change of {size} in {TRAITS[trait].label}"
    if best is not None:
        return (
            f"{player}: {best.sessions} sessions of {best.shots_per_session} shots would show "
            f"{what} {with_chance(best.p_real)}."
        )
    most = max(designs, key=lambda d: d.p_real)
    return (
        f"{player}: {what} cannot be shown within {SESSIONS[-1]} sessions: even {most.sessions} "
        f"sessions of {most.shots_per_session} shots would do it "
        f"{with_chance(most.p_real)}. A larger change, or a steadier reading, would help."
    )
