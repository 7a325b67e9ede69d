"""One squad's season judged after every session: by the verdict, by detectors that know what no
tool can know, and by the habits that a verdict replaces.

The habits, as a coach or player would follow them without statistics: a shot now against a shot
then, and the last session's average against the baseline's, each calling a change when the
difference exceeds the worthwhile change; and a t-test on all shots of the two windows at 5 %
(Welch 1947, Biometrika 34:28), with its 90 % interval.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from scipy import special

from models.arrays import Floats
from models.sampling.sampler import Effort, sample, sampler_report, stacked
from models.tendency.density import prior_draws, tendency_target
from models.tendency.smoother import smoothed
from models.traits import prior_of
from tests.evidence.detectors import known_change, known_interval
from tests.evidence.seasons import SESSIONS, TRAIT, Kind, Squad, name_of
from tracker.decisions.verdict.threshold import calibrated_thresholds
from tracker.decisions.verdict.windows import default_split
from tracker.fit_info import FitInfo
from tracker.fits.assembly import assembled
from tracker.fits.dataset import SquadData, squad_data
from tracker.fits.fitting import all_series
from tracker.posterior import Fit

WORTHWHILE_MM = 1.2
"""A fifth of a between-player SD of 6 mm."""
LOOKS = range(4, SESSIONS + 1)
"""Before the fourth session neither window could hold two."""
CALIBRATED_AT = (4, 8, 12)
UNKNOWN = (np.nan, np.nan, np.nan)
EFFORT = Effort(draws=300, tune=150, chains=2, cores=1, target_accept=0.85, doublings=3)
"""Shorter than a fit's own, and sampled once: what is left of its error is in the figures."""
SEASONS = 1000
"""Simulated seasons behind a threshold; a fit's own has twice as many."""


@dataclass(frozen=True, slots=True)
class Row:
    """One player looked at once; ``squad`` and ``player`` name the season."""

    squad: int
    player: int
    look: int
    kind: Kind
    truth: float
    change: float
    p_direction: float
    sign: float
    low: float
    high: float
    threshold: float
    exact: float
    """P(direction) of a detector that knows every SD, signed by its direction."""
    told: float
    """The same of one that also knows what the drill does on average."""
    known_low: float
    """The 90 % interval of one who knows the generator's whole law, after the last session ..."""
    known_high: float
    """... and nothing before."""
    known_direction: float
    """Their P(direction), signed, likewise."""
    plain_difference: float
    t_test_p: float
    t_low: float
    t_high: float
    last_session: float
    one_shot: float
    drill_logged: bool
    divergences: int


def judge_season(squad: Squad, number: int, seed: int) -> list[Row]:
    """Return every look at every player of a squad."""
    rows: list[Row] = []
    threshold = {False: 0.99, True: 0.99}
    for look in LOOKS:
        data = squad_data(squad.upto(look), squad.changes, traits=(TRAIT,), references=("photo",))
        fit = short_fit(data, seed + number)
        if look in CALIBRATED_AT:
            threshold = {
                logged: calibrated_thresholds(
                    fit, TRAIT, logged=logged, seed=look, seasons=SEASONS
                )["usual"].value
                for logged in threshold
            }
        rng = np.random.default_rng([seed, number, look, 1])
        for p in range(len(squad.kinds)):
            row = _judge(squad, fit, number, p, look, threshold, rng)
            if row is not None:
                rows.append(row)
    return rows


def short_fit(data: SquadData, seed: int) -> Fit:
    """Return the fit of the one trait from ``EFFORT``, whatever its report says."""
    (series,) = all_series(data)
    prior = prior_of(TRAIT)
    target = tendency_target(series, prior)
    tree = sample(target, EFFORT, seed)
    drawn = stacked(tree, list(target.named(target.start)), EFFORT.draws * EFFORT.chains)
    rng = np.random.default_rng([seed, 5])
    draws = {**prior_draws(prior, len(drawn["mu"]), rng), **drawn}
    info = FitInfo(0, datetime(2026, 1, 1), "", seed, 0.0, sampler_report(tree), {})
    hidden = smoothed(draws, series, np.random.default_rng([seed, 1]))
    return assembled(data, [series], [draws], [hidden], info, seed)


def windows_of(
    squad: Squad, p: int, look: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]] | None:
    """Return the default windows of a player after some sessions, as places among them."""
    first = squad.day[0, 0]
    days = (squad.day[p, :look] - first).tolist()
    origin = np.datetime64("2026-01-05", "D") + first
    changes = [
        int((np.datetime64(c.start, "D") - origin).astype(int))
        for c in squad.changes
        if c.player == name_of(p)
    ]
    found = default_split(days, changes)
    return (found.before, found.after) if found is not None and found.judgeable else None


def _judge(
    squad: Squad,
    fit: Fit,
    number: int,
    p: int,
    look: int,
    threshold: Mapping[bool, float],
    rng: np.random.Generator,
) -> Row | None:
    windows = windows_of(squad, p, look)
    if windows is None:
        return None
    first_window, second_window = windows
    levels = fit.level[:, p, :, 0].astype(np.float64)
    change = levels[:, second_window].mean(axis=1) - levels[:, first_window].mean(axis=1)
    up = float(np.mean(change > 0))
    low, high = np.quantile(change, [0.05, 0.95])
    logged = any(c.player == name_of(p) for c in squad.changes)
    exact, told = known_change(squad, p, look)
    place, value = squad.readings[p]
    first, second = (value[np.isin(place, w)] for w in windows)
    plain, t_test_p, reach = _welch(first, second)
    level = squad.level[p]
    known = known_interval(squad, p, look, windows, rng) if look == SESSIONS else UNKNOWN
    return Row(
        squad=number,
        player=p,
        look=look,
        kind=squad.kinds[p],
        truth=float(level[second_window].mean() - level[first_window].mean()),
        change=float(change.mean()),
        p_direction=max(up, 1 - up),
        sign=1.0 if up >= 0.5 else -1.0,
        low=float(low),
        high=float(high),
        threshold=threshold[logged],
        exact=exact,
        told=told,
        known_low=known[0],
        known_high=known[1],
        known_direction=known[2],
        plain_difference=plain,
        t_test_p=t_test_p,
        t_low=plain - reach,
        t_high=plain + reach,
        last_session=float(value[place == look - 1].mean() - first.mean()),
        one_shot=float(rng.choice(value[place == look - 1]) - rng.choice(first)),
        drill_logged=logged,
        divergences=fit.info.report.divergences,
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
