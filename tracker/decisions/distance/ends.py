"""What a player delivered at one end of a comparison: at a shot, in a session, in a window of days.

A shot is the posterior of that one delivery given its readings, its missing traits filled in
through the shot covariance. A session is the posterior of that day's mean (level and day effect
given what was read) with the player's shot scatter around it. A window is the mean of its days, a
session counting once, with the scatter of shots and of its days around it; over many sessions that
is the player's tendency, over one it is that session.
The same end always gives the same draws, and two shots of a session share that day's mean.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from models.arrays import Floats, Indices
from models.traits import DELIVERY, TRAITS
from tracker.decisions.distance.cloud import scatter_of, shot_normals
from tracker.errors import BadRequest, NotEnoughData
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB, Shot


@dataclass(frozen=True, slots=True)
class Moment:
    """A session, or one shot of it."""

    session: datetime
    shot: int | None = None

    def __str__(self) -> str:
        day = f"{self.session:%Y-%m-%d}"
        return day if self.shot is None else f"{day}#{self.shot}"


When = Moment | Window
"""A session, one shot of it, or a window of days."""


@dataclass(frozen=True, eq=False, slots=True)
class Deliveries:
    """One end: ``level`` (draw, trait) and ``scatter`` (draw or 1, shot, trait) around it."""

    level: Floats
    scatter: Floats


def when_text(when: When) -> str:
    """Return an end as it is written: a date, ``date#shot`` or ``date:date``."""
    return f"{when.start}:{when.end}" if isinstance(when, Window) else str(when)


def when_of(fit: Fit, player: str, text: str) -> When:
    """Return what is named by a date or date-time, either with ``#shot``, or by two dates A:B."""
    start, _, end = text.partition(":")
    try:
        days = date.fromisoformat(start), date.fromisoformat(end)
    except ValueError:
        return _moment_of(fit, player, text)
    if days[1] < days[0]:
        raise BadRequest(f"{text!r}: the window ends before it starts; put the earlier date first")
    window = Window(*days)
    sessions_at(fit, player, window)
    return window


def _moment_of(fit: Fit, player: str, text: str) -> Moment:
    day, mark, number = text.partition("#")
    if mark and not number.isdigit():
        raise BadRequest(f"{text!r}: found shot {number!r}, wanted a number such as {day}#3")
    starts = fit.sessions(player)
    try:
        asked = datetime.fromisoformat(day)
    except ValueError:
        raise BadRequest(
            f"found {text!r}, wanted a date such as 2026-05-31, a shot such as 2026-05-31#3 or "
            "two dates such as 2026-03-01:2026-04-30"
        ) from None
    same_day = [s for s in starts if s.date() == asked.date()]
    found = [s for s in same_day if s == asked] or same_day
    if len(found) != 1:
        known = ", ".join(s.isoformat(sep=" ", timespec="minutes") for s in same_day or starts)
        what = "has no session" if not found else "has several sessions"
        raise BadRequest(f"{player} {what} on {day}; pick one of {known}")
    return Moment(found[0], int(number) if mark else None)


def deliveries_at(
    fit: Fit,
    player: str,
    when: When,
    logged: Sequence[Shot],
    kept: Indices,
    *,
    shots: int,
    seed: int,
) -> Deliveries:
    """Return what a player delivered; ``logged`` holds the readings of single shots."""
    covariance = fit.shot_covariance(player, DELIVERY)[kept]
    sessions = sessions_at(fit, player, when)
    day_means = [
        session_mean_draws(fit, player, day, kept, rng_of(fit, player, Moment(day), seed))
        for day in sessions
    ]
    if isinstance(when, Moment) and when.shot is not None:
        shot = _logged_shot(player, when, logged)
        rng = rng_of(fit, player, when, seed)
        level = shot_draws(fit, shot, day_means[0], covariance, kept, rng)
        return Deliveries(level, np.zeros((1, 1, len(DELIVERY))))
    days = np.stack([fit.squad(t).session_sd[kept] for t in DELIVERY], axis=1)
    around_mean = days * np.sqrt(1 - 1 / len(sessions))
    scatter = scatter_of(covariance, around_mean, shot_normals(shots, seed))
    return Deliveries(np.mean(day_means, axis=0), scatter)


def sessions_at(fit: Fit, player: str, when: When) -> tuple[datetime, ...]:
    """Return the sessions of a player at an end, oldest first; none is refused."""
    starts = fit.sessions(player)
    if isinstance(when, Moment):
        return (when.session,)
    found = tuple(s for s in starts if when.start <= s.date() <= when.end)
    if not found:
        held = ", ".join(f"{s:%Y-%m-%d}" for s in starts)
        raise NotEnoughData(
            f"{player} has no session from {when.start} to {when.end}; sessions are on {held}"
        )
    return found


