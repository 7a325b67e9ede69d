"""What pictures of players and squads are drawn from: a stored fit, in the reader's units."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

import numpy as np

from models.arrays import Floats
from models.traits import STRIKES, TRAITS
from tracker.charts.face_map import FaceMap
from tracker.charts.landing import DrivesFromAbove, Landings
from tracker.charts.outline import cloud_of, cloud_of_draws
from tracker.charts.rank import RankRow
from tracker.charts.strips import Strip, Strips
from tracker.charts.trend import LevelPoint, Marked, RawPoint, Span, Trend
from tracker.decisions.board.start_now import steps_of
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.landing import Spread, Spreads
from tracker.decisions.distance.target import Target
from tracker.decisions.squad import SquadRow
from tracker.decisions.verdict.unlogged_words import unlogged_sentence
from tracker.decisions.verdict.verdict import Verdict
from tracker.posterior import Fit
from tracker.units import System, display, shown, trait_display

TOE, UP = STRIKES
UNLOGGED = "change not logged"


def face_of(
    fit: Fit, player: str, gains: Gains, strikes: Sequence[tuple[float, float]]
) -> FaceMap | None:
    """Return a player's face map; None where the strike was never read both ways."""
    if not {TOE, UP} <= set(fit.traits):
        return None
    across, high = fit.of(player, TOE), fit.of(player, UP)
    if not (across.is_read and high.is_read):
        return None
    toe, up = across.now, high.now
    scatter = fit.shot_covariance(player, (TOE, UP)).mean(axis=0)
    windows = {fix.trait: fix.window for fix in gains.fixes}
    return FaceMap(
        handed=fit.player(player).handed,
        strikes=tuple(strikes),
        tendency=cloud_of_draws(toe, up),
        scatter=cloud_of((float(toe.mean()), float(up.mean())), scatter),
        window_toe_mm=windows.get(TOE),
        window_up_mm=windows.get(UP),
    )


def trend_of(fit: Fit, verdict: Verdict, system: System) -> Trend:
    """Return a trait's level over time with what was read, what was logged and the target."""
    player, trait = verdict.player, verdict.trait
    how = trait_display(trait, system)
    one = fit.of(player, trait)
    ends = np.quantile(one.path * how.factor, [0.05, 0.25, 0.5, 0.75, 0.95], axis=0)
    level = tuple(_level_point(when, q) for when, q in zip(one.starts, ends.T, strict=True))
    raw = tuple(
        RawPoint(m.start, m.mean * how.factor, m.standard_error * how.factor, m.shots)
        for m in one.session_means()
    )
    marked = tuple(
        Marked(c.start, c.name)
        for c in fit.changes
        if c.player == player and c.trait in (None, trait)
    )
    spans = tuple(
        Span(w.start, w.end, name)
        for w, name in ((verdict.before, "before"), (verdict.after, "after"))
    )
    found = verdict.unlogged
    said = found is not None and unlogged_sentence(verdict, system)
    return Trend(
        label=TRAITS[trait].label,
        unit=how.unit,
        positive=TRAITS[trait].positive,
        level=level,
        raw=raw,
        changes=marked,
        windows=spans,
        unlogged=Span(*found.between, UNLOGGED) if found is not None and said else None,
        target=scaled(verdict.target_window, how.factor),
    )


def strips_of(
    fit: Fit,
    trait: str,
    players: Sequence[str],
    targets: Mapping[str, Target | None],
    since: date | None,
    system: System,
) -> Strips:
    """Return the levels of some players over a season, with targets and what changed at once.

    Who has no session since the day has no strip.
    """
    how, rows = trait_display(trait, system), []
    for player in players:
        one = fit.of(player, trait)
        places = one.places_since(since)
        if not places.size:
            continue
        ends = np.quantile(one.level[:, places] * how.factor, [0.05, 0.25, 0.5, 0.75, 0.95], axis=0)
        steps, aim = steps_of(one, since), targets.get(player)
        found = [step for step in steps if step.kind == "found"]
        rows.append(
            Strip(
                player=player,
                level=tuple(
                    _level_point(one.starts[place], q)
                    for place, q in zip(places, ends.T, strict=True)
                ),
                target=None if aim is None else scaled(aim.window, how.factor),
                logged=tuple(Marked(s.between[0], s.name) for s in steps if s.kind == "logged"),
                found=Span(*found[0].between, UNLOGGED) if found else None,
            )
        )
    return Strips(TRAITS[trait].label, how.unit, TRAITS[trait].positive, tuple(rows))


def drives_of(
    fit: Fit, player: str, spreads: Spreads, corridor_m: float, system: System
) -> DrivesFromAbove:
    """Return a player's drives from above; the open-face side is right for a right-hander."""
    how = display("distance", system)
    side = -1.0 if fit.player(player).handed == "left" else 1.0

    def landings(name: str, spread: Spread) -> Landings:
        return Landings(name, spread.along * how.factor, side * spread.beside * how.factor)

    after = None if spreads.after is None else landings("after", spreads.after)
    return DrivesFromAbove(how.unit, landings("now", spreads.now), after, corridor_m * how.factor)


def _level_point(when: datetime, ends: Floats) -> LevelPoint:
    """Return a point from its 5, 25, 50, 75 and 95 % quantiles."""
    q = [float(end) for end in ends]
    return LevelPoint(when, q[2], (q[1], q[3]), (q[0], q[4]))


def rank_row(fit: Fit, trait: str, row: SquadRow, system: System) -> RankRow:
    """Return one player's row of the picture of places."""
    how = trait_display(trait, system)
    low, high = np.quantile(fit.of(row.player, trait).now * how.factor, [0.25, 0.75])
    return RankRow(
        player=row.player,
        level=shown(row.level, TRAITS[trait].quantity, system),
        half=(float(low), float(high)),
        expected_rank=row.expected_rank,
        rank90=row.rank90,
        target=scaled(row.target_window, how.factor),
    )


def scaled(window: tuple[float, float] | None, factor: float) -> tuple[float, float] | None:
    """Return a window in another unit; None stays None."""
    return None if window is None else (window[0] * factor, window[1] * factor)
