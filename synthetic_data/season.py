"""When each player practises, with which methods, in what air, and how many shots."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from synthetic_data.arrays import Bools, Floats, Indices
from synthetic_data.spec import AcademySpec


@dataclass(frozen=True, slots=True, eq=False)
class Timetable:
    """Every session, players in order and each player's sessions by date; arrays (session,).

    ``strike_method`` and ``delivery_method`` index ``spec.STRIKE_METHODS`` and
    ``spec.DELIVERY_METHODS``; ``day`` counts from the first day of the season.
    """

    first_day: date
    player_idx: Indices
    day: Indices
    shots: Indices
    strike_method: Indices
    delivery_method: Indices
    has_strike: Bools
    has_ball: Bools
    temperature_c: Floats

    @property
    def week(self) -> Floats:
        """Return weeks since the first day of the season."""
        weeks: Floats = self.day / 7.0
        return weeks

    @property
    def dates(self) -> tuple[date, ...]:
        """Return the date of every session."""
        return tuple(self.first_day + timedelta(days=int(d)) for d in self.day)

    def of_player(self, player: int) -> Indices:
        """Return the session indices of one player, by date."""
        return np.flatnonzero(self.player_idx == player)


def make_season(spec: AcademySpec, rng: np.random.Generator) -> Timetable:
    """Return the calendar of one academy."""
    calendars = _calendars(spec, rng)
    player_idx = np.repeat(np.arange(spec.players), [len(c) for c in calendars])
    day = np.concatenate(calendars)
    sessions = len(day)
    strike = _methods(calendars, spec.method_switch_share, 0.5, rng)
    delivery = _methods(calendars, spec.method_switch_share, 0.6, rng)
    month_angle = 2 * np.pi * (day + spec.first_day.timetuple().tm_yday - 110) / 365.0
    warm = 14.0 + 8.0 * np.sin(month_angle)
    return Timetable(
        spec.first_day,
        player_idx,
        day,
        rng.integers(spec.shots[0], spec.shots[1] + 1, sessions),
        strike,
        delivery,
        rng.random(sessions) >= spec.session_without_strike_share,
        rng.random(sessions) >= spec.session_without_ball_share,
        np.round(warm + rng.normal(0.0, 2.5, sessions)),
    )


def _calendars(spec: AcademySpec, rng: np.random.Generator) -> list[Indices]:
    """Return each player's session days; some seasons are short, some have a six-week gap."""
    span = (spec.last_day - spec.first_day).days
    order = rng.permutation(spec.players)
    short = set(order[: round(spec.short_season_share * spec.players)].tolist())
    order = rng.permutation(spec.players)
    gap = set(order[: round(spec.gap_share * spec.players)].tolist())
    calendars = []
    for player in range(spec.players):
        count = spec.sessions
        if player in short:
            count = max(1, round(spec.sessions * rng.uniform(0.4, 0.7)))
        days = _spread_days(count, span, rng)
        if player in gap:
            begin = rng.uniform(0.2, 0.6) * span
            away = (days > begin) & (days < begin + 42)
            # An absence moves practice elsewhere in the season where there is room for it.
            free = np.setdiff1d(np.arange(span + 1), days)
            free = free[(free <= begin) | (free >= begin + 42)]
            moved = rng.permutation(free)[: int(away.sum())]
            days = np.sort(np.concatenate([days[~away], moved]))
        calendars.append(days.astype(np.int64))
    return calendars


def _spread_days(count: int, span: int, rng: np.random.Generator) -> Indices:
    """Return ``count`` different days in 0..span, at least half the even spacing apart."""
    least = max(1, int(0.5 * span / max(count, 1)))
    slack = span - least * (count - 1)
    return np.sort(rng.integers(0, slack + 1, count)) + least * np.arange(count)


def _methods(
    calendars: list[Indices], switch_share: float, first_share: float, rng: np.random.Generator
) -> Indices:
    """Return the method index of every session; some players change method mid-season."""
    players = len(calendars)
    starts_with = np.where(rng.permutation(players) < max(1, round(first_share * players)), 0, 1)
    least = 1 if switch_share > 0 else 0
    switchers = set(rng.permutation(players)[: max(least, round(switch_share * players))].tolist())
    out = []
    for player, days in enumerate(calendars):
        method = np.full(len(days), starts_with[player])
        if player in switchers:
            method[round(len(days) * rng.uniform(0.35, 0.65)) :] = 1 - starts_with[player]
        out.append(method)
    return np.concatenate(out)
