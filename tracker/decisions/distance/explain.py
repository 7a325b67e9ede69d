"""Where the metres between two shots, sessions, windows or players come from, draw by draw.

The modelled difference of expected carry between two ends divides into exact Shapley values over
six groups of the delivery. A moved attack angle takes delivered loft along by the learned share,
    loft = other loft + share * attack,
so ``attack`` moves both and ``loft`` the other loft alone. On demand the attack part divides into
attack alone and the loft it took along (their Owen values, which sum to it). Where carry was read
at both ends the difference is the read one, and what the delivery does not account for is a part of
its own: unexplained. The parts sum to the difference in every draw, and swapping the ends turns
every sign.

Two players may drive with calibrated physics of their own (their heads differ). The groups' parts
are then the mean of those by either's physics, and what the heads make is left to unexplained.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from types import MappingProxyType

import numpy as np

from models.arrays import Floats
from models.drive.drive import BALL_RANGES, BallLaunch, fly
from models.drive.impact import delivered_loft
from models.drive.parameters import DriveParameters
from models.traits import DELIVERY, TRAITS
from tracker.decisions.distance.cloud import DISTANCE_PARTS, expected_carry_of, spaced
from tracker.decisions.distance.ends import Deliveries, When, deliveries_at, rng_of, shots_at
from tracker.decisions.distance.player_physics import player_physics
from tracker.decisions.distance.shapley import owen_values, shapley_values
from tracker.interval import Interval
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.records import Shot
from tracker.units import YARD_M

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
"""What moves together in an explanation; loft is the part of it that attack does not take along."""
UNEXPLAINED = "unexplained"
ATTACK, LOFT = "attack", "loft"
ATTACK_ALONE, LOFT_ALONG = "attack_alone", "loft_along"
SPLIT = (ATTACK_ALONE, LOFT_ALONG)
"""What the attack part divides into."""
SMALL_M = 0.5 * YARD_M
"""A part whose best guess is smaller than this is no reason to name, m."""
GROSS_M = 40.0
"""A carry farther than this from where its own launch flies is a misread: some twice what wind,
altitude and an unusual ball do together (estimate, no source)."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """A carry difference and its parts."""

    player: str
    to_player: str
    start: When
    end: When
    carry_difference_m: Interval
    parts: Mapping[str, Interval]
    """By name, ``unexplained`` last."""
    start_level: Mapping[str, Interval]
    """What was delivered, by trait ..."""
    end_level: Mapping[str, Interval]
    """... and afterwards."""
    measured: bool
    """Whether carry was read."""
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    small: tuple[str, ...] = ()
    """The explained parts below ``SMALL_M``, where there are several."""
    small_sum: Interval | None = None
    """What they come to together; None where there are none."""
    attack_split: Mapping[str, Interval] = field(default_factory=dict)
    """The attack part by ``SPLIT``, where it was asked for."""


@dataclass(frozen=True, eq=False, slots=True)
class PartDraws:
    """Draws of a carry difference, of its parts (which sum to it), and of both deliveries, in m."""

    difference: Floats
    parts: Mapping[str, Floats]
    attack_split: Mapping[str, Floats]
    start: Deliveries
    end: Deliveries
    measured: bool
    two_heads: bool


def explain(
    fit: Fit,
    player: str,
    start: When,
    end: When,
    logged: Sequence[Shot] = (),
    *,
    to_player: str | None = None,
    seed: int = 1,
    split: bool = False,
    draws: int = 200,
    shots: int = 32,
) -> Explanation:
    """Return how the carry at ``end`` differs from that at ``start``, and through what.

    ``end`` is an end of ``to_player``, where another player is named. ``logged`` are the shots of
    the log: needed for the readings of single shots, and for the carry that was read. ``split``
    asks for the attack part in two.
    """
    other = to_player or player
    found = part_draws(
        fit, player, start, end, logged,
        to_player=other, seed=seed, split=split, draws=draws, shots=shots,
    )  # fmt: skip
    small = tuple(g for g in GROUPS if abs(np.median(found.parts[g])) < SMALL_M)
    small = small if len(small) > 1 else ()
    return Explanation(
        player=player,
        to_player=other,
        start=start,
        end=end,
        carry_difference_m=Interval.from_draws(found.difference, "m"),
        parts={name: Interval.from_draws(values, "m") for name, values in found.parts.items()},
        start_level=_levels(found.start),
        end_level=_levels(found.end),
        measured=found.measured,
        problems=fit.problems_of(*DISTANCE_PARTS),
        notes=_notes(found, start, end),
        small=small,
        small_sum=Interval.from_draws(np.sum([found.parts[g] for g in small], axis=0), "m")
        if small
        else None,
        attack_split={n: Interval.from_draws(v, "m") for n, v in found.attack_split.items()},
    )


def part_draws(
    fit: Fit,
    player: str,
    start: When,
    end: When,
    logged: Sequence[Shot] = (),
    *,
    to_player: str | None = None,
    seed: int = 1,
    split: bool = False,
    draws: int = 200,
    shots: int = 32,
) -> PartDraws:
    """Return draws of the difference and of every part; see ``explain``."""
    kept = spaced(fit.samples, draws)
    ends = ((player, start), (to_player or player, end))
    first, second = (
        deliveries_at(fit, name, when, logged, kept, shots=shots, seed=seed) for name, when in ends
    )
    physics = [player_physics(fit, name, kept, seed) for name, _ in ends]
    two_heads = ends[0][0] != ends[1][0] and fit.is_calibrated
    parts = modelled_parts(first, second, physics[0], split=split)
    modelled = np.sum([parts[group] for group in GROUPS], axis=0)
    if two_heads:
        by_other = modelled_parts(first, second, physics[1], split=split)
        parts = {group: (parts[group] + by_other[group]) / 2 for group in parts}
        modelled = _carry(second, physics[1]) - _carry(first, physics[0])
    attack_split = {name: parts.pop(name) for name in SPLIT if name in parts}
    read = [_carry_read(fit, *one, logged, kept.size, seed) for one in ends]
    measured = read[0] is not None and read[1] is not None
    difference = modelled if read[0] is None or read[1] is None else read[1] - read[0]
    parts[UNEXPLAINED] = difference - np.sum(list(parts.values()), axis=0)
    return PartDraws(difference, parts, attack_split, first, second, measured, two_heads)


def modelled_parts(
    first: Deliveries, second: Deliveries, physics: DriveParameters, *, split: bool = False
) -> dict[str, Floats]:
    """Return each group's share of the modelled carry difference, one a draw, in m.

    With ``split`` the two of ``SPLIT`` are added, which sum to the attack part.
    """
    before, after = _shots(first, second)
    attack, loft = DELIVERY.index("attack_deg"), DELIVERY.index("loft_deg")
    follows = np.asarray(physics.loft_follows_attack)[..., None]
    other = [delivered_loft(c[..., loft], c[..., attack], 0.0, follows) for c in (before, after)]

    @cache
    def carry(at_end: frozenset[str]) -> Floats:
        moved = [i for i, t in enumerate(DELIVERY) if any(t in GROUPS.get(g, ()) for g in at_end)]
        cloud = before.copy()
        cloud[:, :, moved] = after[:, :, moved]
        swung = after if at_end & {ATTACK, ATTACK_ALONE} else before
        takes = after if at_end & {ATTACK, LOFT_ALONG} else before
        cloud[:, :, attack] = swung[:, :, attack]
        cloud[:, :, loft] = delivered_loft(other[LOFT in at_end], 0.0, takes[:, :, attack], follows)
        return expected_carry_of(cloud, physics)

    parts = shapley_values(tuple(GROUPS), carry)
    return parts | owen_values(tuple(GROUPS), ATTACK, SPLIT, carry) if split else parts


def _shots(first: Deliveries, second: Deliveries) -> tuple[Floats, Floats]:
    """Return both ends as clouds of equally many shots; a single shot is repeated."""
    before = first.level[:, None] + first.scatter
    after = second.level[:, None] + second.scatter
    many = max(before.shape[1], after.shape[1])
    return (
        np.repeat(before, many // before.shape[1], axis=1),
        np.repeat(after, many // after.shape[1], axis=1),
    )


def _carry(end: Deliveries, physics: DriveParameters) -> Floats:
    return expected_carry_of(end.level[:, None] + end.scatter, physics)


def _carry_read(
    fit: Fit, player: str, when: When, logged: Sequence[Shot], draws: int, seed: int
) -> Floats | None:
    """Return draws of the mean carry read at an end, a session counting once; None without any."""
    sessions: dict[datetime, list[tuple[float, float]]] = {}
    for shot in shots_at(player, when, logged):
        if "carry_m" in shot.readings and not is_misread(shot):
            error = TRAITS["carry_m"].default_reading_sd(shot.delivery_method)
            sessions.setdefault(shot.session, []).append((shot.readings["carry_m"], error))
    if not sessions:
        return None
    days = [np.array(read).T for read in sessions.values()]
    mean = np.mean([carries.mean() for carries, _ in days])
    variance = np.mean([(errors**2).mean() / errors.size for _, errors in days]) / len(days)
    noise = rng_of(fit, player, when, seed + 1).standard_normal(draws)
    return np.asarray(mean + np.sqrt(variance) * noise, dtype=np.float64)


def is_misread(shot: Shot) -> bool:
    """Return whether a carry disagrees grossly with the ball's own launch, where that was read."""
    if not all(t in shot.readings for t in ("ball_speed_mps", "launch_deg", "spin_rpm")):
        return False
    speed, launch, spin = (shot.readings[t] for t in ("ball_speed_mps", "launch_deg", "spin_rpm"))
    low, high = BALL_RANGES["launch_deg"][:2]
    if speed < BALL_RANGES["ball_speed_mps"][0] or not low <= launch <= high:
        return False
    flown = fly(BallLaunch(speed, launch, min(spin, BALL_RANGES["spin_rpm"][1])))
    return abs(shot.readings["carry_m"] - float(flown.carry_m)) > GROSS_M


def _levels(end: Deliveries) -> dict[str, Interval]:
    return {
        trait: Interval.from_draws(end.level[:, i], TRAITS[trait].unit)
        for i, trait in enumerate(DELIVERY)
    }


def _notes(found: PartDraws, start: When, end: When) -> tuple[str, ...]:
    notes = []
    if not found.measured:
        left = "only what the two players' heads make" if found.two_heads else "nothing"
        notes.append(
            "Carry was not read at both ends, so the difference is the modelled one and "
            f"{left} is left unexplained."
        )
    elif any(isinstance(when, Window) or when.shot is None for when in (start, end)):
        notes.append(
            "Unexplained holds the luck of the shots that were read, the weather and the ground "
            "beside what the physics leaves out."
        )
    return tuple(notes)
