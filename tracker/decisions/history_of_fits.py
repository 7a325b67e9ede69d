"""What one fit believes that the fit before it did not, and why: shots, methods, versions, luck."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from models.traits import TRAITS
from tracker.decisions.verdict.worthwhile import SMALL_SHARE, worthwhile_change
from tracker.fit_info import FitInfo
from tracker.interval import Interval
from tracker.player_trait import PlayerTrait
from tracker.posterior import Fit
from tracker.records import INFERRED_METHOD, Change
from tracker.units import SYSTEMS, trait_display
from tracker.words import listed

TRIVIAL: Final = 0.05
"""Share of the SD between players below which a level counts as unmoved without a further look:
what a change is worth takes flights to work out, and no change that small was ever worth 2 m."""
SAME_MEAN: Final = 1.0
"""Difference of two means of a session, in standard errors, up to which its readings count as the
same: far-off shots are weighed by the squad's scatter, and methods laid over one another, which
moves means of untouched sessions by up to .6 as the demonstration's season goes on."""
NOT_KEPT: Final = "none"
"""Stands for a version that a fit did not keep: the model's, before fits kept it."""
SD_APART: Final = 1.1
"""Ratio from which on two reading SDs of a method are not the same."""


@dataclass(frozen=True, slots=True)
class PlayerShots:
    """What the later fit read of one player and the earlier did not.

    Shots are counted by the trait that was read most in a session.
    """

    player: str
    sessions: int
    """Sessions that only the later fit holds."""
    shots: int
    """Shots more than before; fewer where negative."""
    otherwise: int
    """Sessions of both whose readings differ."""
    gone: int
    """Sessions that only the earlier fit holds."""


@dataclass(frozen=True, slots=True)
class BiasMove:
    """A reading method that is taken to read otherwise than before."""

    trait: str
    method: str
    before: Interval
    after: Interval


@dataclass(frozen=True, slots=True)
class LevelMove:
    """A level that moved by more than the change that is worth having."""

    player: str
    trait: str
    before: Interval
    """At the earlier fit's last session, by the earlier fit."""
    same_day: Interval
    """At that same session, by the later fit."""
    after: Interval
    """At the later fit's last session, by the later fit."""
    days: tuple[datetime, datetime]
    """Both sessions."""
    worthwhile: float
    reasons: tuple[str, ...]

    @property
    def seen_otherwise(self) -> bool:
        """Return whether the later fit thinks otherwise of the very same day."""
        return abs(self.same_day.median - self.before.median) > self.worthwhile


@dataclass(frozen=True, slots=True)
class FitsCompared:
    """What changed between two fits of one club, and why."""

    before: FitInfo
    after: FitInfo
    players: tuple[PlayerShots, ...]
    """Whose shots differ, those with most new ones first."""
    came: tuple[Change, ...]
    """Changes logged since."""
    went: tuple[Change, ...]
    """Changes that are logged no longer."""
    methods: tuple[str, ...]
    """What is otherwise about reading methods beside their bias, in words."""
    biases: tuple[BiasMove, ...]
    versions: tuple[tuple[str, str, str], ...]
    """Program or package, version before and after."""
    levels: tuple[LevelMove, ...]
    """The largest move first, in changes worth having."""
    in_doubt: tuple[str, ...]
    """Traits that were left out, since a fit is in doubt about them."""

    @property
    def same_data(self) -> bool:
        """Return whether both saw the same shots and changes."""
        return self.before.data_digest == self.after.data_digest

    @property
    def new_shots(self) -> int:
        """Return how many shots more the later fit read."""
        return sum(p.shots for p in self.players)


def compared(before: Fit, after: Fit) -> FitsCompared:
    """Return what the later of two fits believes otherwise, and why."""
    same_data = before.info.data_digest == after.info.data_digest
    shots = () if same_data else _shots(before, after)
    came = tuple(c for c in after.changes if c not in before.changes)
    went = tuple(c for c in before.changes if c not in after.changes)
    both = [t for t in after.traits if t in before.traits]
    sound = [t for t in both if not (before.problems_of(t) or after.problems_of(t))]
    why = _Why(
        before, after, {p.player: p for p in shots}, came, went, _biases(before, after, sound)
    )
    moves = [
        move
        for player in after.players
        if before.knows(player.name)
        for trait in sound
        if (move := _move(before, after, player.name, trait, why)) is not None
    ]
    moves.sort(key=lambda m: -abs(m.after.median - m.before.median) / m.worthwhile)
    return FitsCompared(
        before.info,
        after.info,
        shots,
        came,
        went,
        why.methods,
        why.biases,
        why.versions,
        tuple(moves),
        tuple(t for t in both if t not in sound),
    )


