"""How many sessions and shots would show a change, before anybody hits one (preposterior).

Futures are drawn from the posterior with the change asked for starting at the next session; each
is judged by the surrogate as the verdict would judge it: the player's latest window before against
all the new sessions, from readings old and new, the change's size as open as a new drill's is.
All designs are leading parts of the same drawn futures, so that they differ by design and not by
luck. Fixed effort goes farthest with (shot SD / session SD) * sqrt(session cost / shot cost) shots
a session (Cochran 1977, Sampling Techniques, 3rd ed., ch. 10): the days differ, and more shots on
one day say nothing about the other days.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.traits import TRAITS
from tracker.decisions.change import REAL, classify, default_windows
from tracker.decisions.fixes import SHARE_A, SHARE_B
from tracker.decisions.guards import MIN_SESSIONS, typical_gap_weeks
from tracker.decisions.history import (
    History,
    mean_bias,
    mean_variance,
    new_drill_variance,
    player_history,
)
from tracker.decisions.likeness import Likeness, apart, neighbouring_days
from tracker.decisions.surrogate import (
    Chances,
    Floats,
    Scales,
    chances,
    mixing_weights,
    season,
    window_contrast,
)
from tracker.decisions.worthwhile import worthwhile_change
from tracker.errors import BadRequest, NotEnoughData
from tracker.posterior import Fit, level_draws, sessions_in, shot_sd_draws
from tracker.units import System, trait_display, value_text
from tracker.words import chance_words

SESSIONS: Final = tuple(range(2, 13))
SHOTS: Final = (5, 10, 15, 20, 30)
WANTED: Final = 0.8
SESSION_COST: Final = 20.0
"""What coming for a session costs, in shots (a coach's setting)."""
FUTURES: Final = 600
MEAN_SHARE: Final = SHARE_A / (SHARE_A + SHARE_B)


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
    likeness: Likeness | None = None,
    session_cost: float = SESSION_COST,
    shot_cost: float = 1.0,
    system: System = "yards",
    seed: int = 1,
) -> RetestPlan:
    """Return the chance that each design ends in a real verdict, and the cheapest with .8.

    ``change`` (trait's unit) is what the player will have changed by; left out, it is the planned
    partial fix. ``threshold`` and ``likeness`` are those of the verdict to come. ``session_cost``
    and ``shot_cost`` share any unit.
    """
    for name, value in (("session cost", session_cost), ("shot cost", shot_cost)):
        if not (np.isfinite(value) and value > 0):
            raise BadRequest(f"{name}: found {value}, wanted a number above 0")
    worth = worthwhile_change(fit, player, trait, system=system)
    asked, basis = _asked(fit, player, trait, change, worth.value, worth.target)
    alike = apart(fit) if likeness is None else likeness
    designs = tuple(
        Design(n, shots, float(p), (n * (session_cost + shots * shot_cost)) / shot_cost)
        for shots in SHOTS
        for n, p in zip(
            SESSIONS,
            real_chances(fit, player, trait, asked, shots, worth.value, threshold, alike, seed),
            strict=True,
        )
    )
    enough = [d for d in designs if d.p_real >= WANTED]
    best = min(enough, key=lambda d: (d.cost_shots, d.sessions), default=None)
    shots, reason = _more_sessions(fit, player, trait, session_cost / shot_cost, system)
    return RetestPlan(
        player=player,
        trait=trait,
        change=asked,
        change_basis=basis,
        worthwhile=worth.value,
        threshold=threshold,
        designs=designs,
        recommended=None if fit.problems else best,
        best_shots=shots,
        sentence=_sentence(player, trait, asked, designs, best, system),
        reason=reason,
        problems=fit.problems,
    )


