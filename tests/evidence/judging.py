"""One squad's season judged after every session: by the verdict, and by the habits it replaces.

The habits, as a coach or player would follow them without statistics: a shot now against a shot
then, and the last session's average against the baseline's, each calling a change when the
difference exceeds the worthwhile change; and a t-test on all shots of the two windows at 5 %
(Welch 1947, Biometrika 34:28), with its 90 % interval.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy import special

from tests.evidence.quick_fit import QuickFit, quick_fit
from tests.evidence.seasons import SESSIONS, TRAIT, Kind, Squad, name_of
from tracker.decisions.history import player_history
from tracker.decisions.likeness import Likeness, contrast_moments, neighbour_likeness
from tracker.decisions.surrogate import chances, season, window_contrast
from tracker.decisions.threshold import (
    calibrated_threshold,
    look_windows,
)
from tracker.posterior import Fit

Floats = NDArray[np.float64]

WORTHWHILE_MM = 1.2
"""A fifth of a between-player SD of 6 mm."""
LOOKS = range(4, SESSIONS + 1)
"""Before the fourth session neither window could hold two."""
CALIBRATED_AT = (4, 6, 9, 12)


@dataclass(frozen=True, slots=True)
class Row:
    """One player looked at once; ``squad`` and ``player`` name the season."""

    squad: int
    player: int
    look: int
    kind: Kind
    truth: float
    p_direction: float
    sign: float
    p_alone: float
    sign_alone: float
    low: float
    high: float
    threshold: float
    plain_difference: float
    t_test_p: float
    t_low: float
    t_high: float
    last_session: float
    one_shot: float
    drill_logged: bool


def judge_season(squad: Squad, number: int, seed: int) -> list[Row]:
    """Return every look at every player of a squad."""
    rows: list[Row] = []
    before: QuickFit | None = None
    threshold = {False: 0.99, True: 0.99}
    for look in LOOKS:
        before = quick_fit(squad, look, seed + number, before)
        alike = neighbour_likeness(before.fit, TRAIT)
        if look in CALIBRATED_AT:
            threshold = {
                logged: calibrated_threshold(
                    before.fit, TRAIT, logged=logged, seed=look, likeness=alike
                ).value
                for logged in threshold
            }
        rng = np.random.default_rng([seed, number, look, 1])
        for p in range(len(squad.kinds)):
            row = _judge(squad, before.fit, alike, number, p, look, threshold, rng)
            if row is not None:
                rows.append(row)
    return rows


def surrogate_difference(
    fit: Fit, p: int, windows: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> tuple[Floats, Floats]:
    """Return mean and variance by draw of a player's window difference, from the session means."""
    own = player_history(fit, TRAIT, p)
    assert own is not None
    known = season(own.scales, own.weeks, own.noise, own.started)
    contrast = window_contrast(*windows, own.weeks.size)
    return known.difference(known.whitened(own.means[None]), contrast, own.weeks.size)


def _judge(
    squad: Squad,
    fit: Fit,
    alike: Likeness,
    number: int,
    p: int,
    look: int,
    threshold: Mapping[bool, float],
    rng: np.random.Generator,
) -> Row | None:
    changes = [
        (c.start - squad.changes[0].start).days for c in squad.changes if c.player == name_of(p)
    ]
    origin = np.datetime64(squad.changes[0].start, "D")
    starts = fit.session_start[p, :look].astype("datetime64[D]")
    windows = look_windows((starts - origin).astype(int).tolist(), changes)
    if windows is None or min(w.size for w in windows) < 2:
        return None
    own = player_history(fit, TRAIT, p)
    assert own is not None
    contrast = window_contrast(*windows, own.weeks.size)
    means, cov = contrast_moments(own, contrast[None], alike)
    mean, variance = means.T, cov[:, 0, 0]
    alone = chances(*surrogate_difference(fit, p, windows), None, WORTHWHILE_MM)
    found = chances(mean, variance, None, WORTHWHILE_MM)
    draws = mean[0][:, None] + np.sqrt(variance)[:, None] * rng.standard_normal((variance.size, 80))
    low, high = np.quantile(draws, [0.05, 0.95])
    place, value = squad.readings[p]
    first, second = (value[np.isin(place, w)] for w in windows)
    plain, t_test_p, reach = _welch(first, second)
    level = squad.level[p]
    return Row(
        squad=number,
        player=p,
        look=look,
        kind=squad.kinds[p],
        truth=float(level[windows[1]].mean() - level[windows[0]].mean()),
        p_direction=float(found.direction[0]),
        sign=float(found.sign[0]),
        p_alone=float(alone.direction[0]),
        sign_alone=float(alone.sign[0]),
        low=float(low),
        high=float(high),
        threshold=threshold[bool(changes)],
        plain_difference=plain,
        t_test_p=t_test_p,
        t_low=plain - reach,
        t_high=plain + reach,
        last_session=float(value[place == look - 1].mean() - first.mean()),
        one_shot=float(rng.choice(value[place == look - 1]) - rng.choice(first)),
        drill_logged=bool(changes),
    )


def _welch(first: Floats, second: Floats) -> tuple[float, float, float]:
    """Return the difference of means, its p-value and the reach of its 90 % interval."""
    parts = np.array([first.var(ddof=1) / first.size, second.var(ddof=1) / second.size])
    error = np.sqrt(parts.sum())
    df = parts.sum() ** 2 / (parts**2 / [first.size - 1, second.size - 1]).sum()
    apart = float(second.mean() - first.mean())
    p_value = 2 * special.stdtr(df, -abs(apart) / error)
    return apart, float(p_value), float(special.stdtrit(df, 0.95) * error)


def columns(rows: list[Row]) -> dict[str, NDArray[np.generic]]:
    """Return rows as arrays by field."""
    return {f.name: np.array([getattr(r, f.name) for r in rows]) for f in fields(Row)}