def _shots(before: Fit, after: Fit) -> tuple[PlayerShots, ...]:
    names = dict.fromkeys(p.name for fit in (after, before) for p in fit.players)
    found = []
    for name in names:
        old, new = _sessions(before, name), _sessions(after, name)
        common = old.keys() & new.keys()
        one = PlayerShots(
            name,
            len(new.keys() - old.keys()),
            _count(new) - _count(old),
            sum(not _alike(old[start], new[start]) for start in common),
            len(old.keys() - new.keys()),
        )
        if one.sessions or one.shots or one.otherwise or one.gone:
            found.append(one)
    return tuple(sorted(found, key=lambda p: -p.shots))


Session = Mapping[str, tuple[int, float, float]]
"""Of one session by trait: readings, their mean and its standard error."""


def _sessions(fit: Fit, player: str) -> dict[datetime, Session]:
    """Return what was read of a player, by session; what was inferred from balls left out."""
    if not fit.knows(player):
        return {}
    found: dict[datetime, dict[str, tuple[int, float, float]]] = {}
    for trait in fit.traits:
        one = fit.of(player, trait)
        read = [m != INFERRED_METHOD for m in one.methods]
        counts = one.counts[read].sum(axis=0)
        inferred = one.counts.sum(axis=0) > counts
        for start, n, mean, error, mixed in zip(
            one.starts, counts, one.raw_mean, one.raw_se, inferred, strict=True
        ):
            # a mean with inferred readings in it moves with the physics: only its count tells
            values = (int(n), np.nan, np.nan) if mixed else (int(n), float(mean), float(error))
            found.setdefault(start, {})[trait] = values
    return dict(found)


def _count(sessions: Mapping[datetime, Session]) -> int:
    return sum(max(n for n, _, _ in session.values()) for session in sessions.values())


def _alike(old: Session, new: Session) -> bool:
    """Return whether a session was read as before, in the traits that both fits know."""
    if max(n for n, _, _ in old.values()) != max(n for n, _, _ in new.values()):
        return False
    for trait in old.keys() & new.keys():
        (n, mean, error), (m, other, _) = old[trait], new[trait]
        if n == m and abs(mean - other) > SAME_MEAN * error:
            return False
    return True


def _biases(before: Fit, after: Fit, traits: list[str]) -> tuple[BiasMove, ...]:
    """Return the methods whose bias moved by what would matter between players.

    Where another method is the reference, every bias is told against that one: nothing moved.
    """
    found = []
    for trait in traits:
        old, new, unit = before.squad(trait), after.squad(trait), TRAITS[trait].unit
        if old.methods[:1] != new.methods[:1]:
            continue
        least = SMALL_SHARE * float(new.spread.mean())
        for method in new.methods:
            if method in old.methods:
                a, b = (
                    Interval.from_draws(one.bias[:, one.methods.index(method)], unit)
                    for one in (old, new)
                )
                if abs(b.median - a.median) > least:
                    found.append(BiasMove(trait, method, a, b))
    return tuple(found)