def rng_of(fit: Fit, player: str, when: When, seed: int) -> np.random.Generator:
    """Return the random numbers that belong to one end, whichever end of a comparison it is."""
    if isinstance(when, Window):
        parts = (when.start.toordinal(), when.end.toordinal(), 0)
    else:
        seconds = int(np.datetime64(when.session, "s").astype(np.int64))
        parts = (abs(seconds), int(seconds < 0), 1 + (when.shot or 0))
    number = fit.of(player, DELIVERY[0]).player_number
    return np.random.default_rng([seed, number, *parts])


def shots_at(player: str, when: When, logged: Sequence[Shot]) -> list[Shot]:
    """Return a player's logged driver shots at an end."""

    def inside(shot: Shot) -> bool:
        if isinstance(when, Window):
            return when.start <= shot.session.date() <= when.end
        return shot.session == when.session and when.shot in (None, shot.number)

    return [s for s in logged if s.player == player and s.club == DEFAULT_CLUB and inside(s)]


def session_mean_draws(
    fit: Fit, player: str, session: datetime, kept: Indices, rng: np.random.Generator
) -> Floats:
    """Return draws of a day's mean delivery, shape ``(draw, trait)``: level, day, readings."""
    s = fit.sessions(player).index(session)
    columns = []
    for trait in DELIVERY:
        one = fit.of(player, trait)
        level = one.level[kept, s].astype(np.float64)
        day = one.session_sd[kept] ** 2
        counts = one.counts[:, s]
        n = counts.sum()
        noise = rng.standard_normal(kept.size)
        if n == 0:
            columns.append(level + np.sqrt(day) * noise)
            continue
        read = counts @ one.reading_sd**2 / n
        error = (one.shot_sd[kept] ** 2 + read) / n
        bias = one.bias[kept] @ counts / n
        weight = day / (day + error)
        mean = level + weight * (one.raw_mean[s] - bias - level)
        columns.append(mean + np.sqrt(weight * error) * noise)
    return np.stack(columns, axis=1)


def shot_draws(
    fit: Fit,
    shot: Shot,
    day_mean: Floats,
    covariance: Floats,
    kept: Indices,
    rng: np.random.Generator,
) -> Floats:
    """Return draws of one shot's true delivery given its readings, shape ``(draw, trait)``.

    A shot drawn around the day's mean is corrected by how far its own drawn readings miss the real
    ones (conditioning by kriging: Matheron's rule).
    """
    factor = np.linalg.cholesky(covariance)
    normals = rng.standard_normal(day_mean.shape)
    free = day_mean + np.einsum("dij,dj->di", factor, normals)
    places = [i for i, t in enumerate(DELIVERY) if t in shot.readings]
    if not places:
        return np.asarray(free, dtype=np.float64)
    errors, biases = zip(*(_method(fit, shot, DELIVERY[i], kept) for i in places), strict=True)
    noise = rng.standard_normal((kept.size, len(places))) * np.array(errors)
    wanted = np.array([shot.readings[DELIVERY[i]] for i in places]) - np.stack(biases, axis=1)
    across = covariance[:, :, places]
    inner = covariance[:, places][:, :, places] + np.diag(np.array(errors) ** 2)
    missed = wanted - free[:, places] - noise
    step = np.linalg.solve(inner, missed[:, :, None])
    return np.asarray(free + (across @ step)[:, :, 0], dtype=np.float64)


def _logged_shot(player: str, moment: Moment, logged: Sequence[Shot]) -> Shot:
    found = shots_at(player, moment, logged)
    if found:
        return found[0]
    numbers = sorted(s.number for s in shots_at(player, Moment(moment.session), logged))
    held = f"it holds {numbers[0]} to {numbers[-1]}" if numbers else "it holds no shots"
    raise NotEnoughData(f"{player} has no shot {moment.shot} on {moment.session:%Y-%m-%d}; {held}")


def _method(fit: Fit, shot: Shot, trait: str, kept: Indices) -> tuple[float, Floats]:
    """Return the reading error and the draws of the bias of a shot's reading of a trait."""
    squad = fit.squad(trait)
    name = getattr(shot, TRAITS[trait].method_column)
    if name not in squad.methods:
        return TRAITS[trait].default_reading_sd(name), np.zeros(kept.size)
    m = squad.methods.index(name)
    return float(squad.reading_sd[m]), squad.bias[kept, m]
