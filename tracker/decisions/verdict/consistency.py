"""Whether a player's shots scatter less than before: the change of log shot SD, as a verdict.

The squares about the sessions' own means are chi-square times shot SD^2 + reading SD^2 by reading
method, with the robust weights and the heavy-tail allowance of
``tracker.readings.session_summary``. Log SD before and the log ratio after / before have normal
priors around the trait table's values; the posterior is summed over a grid. A ratio of .9 or
1 / .9 is the smallest that matters.

What would settle it is found by letting further sessions like the latest ones follow: as many
shots, the same scatter.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
import pandas as pd

from models.arrays import Floats, Indices
from models.traits import TRAITS
from tracker.decisions.verdict.guards import MIN_SESSIONS
from tracker.decisions.verdict.verdict import REAL, WindowSummary, classify
from tracker.errors import BadRequest, NotEnoughData
from tracker.interval import INTERVAL_PROB, Interval
from tracker.player_trait import Window
from tracker.readings.session_summary import ShotIndex, TraitSummary, trait_summary
from tracker.words import VerdictName

SETTLED: Final[tuple[VerdictName, ...]] = ("real-worthwhile", "no-worthwhile-change")
WORTHWHILE_RATIO: Final = 0.9
"""The smallest SD after / SD before, or its inverse, that matters."""
SURE_OF_SCATTER: Final = 0.995
"""P(smaller) or P(larger) from which the scatter has really changed. At this limit players whose
scatter stands still, looked at after each of twelve sessions, are ever called changed in 1.2 % of
simulated seasons with 15 shots a session and in 2.5 % with 40; at .99 in 3.0 and 5.7 %."""
LOG_SD_PRIOR: Final = 0.6
"""Prior SD of a player's log shot SD about the trait table's."""
LOG_RATIO_PRIOR: Final = 0.25
"""Prior SD of the log ratio: as far as players differ, so does one player from season to season."""
MOST_SESSIONS: Final = 24
"""Further sessions that are looked at for what would settle it."""
_BASE = np.linspace(-1.8, 1.8, 241)
_RATIO = np.linspace(-1.25, 1.25, 501)


@dataclass(frozen=True, slots=True)
class ConsistencyVerdict:
    """Whether the shot scatter changed; ``ratio`` is SD after / SD before, shrunken."""

    player: str
    trait: str
    before: WindowSummary
    after: WindowSummary
    sd_before: Interval
    sd_after: Interval
    ratio: Interval
    p_smaller: float
    p_worthwhile: float
    p_no_worthwhile: float
    verdict: VerdictName
    direction: Literal["tighter", "looser"] | None
    guards: tuple[str, ...]
    threshold: float
    settle: str


def judge_consistency(
    shots: pd.DataFrame,
    player: str,
    trait: str,
    before: Window,
    after: Window,
    *,
    threshold: float = SURE_OF_SCATTER,
) -> ConsistencyVerdict:
    """Return the verdict on a player's shot scatter between two windows.

    ``shots`` is the squad's log with the columns of ``dataset.squad_data``; everybody's shots say
    how heavy the tails are.
    """
    if after.start <= before.end:
        raise BadRequest(
            f"the window after starts on {after.start}, before the window before has ended "
            f"({before.end}); pick windows that share no day, the earlier one first"
        )
    summary = _summary(shots, player, trait, before, after)
    windows = tuple(_described(summary, i, w) for i, w in enumerate((before, after)))
    for window in windows:
        if not summary.scatter_df[:, windows.index(window)].sum() > 0:
            raise NotEnoughData(
                f"{player} has no session with two {TRAITS[trait].label} readings from "
                f"{window.start} to {window.end}; scatter needs at least two shots a session"
            )
    return _judged(summary, player, trait, windows, threshold)


def looser_scatter(
    shots: pd.DataFrame,
    trait: str,
    windows: Mapping[str, tuple[Window, Window]],
    *,
    threshold: float = SURE_OF_SCATTER,
) -> tuple[ConsistencyVerdict, ...]:
    """Return the verdicts on those players whose shots may scatter more in their later window.

    The whole squad is summed up at once; whose plain ratio is not above 1 by more than twice its
    own error is left out, since no verdict could call that looser.
    """
    names = tuple(windows)
    codes = shots["player"].map({name: i for i, name in enumerate(names)})
    known = shots[shots[trait].notna() & codes.notna()]
    if known.empty:
        return ()
    code = codes[known.index].to_numpy(np.int64)
    day = known["session"].to_numpy().astype("datetime64[D]")
    place = np.full(len(known), -1)
    for i in (0, 1):
        ends = np.array([[w[i].start, w[i].end] for w in windows.values()], "datetime64[D]")
        inside = (day >= ends[code, 0]) & (day <= ends[code, 1])
        place[inside] = 2 * code[inside] + i
    known, place = known[place >= 0], place[place >= 0]
    if known.empty:
        return ()
    index = _index(place, known["session"], 2 * len(names))
    summary = trait_summary(known, trait, index, ())
    found = []
    for i, name in enumerate(names):
        pair = _pair(summary, 2 * i)
        if _may_be_looser(pair):
            described = tuple(_described(pair, j, w) for j, w in enumerate(windows[name]))
            found.append(_judged(pair, name, trait, described, threshold))
    return tuple(found)


def _pair(summary: TraitSummary, first: int) -> TraitSummary:
    """Return the summary of two windows out of those of many."""
    both = slice(first, first + 2)
    return replace(
        summary,
        readings=summary.readings[:, both],
        scatter=summary.scatter[:, both],
        scatter_df=summary.scatter_df[:, both],
    )


def _may_be_looser(pair: TraitSummary) -> bool:
    df, squares = pair.scatter_df.sum(axis=0), pair.scatter.sum(axis=0)
    if not (df > 0).all() or not (squares > 0).all():
        return False
    log_ratio = 0.5 * np.log(squares[1] / df[1] / (squares[0] / df[0]))
    return bool(log_ratio > 2 * np.sqrt(np.sum(1 / (2 * df))))


def _judged(
    summary: TraitSummary,
    player: str,
    trait: str,
    windows: tuple[WindowSummary, ...],
    threshold: float,
) -> ConsistencyVerdict:
    """Return the verdict on two windows that are summed up."""
    chance = _posterior(summary, trait)
    ratio = chance.sum(axis=0)
    smaller, worth, small = _chances(ratio)
    tighter = smaller >= 0.5
    guards = tuple(
        f"Only {w.sessions} session from {w.start} to {w.end}: one day's scatter is not a habit."
        for w in windows
        if w.sessions < MIN_SESSIONS
    )
    verdict: VerdictName = (
        "cannot-tell" if guards else classify(max(smaller, 1 - smaller), worth, small, threshold)
    )
    named = verdict in REAL or verdict == "leaning"
    unit, centre = TRAITS[trait].unit, _centre(trait)
    log_after = (_BASE[:, None] + _RATIO).ravel()
    return ConsistencyVerdict(
        player=player,
        trait=trait,
        before=windows[0],
        after=windows[1],
        sd_before=_interval(centre * np.exp(_BASE), chance.sum(axis=1), unit),
        sd_after=_interval(centre * np.exp(log_after), chance.ravel(), unit),
        ratio=_interval(np.exp(_RATIO), ratio, ""),
        p_smaller=smaller,
        p_worthwhile=worth,
        p_no_worthwhile=small,
        verdict=verdict,
        direction=("tighter" if tighter else "looser") if named else None,
        guards=guards,
        threshold=threshold,
        settle=_settle(summary, trait, verdict, windows, threshold),
    )


def _chances(ratio: Floats) -> tuple[float, float, float]:
    """Return P(smaller), P(beyond what matters on the likelier side) and P(within it)."""
    edge = -np.log(WORTHWHILE_RATIO)
    smaller = float(ratio[_RATIO < 0].sum() + 0.5 * ratio[_RATIO == 0].sum())
    side = -_RATIO if smaller >= 0.5 else _RATIO
    return smaller, float(ratio[side > edge].sum()), float(ratio[np.abs(_RATIO) < edge].sum())


def _settle(
    summary: TraitSummary,
    trait: str,
    verdict: VerdictName,
    windows: tuple[WindowSummary, ...],
    threshold: float,
) -> str:
    """Return how many more sessions like the latest would bring a verdict."""
    if verdict in SETTLED:
        return "Settled for these dates."
    before, after = windows
    if before.sessions < MIN_SESSIONS:
        return "Earlier dates with at least two sessions, or two sessions as a new start."
    short = max(0, MIN_SESSIONS - after.sessions)
    shots = max(2, round(after.shots / after.sessions))
    for more in range(max(1, short), MOST_SESSIONS + 1):
        longer = 1 + more / after.sessions
        smaller, worth, small = _chances(_posterior(summary, trait, longer).sum(axis=0))
        found = classify(max(smaller, 1 - smaller), worth, small, threshold)
        if found in SETTLED or (found in REAL and verdict not in REAL):
            plural = "s" if more > 1 else ""
            return (
                f"About {more} more session{plural} of {shots} shots should settle it, if they "
                "scatter like the latest."
            )
    return (
        f"Hard to settle: even {MOST_SESSIONS} more sessions of {shots} shots that scatter like "
        "the latest would leave it open. A bigger change shows sooner."
    )


def _summary(
    shots: pd.DataFrame, player: str, trait: str, before: Window, after: Window
) -> TraitSummary:
    """Return the squad's summary with the player's two windows as its first two players."""
    rows = shots[shots[trait].notna()]
    day = rows["session"].to_numpy().astype("datetime64[D]")
    own = (rows["player"] == player).to_numpy()
    place = np.full(len(rows), -1)
    for i, window in enumerate((before, after)):
        inside = (day >= np.datetime64(window.start)) & (day <= np.datetime64(window.end))
        place[own & inside] = i
        if not (own & inside).any():
            raise NotEnoughData(
                f"{player} has no {TRAITS[trait].label} readings from {window.start} to "
                f"{window.end}; pick dates that hold at least one session"
            )
    others, _ = pd.factorize(rows["player"])
    place = np.where(own, place, 2 + others)
    kept = place >= 0
    rows, place = rows[kept], place[kept]
    return trait_summary(rows, trait, _index(place, rows["session"], int(place.max()) + 1), ())


def _index(place: Indices, session: pd.Series, places: int) -> ShotIndex:
    """Return whose each shot is and which session of theirs, counted from 0."""
    keys = pd.MultiIndex.from_arrays([place, session])
    cell, unique = pd.factorize(keys, sort=True)
    owner = unique.get_level_values(0).to_numpy()
    first = np.searchsorted(owner, owner)
    number = (np.arange(len(owner)) - first)[cell]
    return ShotIndex(place.astype(np.int64), number, places, int(number.max()) + 1)


def _described(summary: TraitSummary, i: int, window: Window) -> WindowSummary:
    readings = summary.readings[:, i].sum(axis=0)
    return WindowSummary(window.start, window.end, int((readings > 0).sum()), int(readings.sum()))


def _centre(trait: str) -> float:
    prior = TRAITS[trait].prior
    if prior is None:
        raise BadRequest(f"trait: found {trait!r}, wanted one that the club or the strike decides")
    return prior.shot_sd


def _posterior(summary: TraitSummary, trait: str, longer: float = 1.0) -> Floats:
    """Return the chance of each log SD before (row) and log ratio (column).

    ``longer`` times as many shots of the same scatter stand in the later window.
    """
    told = -0.5 * (_BASE[:, None] / LOG_SD_PRIOR) ** 2 - 0.5 * (_RATIO / LOG_RATIO_PRIOR) ** 2
    centre = _centre(trait)
    for i, log_sd in enumerate((_BASE[:, None], _BASE[:, None] + _RATIO)):
        shot2 = (centre * np.exp(log_sd)) ** 2
        for m, read in enumerate(summary.reading_sd):
            variance = shot2 + read**2
            times = longer if i else 1.0
            df, squares = times * summary.scatter_df[m, i], times * summary.scatter[m, i]
            told = told - 0.5 * (df * np.log(variance) + squares / variance)
    chance = np.exp(told - told.max())
    return np.asarray(chance / chance.sum())


def _interval(values: Floats, chance: Floats, unit: str) -> Interval:
    """Return the interval of values on a grid, each with its chance."""
    order = np.argsort(values)
    below = np.cumsum(chance[order]) - 0.5 * chance[order]
    tail = (1 - INTERVAL_PROB) / 2
    low, median, high = np.interp([tail, 0.5, 1 - tail], below, values[order])
    return Interval(float(median), float(low), float(high), unit)