class _Why:
    """Everything that may move a level, asked for one player's trait."""

    def __init__(
        self,
        before: Fit,
        after: Fit,
        shots: Mapping[str, PlayerShots],
        came: tuple[Change, ...],
        went: tuple[Change, ...],
        biases: tuple[BiasMove, ...],
    ) -> None:
        self.shots, self.came, self.went, self.biases = shots, came, went, biases
        self.seeds = (before.info.seed, after.info.seed)
        self.versions = tuple(
            (name, old, new)
            for name in dict.fromkeys([*before.info.versions, *after.info.versions])
            if (old := before.info.versions.get(name, NOT_KEPT))
            != (new := after.info.versions.get(name, NOT_KEPT))
        )
        self._of_trait = {
            trait: _of_methods(before, after, trait)
            for trait in after.traits
            if trait in before.traits
        }
        self.methods = tuple(
            f"{TRAITS[trait].label}: {said}"
            for trait, found in self._of_trait.items()
            for _, said in found
        )

    def of(self, one: PlayerTrait) -> tuple[str, ...]:
        """Return the reasons, the nearest to the player first; never empty."""
        used = one.methods_in(one.places_read)
        reasons = self._own(one.player)
        for word, changes in (("was logged", self.came), ("is logged no longer", self.went)):
            reasons += [
                f"{c.name} {word}"
                for c in changes
                if c.player == one.player and c.trait in (None, one.trait)
            ]
        reasons += [
            f"the bias of {b.method} moved"
            for b in self.biases
            if b.trait == one.trait and b.method in used
        ]
        reasons += [
            said for method, said in self._of_trait[one.trait] if method is None or method in used
        ]
        reasons += [version_words(*version) for version in self.versions]
        return tuple(reasons or [self._elsewhere(one.trait)])

    def _elsewhere(self, trait: str) -> str:
        """Return what may have moved a level where nothing of the player differs."""
        if self.shots:
            return "other players' shots taught the squad's scales"
        others = [bias.method for bias in self.biases if bias.trait == trait]
        if others:
            return f"the bias of {listed(others)} moved, by which others are read"
        if self.seeds[0] != self.seeds[1]:
            return f"luck of drawing (seed {self.seeds[0]}, then {self.seeds[1]})"
        return "nothing that is kept of the two fits differs"

    def _own(self, player: str) -> list[str]:
        own = self.shots.get(player)
        if own is None:
            return []
        said = []
        if own.sessions:
            said.append(f"{own.sessions} new session{'s' * (own.sessions != 1)}")
        if own.otherwise:
            said.append(f"{own.otherwise} session{'s' * (own.otherwise != 1)} read otherwise")
        if own.gone:
            said.append(f"{own.gone} session{'s' * (own.gone != 1)} taken out")
        return said


def version_words(name: str, before: str, after: str) -> str:
    """Return how a version differs between two fits; one that was not kept is said as such."""
    if before == NOT_KEPT:
        return f"which {name} made the earlier fit was not kept"
    if after == NOT_KEPT:
        return f"which {name} made the later fit was not kept"
    return f"{name} {before} became {after}"


def _of_methods(before: Fit, after: Fit, trait: str) -> list[tuple[str | None, str]]:
    """Return what is otherwise about a trait's methods, and of which method (None: of all)."""
    old, new = before.squad(trait), after.squad(trait)
    found: list[tuple[str | None, str]] = []
    if old.methods and new.methods and old.methods[0] != new.methods[0]:
        said = f"{new.methods[0]} is taken as unbiased in place of {old.methods[0]}"
        found.append((None, said))
    for k, method in enumerate(new.methods):
        if method == INFERRED_METHOD:
            continue
        if method not in old.methods:
            found.append((method, f"{method} is a new method"))
            continue
        a, b = float(old.reading_sd[old.methods.index(method)]), float(new.reading_sd[k])
        if max(a, b) > SD_APART * min(a, b):
            finer = "finer" if b < a else "coarser"
            found.append((method, f"{method} is taken to read {finer} than before"))
    return found


def _last_digit(trait: str) -> float:
    """Return the last digit that is shown of a level, in the trait's unit, where that is coarsest.

    Where players hardly differ even less is worth having, and both levels would read the same.
    """
    shown = (trait_display(trait, system) for system in SYSTEMS)
    return max(10.0**-how.decimals / how.factor for how in shown)


def _move(before: Fit, after: Fit, player: str, trait: str, why: _Why) -> LevelMove | None:
    """Return how a player's level moved; None where nobody read it or it hardly moved."""
    old, new = before.of(player, trait), after.of(player, trait)
    if not (old.is_read and new.is_read):
        return None
    unit, then = TRAITS[trait].unit, old.starts[-1]
    a, b = Interval.from_draws(old.now, unit), Interval.from_draws(new.now, unit)
    size = abs(b.median - a.median)
    if size <= TRIVIAL * float(new.spread.mean()):
        return None
    least = worthwhile_change(after, player, trait).value
    if size <= max(least, _last_digit(trait)):
        return None
    same_day = Interval.from_draws(new.at(then), unit)
    return LevelMove(player, trait, a, same_day, b, (then, new.starts[-1]), least, why.of(new))
