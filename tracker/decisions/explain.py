"""Where the metres between two sessions or two shots come from, draw by draw.

Each end is a cloud of deliveries: a session's is the posterior of that day's mean (level and day
effect given what was read) with the player's shot scatter around it; a shot's is the posterior of
that one delivery given its readings, its missing traits filled in through the shot covariance.
The modelled difference of expected carry divides into exact Shapley values over six groups. Where
carry was read at both ends the difference is the read one, and what the model does not reach is a
part of its own. The parts sum to the difference in every draw.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from models.drive_parameters import DriveParameters, draw_parameters
from models.traits import TRAITS
from tracker.decisions.cloud import DELIVERY, expected_carry_of, shot_normals
from tracker.decisions.shapley import shapley_values
from tracker.errors import BadRequest, NotEnoughData
from tracker.interval import Interval
from tracker.posterior import Fit, Floats, session_starts, shot_covariance_draws
from tracker.records import DEFAULT_CLUB, Shot

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "club_speed": ("club_speed_mps",),
        "strike_up": ("strike_up_mm",),
        "strike_toe": ("strike_toe_mm",),
        "attack": ("attack_deg",),
        "loft": ("loft_deg",),
        "path_face": ("path_deg", "face_deg"),
    }
)
"""What moves together in an explanation; attack is moved with delivered loft held."""
UNEXPLAINED = "unexplained"


@dataclass(frozen=True, slots=True)
class Moment:
    """A session, or one shot of it."""

    session: datetime
    shot: int | None = None

    def __str__(self) -> str:
        day = f"{self.session:%Y-%m-%d}"
        return day if self.shot is None else f"{day}#{self.shot}"


@dataclass(frozen=True, slots=True)
class Explanation:
    """A carry difference and its parts, ``unexplained`` last; ``measured`` when carry was read."""

    player: str
    start: Moment
    end: Moment
    carry_difference_m: Interval
    parts: Mapping[str, Interval]
    measured: bool
    problems: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Deliveries:
    """One end: ``level`` (draw, trait) and ``scatter`` (draw or 1, shot, trait) around it."""

    level: Floats
    scatter: Floats


def moment_of(fit: Fit, player: str, when: str) -> Moment:
    """Return the session or shot named by ``date``, ``date-time`` or either with ``#shot``."""
    day, mark, number = when.partition("#")
    if mark and not number.isdigit():
        raise BadRequest(f"{when!r}: found shot {number!r}, wanted a number such as {day}#3")
    starts = session_starts(fit, player)
    try:
        asked = datetime.fromisoformat(day)
    except ValueError:
        raise BadRequest(
            f"found {when!r}, wanted a date such as 2026-05-31 or 2026-05-31#3"
        ) from None
    same_day = [s for s in starts if s.date() == asked.date()]
    found = [s for s in same_day if s == asked] or same_day
    if len(found) != 1:
        known = ", ".join(s.isoformat(sep=" ", timespec="minutes") for s in same_day or starts)
        what = "has no session" if not found else "has several sessions"
        raise BadRequest(f"{player} {what} on {day}; pick one of {known}")
    return Moment(found[0], int(number) if mark else None)


def explain(
    fit: Fit,
    player: str,
    start: Moment,
    end: Moment,
    logged: Sequence[Shot] = (),
    *,
    seed: int = 1,
    draws: int = 200,
    shots: int = 32,
    physics: DriveParameters | None = None,
) -> Explanation:
    """Return how the carry at ``end`` differs from that at ``start``, and through what.

    ``logged`` are the shots of the log: needed for the readings of single shots, and for the carry
    that was read.
    """
    difference, parts, measured = part_draws(
        fit, player, start, end, logged, seed=seed, draws=draws, shots=shots, physics=physics
    )
    notes = []
    if not measured:
        notes.append(
            "Carry was not read at both ends, so the difference is the modelled one and nothing is "
            "left unexplained."
        )
    elif start.shot is None or end.shot is None:
        notes.append(
            "Unexplained holds the luck of the few shots read that day beside what the physics "
            "leaves out."
        )
    return Explanation(
        player=player,
        start=start,
        end=end,
        carry_difference_m=Interval.from_draws(difference, "m"),
        parts={name: Interval.from_draws(values, "m") for name, values in parts.items()},
        measured=measured,
        problems=fit.problems,
        notes=tuple(notes),
    )


