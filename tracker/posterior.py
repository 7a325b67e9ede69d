"""The door to a fit: what was learned, asked by the names of players, traits, methods and drills.

Only this module, the codec of fits and what assembles them know the axes of the stored arrays.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.arrays import Bools, Floats, Indices
from tracker.errors import NotEnoughData, UnknownPlayer
from tracker.fit_info import FitInfo
from tracker.player_trait import PlayerTrait, TraitDraws
from tracker.records import Change, Player

ARRAYS: Mapping[str, str] = {
    "session_start": "ps",
    "counts": "mpsk",
    "raw_mean": "psk",
    "raw_se": "psk",
    "level": "npsk",
    "mu": "nk",
    "spread": "nk",
    "drift": "nk",
    "session_sd": "nk",
    "day_alike": "nk",
    "jump_sd": "nk",
    "jump_chance": "nk",
    "effect_sd": "nk",
    "drill_scale": "nk",
    "jump_at": "npk",
    "jump": "npk",
    "shot_sd": "npk",
    "corr": "npkk",
    "bias": "nmk",
    "reading_sd": "mk",
    "change_effect": "nck",
    "drill_effect": "ngk",
    "affects": "ck",
}
"""Axes of every stored array: sample n, player p, session s (a player's own order, padded at the
end), trait k, reading method m (padded where a trait has fewer), logged change c, drill name g."""

FACT = "fact."
"""Prefix of what a calibration knows of the impact as a whole, beside the constants."""


@dataclass(frozen=True, slots=True)
class BallCheck:
    """One session's mean of one ball trait, read and predicted from the club, in its unit.

    ``predicted`` uses the calibrated physics, ``uncalibrated`` the published one.
    """

    trait: str
    player: str
    start: datetime
    observed: float
    predicted: float
    uncalibrated: float
    standard_error: float


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class SquadTrait(TraitDraws):
    """One trait of the whole squad."""

    fit: "Fit" = field(repr=False)

    @property
    def players(self) -> Mapping[str, PlayerTrait]:
        """Return the trait of every player, by name in the fit's order."""
        return {p.name: self.fit.of(p.name, self.trait) for p in self.fit.players}

    @property
    def levels(self) -> Mapping[str, Floats]:
        """Return draws of every player's level at the last session, by name."""
        return {name: one.now for name, one in self.players.items()}

    @property
    def is_read(self) -> bool:
        """Return whether anybody has a reading of the trait; if not, its prior speaks."""
        return any(one.is_read for one in self.players.values())


