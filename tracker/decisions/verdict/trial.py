"""One imagined retest: futures of a change, each judged as the verdict would judge it.

Futures are drawn from the posterior with the change starting at the next session: the level walks
on, may change without a log as the model has it, and days and shots scatter. Each is judged by the
surrogate: the player's latest window before against all the new sessions, from readings old and
new, the change's size as open as a new drill's is. What is said after few sessions and after many
is said of the same futures.
"""

from collections.abc import Sequence
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
    Season,
    chance_edges,
    chances,
    judged,
    neighbouring_days,
    part_combinations,
    season,
    window_contrast,
)
from models.traits import TRAITS
from tracker.decisions.verdict.guards import MIN_SESSIONS, typical_gap_weeks
from tracker.decisions.verdict.history import (
    History,
    fit_scales,
    mean_variance,
    new_drills,
    player_history,
)
from tracker.decisions.verdict.verdict import REAL, classify, default_windows
from tracker.errors import NotEnoughData
from tracker.posterior import Fit

SESSIONS: Final = tuple(range(2, 13))
FUTURES: Final = 400
JUDGES: Final = 32
"""Draws that judge a future."""
AT_ONCE: Final = 100
"""Futures that are judged before it is asked whether enough can still end in a real verdict."""


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """Some shots a session, to be judged after any number of sessions."""

    known: Season
    means: Floats
    """Of the sessions so far and of those to come, ``(future, session)``."""
    before: Indices
    """Which sessions make the window that the new ones are compared with."""
    so_far: int
    """Sessions that there are already."""
    change: float
    """Trait's unit."""
    worthwhile: float
    threshold: float

    def chances(self) -> Floats:
        """Return the chance of a real verdict after each of ``SESSIONS``."""
        return self._real(self.means, SESSIONS).mean(axis=0)

    def chances_if(self, wanted: float) -> Floats:
        """Return the same with 0 for a chance below ``wanted``, in the less time that this takes.

        A number of sessions is given up once too few futures are left for it.
        """
        real, open_ = np.zeros(len(SESSIONS)), np.ones(len(SESSIONS), dtype=np.bool_)
        for start in range(0, len(self.means), AT_ONCE):
            some = self.means[start : start + AT_ONCE]
            real[open_] += self._real(some, np.array(SESSIONS)[open_].tolist()).sum(axis=0)
            left = len(self.means) - start - len(some)
            open_ &= (real + left) / len(self.means) >= wanted
            if not open_.any():
                break
        return np.where(open_, real / len(self.means), 0.0)

    def _real(self, means: Floats, sessions: Sequence[int]) -> Bools:
        """Return which futures are called real after so many sessions, ``(future, look)``."""
        every = self.means.shape[1]
        looks = [
            (
                self.so_far + n,
                window_contrast(self.before, np.arange(self.so_far, self.so_far + n), every),
            )
            for n in sessions
        ]
        edges = chance_edges(self.worthwhile)
        answer = chances(judged(self.known, means, looks, edges, given=self.so_far).above)
        return _is_real(answer, np.sign(self.change), self.threshold)


def trial(
    fit: Fit,
    player: str,
    trait: str,
    change: float,
    shots: int,
    worthwhile: float,
    threshold: float,
    seed: int = 1,
    gap_weeks: float | None = None,
) -> Trial:
    """Return a retest of a change (trait's unit) with some shots a session, imagined to its end.

    Raises NotEnoughData for a player with fewer than two sessions of the trait.
    """
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
    bias = np.concatenate([history.bias, one.mean_bias(counts)], axis=1)
    fresh = _futures(history, change, weeks[old - 1 :], noise[:, old:], bias[:, old:], rng)

    judges = np.linspace(0, fit.samples - 1, min(JUDGES, fit.samples)).astype(np.int64)
    scales = _with_new_change(history, judges, rng)
    started = np.zeros((len(history.started) + 1, old + most), dtype=np.bool_)
    started[:-1, :old] = history.started
    started[:, old:] = True
    return Trial(
        known=season(scales, weeks, noise[judges], started, bias[judges], mixed=1),
        means=np.concatenate([np.tile(history.means, (FUTURES, 1)), fresh], axis=1),
        before=_baseline(fit, player, trait, history),
        so_far=old,
        change=change,
        worthwhile=worthwhile,
        threshold=threshold,
    )


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
