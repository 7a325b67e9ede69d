"""How many sessions and shots would show a change, before anybody hits one (preposterior).

Futures are drawn from the posterior with the change asked for starting at the next session: the
level walks on, may change without a log as the model has it, and days and shots scatter. Each is
judged by the surrogate as the verdict would judge it: the player's latest window before against
all the new sessions, from readings old and new, the change's size as open as a new drill's is.
All designs are leading parts of the same drawn futures, so that they differ by design and not by
luck. Fixed effort goes farthest with (shot SD / session SD) * sqrt(session cost / shot cost) shots
a session (Cochran 1977, Sampling Techniques, 3rd ed., ch. 10): the days differ, and more shots on
one day say nothing about the other days.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.arrays import Bools, Floats, Indices
from models.tendency.jump_filter import JUMP_VARIANCES, STEADY
from models.tendency.likelihood import EFFECT_VARIANCES, MIXED
from models.tendency.surrogate import (
    Chances,
    Scales,
    chance_edges,
    chances,
    judged,
    neighbouring_days,
    part_combinations,
    season,
    window_contrast,
)
from models.traits import TRAITS
from tracker.decisions.distance.cloud import player_cloud
from tracker.decisions.distance.next_reading import reading_variance
from tracker.decisions.distance.worth import best_lever
from tracker.decisions.verdict.guards import MIN_SESSIONS, typical_gap_weeks
from tracker.decisions.verdict.history import (
    History,
    fit_scales,
    mean_bias,
    mean_variance,
    new_drills,
    player_history,
)
from tracker.decisions.verdict.verdict import REAL, classify, default_windows
from tracker.decisions.verdict.worthwhile import worthwhile_change
from tracker.errors import BadRequest, NotEnoughData
from tracker.interval import Z90
from tracker.posterior import Fit
from tracker.units import System, trait_display, value_text
from tracker.words import with_chance

SESSIONS: Final = tuple(range(2, 13))
SHOTS: Final = (5, 10, 15, 20, 30)
WANTED: Final = 0.8
SESSION_COST: Final = 20.0
"""What coming for a session costs, in shots (a coach's setting)."""
FUTURES: Final = 400
LEVER_DRAWS: Final = 200
"""Draws from which the move of the best lever is taken."""
JUDGES: Final = 32
"""Draws that judge a future."""


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

    def chances_with(shots: int) -> Floats:
        return real_chances(
            fit, player, trait, asked, shots, worth.value, threshold, seed, gap_weeks
        )

    with ThreadPoolExecutor() as pool:
        by_shots = list(pool.map(chances_with, shots_a_session))
    designs = tuple(
        Design(n, shots, float(p), (n * (session_cost + shots * shot_cost)) / shot_cost)
        for shots, found in zip(shots_a_session, by_shots, strict=True)
        for n, p in zip(SESSIONS, found, strict=True)
    )
    enough = [d for d in designs if d.p_real >= WANTED]
    best = min(enough, key=lambda d: (d.cost_shots, d.sessions), default=None)
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


def real_chances(
    fit: Fit,
    player: str,
    trait: str,
    change: float,
    shots: int,
    worthwhile: float,
    threshold: float,
    seed: int = 1,
    gap_weeks: float | None = None,
) -> Floats:
    """Return the chance of a real verdict after 2 to 12 more sessions of some shots."""
    history = player_history(fit, player, trait)
    if history is None:
        raise NotEnoughData(
            f"{player} has {TRAITS[trait].label} readings in fewer than two sessions; a retest "
            "compares with a baseline of at least two"
        )
    one = history.one
    rng = np.random.default_rng([seed, one.player_number, one.trait_number])
    old = history.weeks.size
    most = SESSIONS[-1]
    gap = typical_gap_weeks(fit, player) if gap_weeks is None else gap_weeks
    weeks = np.concatenate([history.weeks, history.weeks[-1] + gap * np.arange(1, most + 1)])
    counts = np.zeros((len(history.counts), most), dtype=np.int64)
    counts[int(history.counts[:, history.places[-1]].argmax())] = shots
    noise = np.concatenate([history.noise, mean_variance(one, counts)], axis=1)
    bias = np.concatenate([history.bias, mean_bias(one, counts)], axis=1)
    fresh = _futures(history, change, weeks[old - 1 :], noise[:, old:], bias[:, old:], rng)

    judges = np.linspace(0, fit.samples - 1, min(JUDGES, fit.samples)).astype(np.int64)
    scales = _with_new_change(history, judges, rng)
    started = np.zeros((len(history.started) + 1, old + most), dtype=np.bool_)
    started[:-1, :old] = history.started
    started[:, old:] = True
    known = season(scales, weeks, noise[judges], started, bias[judges], mixed=1)
    means = np.concatenate([np.tile(history.means, (FUTURES, 1)), fresh], axis=1)
    before = _baseline(fit, player, trait, history)
    looks = [
        (old + n, window_contrast(before, np.arange(old, old + n), old + most)) for n in SESSIONS
    ]
    answer = chances(judged(known, means, looks, chance_edges(worthwhile), given=old).above)
    return _is_real(answer, np.sign(change), threshold).mean(axis=0)


def _futures(
    history: History,
    change: float,
    weeks: Floats,
    noise: Floats,
    bias: Floats,
    rng: np.random.Generator,
) -> Floats:
    """Return means of sessions to come, ``(future, session)``; ``weeks`` start at the last one."""
    one, samples, most = history.one, len(history.noise), weeks.size - 1
    drawn = rng.integers(0, samples, FUTURES)  # all draws: a few would shift every future
    none = np.zeros((samples, 0))
    scales = fit_scales(one, none, none).take(drawn)
    passed = np.diff(weeks)
    level = one.now[drawn] + change
    walk = np.sqrt(scales.drift[:, None] * passed) * rng.standard_normal((FUTURES, most))
    day = neighbouring_days(scales.alike, most, rng) * np.sqrt(scales.session)[:, None]
    scatter = np.sqrt(noise[drawn]) * rng.standard_normal((FUTURES, most))
    steps = _unlogged(one.jump_at[drawn], one.jump[drawn], scales, passed, rng)
    return np.asarray(
        level[:, None] + np.cumsum(walk + steps, axis=1) + day + scatter + bias[drawn]
    )


def _unlogged(
    at: NDArray[np.int16],
    size: NDArray[np.float32],
    scales: Scales,
    passed: Floats,
    rng: np.random.Generator,
) -> Floats:
    """Return what nobody logs adds before each session to come, ``(future, session)``.

    A steady change goes on; a player who has had none may jump once.
    """
    futures, most = at.size, passed.size
    steady = np.where(at == 0, size, 0.0)[:, None] * passed
    weeks = float(passed.sum())
    chance = (1 - STEADY) * -np.expm1(-scales.rate * weeks)
    jumps = (at < 0) & (rng.random(futures) < chance)
    when = rng.choice(most, futures, p=passed / weeks)
    variance = scales.jump * rng.choice(JUMP_VARIANCES, futures)
    jump = np.where(jumps, np.sqrt(variance) * rng.standard_normal(futures), 0.0)
    return np.asarray(steady + jump[:, None] * (np.arange(most) == when[:, None]))


def _with_new_change(history: History, judges: Indices, rng: np.random.Generator) -> Scales:
    """Return the judges' scales with one more change, as open as a new drill's is.

    Which part each earlier change is of is drawn from what the sessions so far say.
    """
    own, fresh = history.scales.take(judges), new_drills(history.one, 1).take(judges)
    so_far = season(
        own, history.weeks, history.noise[judges], history.started, history.bias[judges]
    )
    nothing = np.zeros(history.weeks.size)
    told = judged(so_far, history.means[None], [(nothing.size, nothing)]).evidence[0, 0]
    likeliest = told + rng.gumbel(size=told.shape)  # the place of its maximum is a draw
    mixed = part_combinations(min(len(history.started), MIXED))[likeliest.argmax(axis=0)]
    parts = np.full(own.change.shape, np.mean(EFFECT_VARIANCES))
    parts[:, parts.shape[1] - mixed.shape[1] :] = mixed
    return replace(
        own,
        change_mean=np.concatenate([own.change_mean, fresh.change_mean], axis=1),
        change=np.concatenate([np.zeros_like(own.change), fresh.change], axis=1),
        change_open=np.concatenate([parts * own.change, fresh.change_open], axis=1),
    )


def _baseline(fit: Fit, player: str, trait: str, history: History) -> Indices:
    """Return which of the sessions read make the window that new sessions compare with."""
    latest = default_windows(fit, player, trait)[1]
    places = history.one.places_in(latest)
    return places if places.size >= MIN_SESSIONS else history.places[-MIN_SESSIONS:]


def _is_real(found: Chances, sign: float, threshold: float) -> Bools:
    """Return which answers are a real verdict in the direction of the change asked for."""
    verdicts = np.vectorize(
        lambda d, w, small: classify(d, w, small, threshold) in REAL, otypes=[np.bool_]
    )
    real = verdicts(found.direction, found.worthwhile, found.no_worthwhile)
    return np.asarray(real & (found.sign == sign))


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