@dataclass(frozen=True, eq=False)
class Fit:
    """Posterior draws and the session summaries they came from; the arrays' axes are ``ARRAYS``."""

    info: FitInfo
    players: tuple[Player, ...]
    traits: tuple[str, ...]
    methods: tuple[tuple[str, ...], ...]
    """Method names by trait, the reference first."""
    changes: tuple[Change, ...]
    drills: tuple[str, ...]
    session_start: NDArray[np.datetime64]
    """Seconds; NaT where padded."""
    counts: Indices
    """Readings of each session."""
    raw_mean: Floats
    """Mean as read; NaN where nothing was."""
    raw_se: Floats
    """Its standard error; NaN likewise."""
    level: NDArray[np.float32]
    """Level at each session."""
    mu: Floats
    """Mean of the players' baselines."""
    spread: Floats
    """SD of the players' baselines."""
    drift: Floats
    """SD of a level's random walk, per square root of a week."""
    session_sd: Floats
    """SD from day to day."""
    shot_sd: Floats
    """SD from shot to shot, reading error taken out."""
    corr: NDArray[np.float32]
    """Correlation of one shot's traits."""
    bias: Floats
    """Bias of a reading method; 0 for the reference."""
    reading_sd: Floats
    """SD of one reading."""
    change_effect: Floats
    """What a logged change did to its player."""
    drill_effect: Floats
    """Mean effect over players."""
    affects: Bools
    """Whether a logged change acts on a trait."""
    day_alike: Floats
    """Correlation of neighbouring sessions' effects."""
    jump_sd: Floats
    """Size of changes that nobody logged."""
    jump_chance: Floats
    """Chance of one in half a year."""
    effect_sd: Floats
    """How far players differ about a drill's mean effect."""
    drill_scale: Floats
    """How far drills' mean effects differ about 0."""
    jump_at: NDArray[np.int16]
    """Session before which an unlogged change came; 0 for a steady one, -1 for none."""
    jump: NDArray[np.float32]
    """Its size; a week where it is steady."""
    physics: Mapping[str, NDArray[np.floating]] = field(default_factory=dict)
    """Constants of the drive calibrated to the squad's own balls, by the field name of
    ``models.drive.parameters.DriveParameters``, (sample,) or (sample, player); and behind ``FACT``
    the numbers of ``models.drive.impact_facts`` at the squad's mean delivery, (sample,), which the
    balls tell far better than the constants one by one. Empty without balls."""
    ball_check: Mapping[str, NDArray[np.generic]] = field(default_factory=dict)
    """Columns of ``ball_checks``, player and session by number. Empty likewise."""

    @property
    def samples(self) -> int:
        """Return the number of kept draws."""
        return int(self.level.shape[0])

    @property
    def problems(self) -> tuple[str, ...]:
        """Return what is wrong with any part of the fit, to be shown before any number."""
        return self.problems_of(*self.info.reports)

    def problems_of(self, *parts: str) -> tuple[str, ...]:
        """Return what is wrong with some traits, or with ``PHYSICS``.

        Traits are separate posteriors: a doubt about one says nothing of another. A part that was
        not sampled has no problems.
        """
        return self.info.problems_of(parts)

    def problems_elsewhere(self, *parts: str) -> tuple[str, ...]:
        """Return what is wrong with the parts that an answer does not rest on."""
        return self.problems_of(*(set(self.info.reports) - set(parts))) if self.info.reports else ()

    def player_index(self, name: str) -> int:
        """Return a player's place in the arrays; an unknown name is refused."""
        index = self._places.get(name)
        if index is not None:
            return index
        known = ", ".join(p.name for p in self.players)
        raise UnknownPlayer(f"player {name!r} is not in the fit; it holds {known}")

    def trait_index(self, trait: str) -> int:
        """Return a trait's place in the arrays; an unmodelled trait is refused."""
        if trait not in self.traits:
            known = ", ".join(self.traits)
            raise NotEnoughData(f"trait {trait!r} is not in the fit; it holds {known}")
        return self.traits.index(trait)

    def knows(self, player: str) -> bool:
        """Return whether a player is in the fit."""
        return player in self._places

    def player(self, name: str) -> Player:
        """Return a player's record; an unknown name is refused."""
        return self.players[self.player_index(name)]

    def sessions(self, player: str) -> tuple[datetime, ...]:
        """Return a player's session starts, oldest first."""
        return tuple(t.item() for t in self._times(self.player_index(player)))

    def of(self, player: str, trait: str) -> PlayerTrait:
        """Return what the fit holds of one player's trait.

        Raises UnknownPlayer or NotEnoughData where it does not hold the player or the trait.
        """
        p, k = self.player_index(player), self.trait_index(trait)
        held = self._asked.get((p, k))
        if held is None:
            held = self._asked[p, k] = self._of(p, k)
        return held

    def _of(self, p: int, k: int) -> PlayerTrait:
        player = self.players[p].name
        times, methods = self._times(p), len(self.methods[k])
        own = slice(len(times))
        acting = [c for c in self._changes_of.get(player, ()) if self.affects[c, k]]
        return PlayerTrait(
            **self._shared(k),
            player=player,
            player_number=p,
            fit_seed=self.info.seed,
            times=times,
            level=self.level[:, p, own, k],
            shot_sd=self.shot_sd[:, p, k],
            counts=self.counts[:methods, p, own, k],
            raw_mean=self.raw_mean[p, own, k],
            raw_se=self.raw_se[p, own, k],
            changes=tuple(self.changes[c] for c in acting),
            change_effect=tuple(self.change_effect[:, c, k] for c in acting),
            jump_at=self.jump_at[:, p, k],
            jump=self.jump[:, p, k],
        )

    def squad(self, trait: str) -> SquadTrait:
        """Return what the fit holds of a trait of the whole squad.

        Raises NotEnoughData where it does not hold the trait.
        """
        return SquadTrait(**self._shared(self.trait_index(trait)), fit=self)

    def shot_covariance(self, player: str, traits: Sequence[str]) -> Floats:
        """Return draws of the covariance of one shot's traits, shape ``(sample, trait, trait)``."""
        p = self.player_index(player)
        k = np.array([self.trait_index(t) for t in traits])
        sd = self.shot_sd[:, p, :][:, k]
        corr = self.corr[:, p][:, k][:, :, k].astype(np.float64)
        return corr * sd[:, :, None] * sd[:, None, :]

    def mean_shot_covariance(self, player: str, traits: Sequence[str]) -> Floats:
        """Return the mean of ``shot_covariance``, ``(trait, trait)``, without every draw's own."""
        p = self.player_index(player)
        k = np.array([self.trait_index(t) for t in traits])
        sd, corr = self.shot_sd[:, p][:, k], self.corr[:, p][:, k][:, :, k]
        return np.asarray(np.einsum("nij,ni,nj->ij", corr, sd, sd) / len(sd), dtype=np.float64)

    @property
    def acting_changes(self) -> tuple[Change, ...]:
        """Return the logged changes that act on any trait."""
        return tuple(c for c, acts in zip(self.changes, self.affects, strict=True) if acts.any())

    @property
    def is_calibrated(self) -> bool:
        """Return whether the squad's own ball data went into the physics."""
        return bool(self.physics)

    def physics_of(self, player: str) -> Mapping[str, Floats]:
        """Return draws of the calibrated constants of a player's drives; empty without balls."""
        p = self.player_index(player)
        return {
            name: np.asarray(values if values.ndim == 1 else values[:, p], dtype=np.float64)
            for name, values in self.physics.items()
            if not name.startswith(FACT)
        }

    @property
    def impact_facts(self) -> Mapping[str, Floats]:
        """Return draws of what the balls tell of the impact, named as by ``impact_facts``."""
        return {
            name.removeprefix(FACT): np.asarray(values, dtype=np.float64)
            for name, values in self.physics.items()
            if name.startswith(FACT)
        }

    @property
    def ball_checks(self) -> tuple[BallCheck, ...]:
        """Return every session mean of ball speed, launch, spin and carry, read and predicted."""
        if not self.ball_check:
            return ()
        table = self.ball_check
        names = ("observed", "predicted", "uncalibrated", "standard_error")
        return tuple(
            BallCheck(
                str(table["trait"][i]),
                self.players[int(table["player"][i])].name,
                self.session_start[int(table["player"][i]), int(table["session"][i])].item(),
                *(float(table[name][i]) for name in names),
            )
            for i in range(len(table["trait"]))
        )

    @cached_property
    def _places(self) -> dict[str, int]:
        """Return every player's place; of two with one name the first."""
        return {p.name: i for i, p in reversed(list(enumerate(self.players)))}

    @cached_property
    def _asked(self) -> dict[tuple[int, int], PlayerTrait]:
        """Keep what was asked: views of the arrays, which a large squad asks for again and again.

        Without this a squad of 400 spends more time on finding its players than on its drives.
        """
        return {}

    @cached_property
    def _changes_of(self) -> dict[str, list[int]]:
        """Return the places of every player's changes."""
        found: dict[str, list[int]] = {}
        for c, one in enumerate(self.changes):
            found.setdefault(one.player, []).append(c)
        return found

    def _times(self, p: int) -> NDArray[np.datetime64]:
        starts: NDArray[np.datetime64] = self.session_start[p]
        return starts[~np.isnat(starts)]

    def _shared(self, k: int) -> dict[str, Any]:
        """Return the fields of ``TraitDraws``."""
        methods = len(self.methods[k])
        scales = [name for name, axes in ARRAYS.items() if axes == "nk"]
        return {
            **{name: getattr(self, name)[:, k] for name in scales},
            "trait": self.traits[k],
            "trait_number": k,
            "methods": self.methods[k],
            "bias": self.bias[:, :methods, k],
            "reading_sd": self.reading_sd[:methods, k],
            "drill_effect": {n: self.drill_effect[:, g, k] for g, n in enumerate(self.drills)},
        }
