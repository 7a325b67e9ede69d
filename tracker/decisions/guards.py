"""Reasons why a comparison of two windows may not be trusted, whatever its draws say."""

from collections.abc import Iterable
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from models.traits import TRAITS
from tracker.posterior import (
    Fit,
    Window,
    level_path_draws,
    method_bias_draws,
    methods_used,
    session_means,
    session_starts,
    sessions_in,
)

MIN_SESSIONS = 2
"""Fewest sessions a window needs: with one, the day cannot be told from the player."""
MIN_FOR_CORRELATION = 8
"""Fewest sessions for which a correlation between neighbours says anything."""


def too_few_sessions(fit: Fit, player: str, trait: str, windows: Iterable[Window]) -> bool:
    """Return whether a window holds fewer than two sessions with readings of the trait."""
    return any(sessions_in(fit, player, trait, w).size < MIN_SESSIONS for w in windows)


def methods_between(
    fit: Fit, player: str, trait: str, before: Window, after: Window
) -> tuple[frozenset[str], frozenset[str]]:
    """Return the reading methods used in each window."""
    first, second = (
        methods_used(fit, player, trait, sessions_in(fit, player, trait, w))
        for w in (before, after)
    )
    return first, second


def methods_linked(fit: Fit, player: str, trait: str, methods: frozenset[str]) -> bool:
    """Return whether readings in the squad tie a set of methods together.

    Another player read by two methods links them; the player in question only does when one
    session was read by both, because a switch between sessions is what must not be mistaken for
    a change.
    """
    k, own = fit.trait_index(trait), fit.player_index(player)
    names = fit.methods[k]
    used = fit.counts[: len(names), :, :, k] > 0
    group = {name: name for name in methods | set(names)}

    def link(found: NDArray[np.bool_]) -> None:
        together = [name for name, yes in zip(names, found, strict=True) if yes]
        for one, other in combinations(together, 2):
            old, new = group[one], group[other]
            for name in group:
                if group[name] == old:
                    group[name] = new

    for p in range(len(fit.players)):
        if p == own:
            for s in range(used.shape[2]):
                link(used[:, p, s])
        else:
            link(used[:, p].any(axis=1))
    return len({group[name] for name in methods}) <= 1


def neighbour_correlation(fit: Fit, player: str, trait: str) -> tuple[float, int]:
    """Return the lag-1 correlation of the residuals of a player's sessions, and their number.

    A residual is a session's raw mean less the posterior mean level and the bias of its methods.
    The correlation is NaN when the residuals do not vary.
    """
    p, k = fit.player_index(player), fit.trait_index(trait)
    starts, path = level_path_draws(fit, player, trait)
    means = {m.start: m.mean for m in session_means(fit, player, trait)}
    bias = np.array([d.mean() for d in method_bias_draws(fit, trait).values()])
    counts = fit.counts[: len(bias), p, :, k]
    residuals = np.array(
        [
            means[start] - path[:, s].mean() - bias @ counts[:, s] / counts[:, s].sum()
            for s, start in enumerate(starts)
            if start in means
        ]
    )
    if residuals.size < 2 or not residuals.std() > 0:
        return float("nan"), int(residuals.size)
    centred = residuals - residuals.mean()
    return float(centred[1:] @ centred[:-1] / (centred @ centred)), int(residuals.size)


def correlation_guard(fit: Fit, player: str, trait: str) -> str | None:
    """Return a warning when neighbouring sessions err the same way more than chance allows.

    The limit is 1.96 / sqrt(n), the large-sample 95 % limit of an uncorrelated series (Box &
    Jenkins 1970, ch. 2; from memory). A fit that lets days be alike has it in its levels.
    """
    if fit.day_alike is not None:
        return None
    correlation, sessions = neighbour_correlation(fit, player, trait)
    if sessions < MIN_FOR_CORRELATION or not correlation > 1.96 / np.sqrt(sessions):
        return None
    return (
        f"Neighbouring sessions err the same way (correlation {correlation:.2f} over {sessions} "
        "sessions): they count as fewer sessions than they are, so be slower to believe this."
    )


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
    counts = [m.shots for m in session_means(fit, player, trait)]
    return max(1, round(float(np.median(counts)))) if counts else 1


def typical_gap_weeks(fit: Fit, player: str) -> float:
    """Return the median number of weeks between a player's sessions; 1 with a single session."""
    starts = np.array([np.datetime64(t, "s") for t in session_starts(fit, player)])
    if starts.size < 2:
        return 1.0
    return float(np.median(np.diff(starts) / np.timedelta64(7 * 24 * 3600, "s")))


def _listed(methods: frozenset[str]) -> str:
    return " and ".join(sorted(methods)) or "nothing"