def part_draws(
    fit: Fit,
    player: str,
    start: Moment,
    end: Moment,
    logged: Sequence[Shot] = (),
    *,
    seed: int = 1,
    draws: int = 200,
    shots: int = 32,
    physics: DriveParameters | None = None,
) -> tuple[Floats, dict[str, Floats], bool]:
    """Return draws of the difference, of every part, and whether carry was read at both ends."""
    kept = np.linspace(0, fit.samples - 1, min(draws, fit.samples)).round().astype(np.int64)
    drawn = physics or draw_parameters(kept.size, np.random.default_rng(seed))
    normals = shot_normals(shots, seed)
    first, second = (
        _deliveries(fit, player, m, logged, kept, normals, np.random.default_rng([seed, side]))
        for side, m in enumerate((start, end))
    )

    def carry(at_end: frozenset[str]) -> Floats:
        moved = [i for i, t in enumerate(DELIVERY) if any(t in GROUPS[g] for g in at_end)]
        cloud = np.array(np.broadcast_arrays(first.level[:, None] + first.scatter)[0])
        other = second.level[:, None] + second.scatter
        if cloud.shape[1] < other.shape[1]:
            cloud = np.repeat(cloud, other.shape[1], axis=1)
        cloud[:, :, moved] = other[:, :, moved]
        return expected_carry_of(cloud, drawn)

    parts = shapley_values(tuple(GROUPS), carry)
    modelled = np.sum(list(parts.values()), axis=0)
    read = [_carry_read(player, m, logged) for m in (start, end)]
    if read[0] is None or read[1] is None:
        parts[UNEXPLAINED] = np.zeros_like(modelled)
        return modelled, parts, False
    error = np.hypot(read[0][1], read[1][1])
    noise = np.random.default_rng([seed, 2]).standard_normal(kept.size)
    difference = read[1][0] - read[0][0] + error * noise
    parts[UNEXPLAINED] = difference - modelled
    return difference, parts, True


def session_mean_draws(
    fit: Fit, player: str, session: datetime, kept: NDArray[np.int64], rng: np.random.Generator
) -> Floats:
    """Return draws of a day's mean delivery, shape ``(draw, trait)``: level, day, readings."""
    p, s = fit.player_index(player), session_starts(fit, player).index(session)
    columns = []
    for trait in DELIVERY:
        k = fit.trait_index(trait)
        level = fit.level[kept, p, s, k].astype(np.float64)
        day = fit.session_sd[kept, k] ** 2
        counts = fit.counts[:, p, s, k]
        n = counts.sum()
        noise = rng.standard_normal(kept.size)
        if n == 0:
            columns.append(level + np.sqrt(day) * noise)
            continue
        read = counts @ fit.reading_sd[:, k] ** 2 / n
        error = (fit.shot_sd[kept, p, k] ** 2 + read) / n
        bias = fit.bias[kept, :, k] @ counts / n
        weight = day / (day + error)
        mean = level + weight * (fit.raw_mean[p, s, k] - bias - level)
        columns.append(mean + np.sqrt(weight * error) * noise)
    return np.stack(columns, axis=1)


def shot_draws(
    fit: Fit,
    shot: Shot,
    day_mean: Floats,
    covariance: Floats,
    kept: NDArray[np.int64],
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


def _deliveries(
    fit: Fit,
    player: str,
    moment: Moment,
    logged: Sequence[Shot],
    kept: NDArray[np.int64],
    normals: Floats,
    rng: np.random.Generator,
) -> Deliveries:
    day_mean = session_mean_draws(fit, player, moment.session, kept, rng)
    covariance = shot_covariance_draws(fit, player, DELIVERY)[kept]
    if moment.shot is None:
        factor = np.linalg.cholesky(covariance)
        return Deliveries(day_mean, np.einsum("dkj,sj->dsk", factor, normals))
    found = [s for s in _at(player, moment, logged) if s.number == moment.shot]
    if not found:
        numbers = sorted(s.number for s in _at(player, Moment(moment.session), logged))
        held = f"it holds {numbers[0]} to {numbers[-1]}" if numbers else "it holds no shots"
        raise NotEnoughData(
            f"{player} has no shot {moment.shot} on {moment.session:%Y-%m-%d}; {held}"
        )
    level = shot_draws(fit, found[0], day_mean, covariance, kept, rng)
    return Deliveries(level, np.zeros((1, 1, len(DELIVERY))))


def _at(player: str, moment: Moment, logged: Sequence[Shot]) -> list[Shot]:
    return [
        s
        for s in logged
        if s.player == player and s.session == moment.session and s.club == DEFAULT_CLUB
    ]


def _carry_read(player: str, moment: Moment, logged: Sequence[Shot]) -> tuple[float, float] | None:
    """Return the mean carry read at a moment and its reading error, or None without readings."""
    read = [
        (s.readings["carry_m"], TRAITS["carry_m"].default_reading_sd(s.delivery_method))
        for s in _at(player, moment, logged)
        if "carry_m" in s.readings and moment.shot in (None, s.number)
    ]
    if not read:
        return None
    carries, errors = np.array(read).T
    return float(carries.mean()), float(np.sqrt((errors**2).sum()) / carries.size)


def _method(fit: Fit, shot: Shot, trait: str, kept: NDArray[np.int64]) -> tuple[float, Floats]:
    """Return the reading error and the draws of the bias of a shot's reading of a trait."""
    k = fit.trait_index(trait)
    name = shot.strike_method if TRAITS[trait].group == "strike" else shot.delivery_method
    if name not in fit.methods[k]:
        return TRAITS[trait].default_reading_sd(name), np.zeros(kept.size)
    m = fit.methods[k].index(name)
    return float(fit.reading_sd[m, k]), fit.bias[kept, m, k]
