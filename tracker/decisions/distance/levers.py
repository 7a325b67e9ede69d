"""What a coach can do for a player, and how far each lever would move its trait: draws.

A logged change by its name, in a player who has not done it, with D its mean over players as the
academy's drills give it (``drill_sizes``):
    effect = D + effect_sd sqrt(v) z,   v one of EFFECT_VARIANCES, equally likely,
and in a player who has, whose level holds that already, again from none to all of what it did:
    effect = share times the player's own posterior response,   share ~ Uniform(0, 1)
(what a second round adds is not in the model: estimate, no source).

A new drill for a trait, D drawn from what all drills here did (likewise):
    effect = (D + effect_sd sqrt(v) z) toward the target.
The level moves by the effect toward the target and stops there; an effect away counts as it is.
Each lever has random numbers of its own, so that what practice leaves open is open for each.
"""

from dataclasses import dataclass
from typing import Final, Literal
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from models.arrays import Floats
from models.tendency.likelihood import EFFECT_VARIANCES
from models.traits import TRAITS
from tracker.decisions.distance.drill_sizes import logged_drill_means, next_drill_means
from tracker.decisions.distance.lever_inputs import LeverInputs, Logged, Sizes
from tracker.decisions.distance.target import Target
from tracker.records import ChangeKind

LeverKind = ChangeKind | Literal["new", "yardstick"]

DEFAULT_EFFORT_SESSIONS: Final = 2.0
"""Practice that a lever takes where nobody logged any (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing a coach can do for a player."""

    name: str
    kind: LeverKind
    trait: str | None

    @property
    def key(self) -> str:
        """Return what tells a lever from all others of a player."""
        return f"{self.trait}:{self.kind}:{self.name}"


@dataclass(frozen=True, eq=False, slots=True)
class LeverEffect:
    """A lever, its practice in sessions, and draws of what it does to the trait's level."""

    lever: Lever
    effort_sessions: float
    effect: Floats
    doers: int
    """How many did it; 0 for what nobody did."""
    moved: tuple[float, ...]
    """What it did to each whom it surely moved its own way: medians."""
    own: Floats | None
    """What it did to this player already, a part of the level now; None who has not done it."""
    tried: tuple[tuple[str, float], ...] = ()
    """Of a new drill: the logged ones of its trait that this player has done, and the median of
    what each did."""


STRIKE_SCATTER: Final = Lever("a fifth less scatter of strike", "yardstick", None)
FACE_SCATTER: Final = Lever("a fifth less scatter of face", "yardstick", "face_deg")
FASTER: Final = Lever("1 mph more club speed", "yardstick", "club_speed_mps")
"""Yardsticks: what they would be worth is known, how to get them is not, so none is first."""


def new_drill(trait: str) -> Lever:
    """Return the lever of a drill that nobody here has done."""
    return Lever(f"a new drill for {TRAITS[trait].label}", "new", trait)


def trait_effects(
    inputs: LeverInputs, player: str, target: Target, level: Floats, kept: NDArray[np.int64]
) -> tuple[LeverEffect, ...]:
    """Return what each lever of the target's trait would do to a player, in the kept draws.

    ``level`` is the trait's level now, one a draw. Equipment and set-up that a player already has
    are in place, and so no lever.
    """
    trait = target.trait
    logged = [one for one in inputs.logged if one.trait == trait]
    found = []
    for one in logged:
        if one.own is not None and one.kind != "drill":
            continue
        lever = Lever(one.name, one.kind, trait)
        found.append(
            LeverEffect(
                lever=lever,
                effort_sessions=effort_of(inputs, lever),
                effect=_response(inputs, one, kept, _numbers(player, lever)),
                doers=len(one.responses),
                moved=one.moved,
                own=None if one.own is None else one.own[kept],
            )
        )
    lever = new_drill(trait)
    size = new_drill_sizes(inputs, trait, kept, _numbers(player, lever))
    return (
        *found,
        LeverEffect(
            lever=lever,
            effort_sessions=effort_of(inputs, lever),
            effect=size * np.sign(target.best - float(level.mean())),
            doers=0,
            moved=(),
            own=None,
            tried=tuple(
                (one.name, float(np.median(one.own))) for one in logged if one.own is not None
            ),
        ),
    )


def effort_of(inputs: LeverInputs, lever: Lever) -> float:
    """Return the practice of a lever: as logged for it, else usual for its trait, else in all.

    Two sessions where nothing was logged.
    """
    usual = inputs.trait_efforts.get(lever.trait or "", inputs.usual_effort)
    return inputs.efforts.get(lever.name, usual or DEFAULT_EFFORT_SESSIONS)


def new_drill_sizes(
    inputs: LeverInputs, trait: str, kept: NDArray[np.int64], rng: np.random.Generator
) -> Floats:
    """Return draws of how far a new drill moves a player the way it is meant to."""
    on_average = next_drill_means(inputs, trait, kept, rng)
    return np.asarray(on_average + _answers(inputs.sizes[trait], kept, rng))


def moved_by(effect: Floats, level: Floats, target: Floats) -> Floats:
    """Return how far levels move: by the effect, but toward the target no farther than there."""
    gap = target - level
    toward = np.sign(gap) * effect > 0
    return np.where(toward, np.sign(gap) * np.minimum(np.abs(effect), np.abs(gap)), effect)


def even_normals(number: int, rng: np.random.Generator) -> Floats:
    """Return standard normals that are evenly spread and in random order."""
    return rng.permutation(np.asarray(ndtri((np.arange(number) + 0.5) / number)))


def _response(
    inputs: LeverInputs, one: Logged, kept: NDArray[np.int64], rng: np.random.Generator
) -> Floats:
    if one.own is not None:
        share = rng.permutation((np.arange(kept.size) + 0.5) / kept.size)
        return np.asarray(share * one.own[kept])
    on_average = logged_drill_means(inputs, one, kept)
    return np.asarray(on_average + _answers(inputs.sizes[one.trait], kept, rng))


def _answers(sizes: Sizes, kept: NDArray[np.int64], rng: np.random.Generator) -> Floats:
    """Return how far players answer beside a drill's mean; some hardly answer at all."""
    parts = rng.permutation(np.resize(EFFECT_VARIANCES, kept.size))
    return np.asarray(sizes.effect[kept] * np.sqrt(parts) * even_normals(kept.size, rng))


def _numbers(player: str, lever: Lever) -> np.random.Generator:
    """Return the random numbers that belong to one lever of one player."""
    return np.random.default_rng([crc32(player.encode()), crc32(lever.key.encode())])
