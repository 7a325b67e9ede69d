"""Reasons why a comparison of two windows may not be trusted, whatever its draws say."""

from collections.abc import Iterable
from itertools import combinations

import numpy as np

from models.arrays import Bools
from models.traits import TRAITS
from tracker.player_trait import WEEK, Window
from tracker.posterior import Fit

MIN_SESSIONS = 2
"""Fewest sessions a window needs: with one, the day cannot be told from the player."""


def too_few_sessions(fit: Fit, player: str, trait: str, windows: Iterable[Window]) -> bool:
    """Return whether a window holds fewer than two sessions with readings of the trait."""
    one = fit.of(player, trait)
    return any(one.places_in(w).size < MIN_SESSIONS for w in windows)


def methods_between(
    fit: Fit, player: str, trait: str, before: Window, after: Window
) -> tuple[frozenset[str], frozenset[str]]:
    """Return the reading methods used in each window."""
    one = fit.of(player, trait)
    return one.methods_in(one.places_in(before)), one.methods_in(one.places_in(after))


def methods_linked(fit: Fit, player: str, trait: str, methods: frozenset[str]) -> bool:
    """Return whether readings in the squad tie a set of methods together.

    Another player read by two methods links them; the player in question only does when one
    session was read by both, because a switch between sessions is what must not be mistaken for
    a change.
    """
    squad = fit.squad(trait)
    names = squad.methods
    group = {name: name for name in methods | set(names)}

    def link(found: Bools) -> None:
        together = [name for name, yes in zip(names, found, strict=True) if yes]
        for one, other in combinations(together, 2):
            old, new = group[one], group[other]
            for name in group:
                if group[name] == old:
                    group[name] = new

    for name, one in squad.players.items():
        used = one.counts > 0
        if name == player:
            for session in used.T:
                link(session)
        else:
            link(used.any(axis=1))
    return len({group[name] for name in methods}) <= 1


def method_guard(fit: Fit, player: str, trait: str, before: Window, after: Window) -> str | None:
    """Return a note when the way of reading changed between the windows and the squad links it."""
    first, second = methods_between(fit, player, trait, before, after)
    if first == second:
        return None
    return (
        f"{TRAITS[trait].label.capitalize()} was read by {_listed(first)} before and by "
        f"{_listed(second)} after; what the methods differ by is estimated from the squad and its "
        "uncertainty is in this answer."
    )


def unlinked_method_guard(
    fit: Fit, player: str, trait: str, before: Window, after: Window
) -> str | None:
    """Return why a change of method forbids a verdict, or None when it does not."""
    first, second = methods_between(fit, player, trait, before, after)
    if first == second or methods_linked(fit, player, trait, first | second):
        return None
    return (
        f"{TRAITS[trait].label.capitalize()} was read by {_listed(first)} before and by "
        f"{_listed(second)} after, and nobody else was read by both: a change of the player cannot "
        "be told from a change of method."
    )


def typical_shots(fit: Fit, player: str, trait: str) -> int:
    """Return the median number of readings in a player's sessions, at least 1."""
    counts = [m.shots for m in fit.of(player, trait).session_means()]
    return max(1, round(float(np.median(counts)))) if counts else 1


def typical_gap_weeks(fit: Fit, player: str) -> float:
    """Return the median number of weeks between a player's sessions; 1 with a single session."""
    starts = np.array([np.datetime64(t, "s") for t in fit.sessions(player)])
    if starts.size < 2:
        return 1.0
    return float(np.median(np.diff(starts) / WEEK))


def _listed(methods: frozenset[str]) -> str:
    return " and ".join(sorted(methods)) or "nothing"