def real_chances(
    fit: Fit,
    player: str,
    trait: str,
    change: float,
    shots: int,
    worthwhile: float,
    threshold: float,
    likeness: Likeness,
    seed: int = 1,
) -> Floats:
    """Return the chance of a real verdict after 2 to 12 more sessions of some shots."""
    history = player_history(fit, trait, fit.player_index(player))
    if history is None:
        raise NotEnoughData(
            f"{player} has {TRAITS[trait].label} readings in fewer than two sessions; a retest "
            "compares with a baseline of at least two"
        )
    rng = np.random.default_rng([seed, fit.player_index(player), fit.trait_index(trait)])
    old = history.weeks.size
    most = SESSIONS[-1]
    gap = typical_gap_weeks(fit, player)
    weeks = np.concatenate([history.weeks, history.weeks[-1] + gap * np.arange(1, most + 1)])
    counts = np.zeros((fit.counts.shape[0], most), dtype=np.int64)
    counts[int(history.counts[:, -1].argmax())] = shots
    p = history.player
    noise = np.concatenate([history.noise, mean_variance(fit, trait, p, counts)], axis=1)
    bias = mean_bias(fit, trait, counts)
    scales, started = _with_new_change(history.scales, history.started, old, most, trait)

    judges, alike = likeness.draws, likeness.correlation
    noise, bias = noise[judges], bias[judges]
    scales = scales.take(judges)
    truth = rng.integers(0, judges.size, FUTURES)
    drawn = rng.integers(0, fit.samples, FUTURES)  # all draws: a few would shift every future
    now = fit.level[drawn, p, history.places[-1], fit.trait_index(trait)]
    drift = np.sqrt(scales.drift[truth][:, None] * np.diff(weeks[old - 1 :]))
    level = now[:, None].astype(np.float64) + change
    level = level + np.cumsum(drift * rng.standard_normal((FUTURES, most)), axis=1)
    day = neighbouring_days(alike[truth], most, rng) * np.sqrt(scales.session[truth])[:, None]
    scatter = np.sqrt(noise[truth, old:]) * rng.standard_normal((FUTURES, most))
    fresh = level + bias[truth] + day + scatter

    known = season(scales, weeks, noise, started, alike)
    means = np.empty((FUTURES, judges.size, old + most))
    means[:, :, :old] = history.means[judges]
    means[:, :, old:] = fresh[:, None, :] - bias
    z = known.whitened(means)
    told = np.cumsum(known.log_likelihood(z)[:, :, old:], axis=2)
    before = _baseline(fit, player, trait, history)
    found = np.empty(len(SESSIONS))
    for i, n in enumerate(SESSIONS):
        contrast = window_contrast(before, np.arange(old, old + n), old + most)
        mean, variance = known.difference(z, contrast, old + n)
        answer = chances(mean, variance, mixing_weights(told[:, :, n - 1]), worthwhile)
        found[i] = np.mean(_is_real(answer, np.sign(change), threshold))
    return found


def _with_new_change(
    scales: Scales, started: NDArray[np.bool_], old: int, new: int, trait: str
) -> tuple[Scales, NDArray[np.bool_]]:
    """Return scales and started changes with one more, of open size, from the new sessions on."""
    draws = scales.mean.size
    open_size = np.full((draws, 1), new_drill_variance(trait))
    wide = Scales(
        scales.mean,
        scales.between,
        scales.drift,
        scales.session,
        np.concatenate([scales.change_mean, np.zeros((draws, 1))], axis=1),
        np.concatenate([scales.change, open_size], axis=1),
    )
    on = np.zeros((len(started) + 1, old + new), dtype=np.bool_)
    on[:-1, :old] = started
    on[:-1, old:] = True
    on[-1, old:] = True
    return wide, on


def _baseline(fit: Fit, player: str, trait: str, history: History) -> NDArray[np.int64]:
    """Return which of the sessions read make the window that new sessions compare with."""
    latest = default_windows(fit, player, trait)[1]
    places = np.searchsorted(history.places, sessions_in(fit, player, trait, latest))
    if places.size >= MIN_SESSIONS:
        return places
    return np.arange(history.places.size)[-MIN_SESSIONS:]


def _is_real(found: Chances, sign: float, threshold: float) -> NDArray[np.bool_]:
    """Return which answers are a real verdict in the direction of the change asked for."""
    return np.array(
        [
            classify(float(d), float(w), float(small), threshold) in REAL and s == sign
            for d, w, small, s in zip(
                found.direction, found.worthwhile, found.no_worthwhile, found.sign, strict=True
            )
        ]
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
    planned = MEAN_SHARE * (target - float(np.median(level_draws(fit, player, trait))))
    if abs(planned) >= worth:
        return float(planned), f"{MEAN_SHARE:.0%} of the way to the target"
    return (
        float(np.copysign(worth, planned)),
        f"{MEAN_SHARE:.0%} of the way to the target is too little to matter; "
        "this is the smallest change that does",
    )


def _more_sessions(
    fit: Fit, player: str, trait: str, cost_ratio: float, system: System
) -> tuple[int, str]:
    """Return Cochran's best number of shots a session, and why sessions beat shots."""
    k, p = fit.trait_index(trait), fit.player_index(player)
    used = fit.counts[:, p, :, k].sum(axis=1)
    read = float(np.average(fit.reading_sd[:, k] ** 2, weights=used if used.sum() else None))
    shot = float(np.sqrt(np.mean(shot_sd_draws(fit, player, trait) ** 2) + read))
    day = float(np.sqrt(np.mean(fit.session_sd[:, k] ** 2)))
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
            f"{what} with a chance of {chance_words(best.p_real)}."
        )
    most = max(designs, key=lambda d: d.p_real)
    return (
        f"{player}: {what} cannot be shown within {SESSIONS[-1]} sessions: even {most.sessions} "
        f"sessions of {most.shots_per_session} shots would do it with a chance of "
        f"{chance_words(most.p_real)}. A larger change, or a steadier reading, would help."
    )
