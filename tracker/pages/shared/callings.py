"""What players are called on the pages: their names, or initials that no other player has."""

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import pandas as pd

from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.records import Change, Player, Shot
from tracker.store.rows import LoggedChange

LETTERS = 3
"""Most letters of a player's initials."""
NAMELESS = "P"
"""Stands for a name without any letter or digit."""

_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class Callings:
    """Each player's name as stored with what the pages call it; empty for names as they are.

    No calling is anybody's name, so that either tells which of the two it is.
    """

    pairs: tuple[tuple[str, str], ...] = ()

    def shown(self, name: str) -> str:
        """Return what the pages call a player; any other text as it is."""
        return next((calling for stored, calling in self.pairs if stored == name), name)

    def stored(self, calling: str) -> str:
        """Return the stored name of whom the pages call so; any other text as it is."""
        return next((stored for stored, shown in self.pairs if shown == calling), calling)

    def of(self, names: Collection[str]) -> "Callings":
        """Return the callings of some players alone."""
        return Callings(tuple(pair for pair in self.pairs if pair[0] in names))

    def in_text(self, text: str) -> str:
        """Return a sentence in which every player's name is what the pages call the player."""
        if not self.pairs:
            return text
        longest_first = sorted((name for name, _ in self.pairs), key=len, reverse=True)
        names = "|".join(re.escape(name) for name in longest_first)
        return re.sub(rf"(?<!\w)(?:{names})(?!\w)", lambda m: self.shown(m.group()), text)

    # --- things of the store, with the player called so ---

    def fit(self, fit: Fit) -> Fit:
        """Return a fit whose players are called so."""
        players = tuple(replace(p, name=self.shown(p.name)) for p in fit.players)
        return replace(fit, players=players, changes=tuple(self.change(c) for c in fit.changes))

    def player(self, player: Player) -> Player:
        """Return a player who is called so."""
        return replace(player, name=self.shown(player.name))

    def change(self, change: Change) -> Change:
        """Return a change of a player who is called so; its note names nobody either."""
        note = None if change.note is None else self.in_text(change.note)
        return replace(change, player=self.shown(change.player), note=note)

    def logged(self, logged: LoggedChange) -> LoggedChange:
        """Return a logged change of a player who is called so."""
        return replace(logged, change=self.change(logged.change))

    def promise(self, promise: Promise) -> Promise:
        """Return a promise to a player who is called so."""
        return replace(promise, change=self.change(promise.change))

    def shot(self, shot: Shot) -> Shot:
        """Return a shot of a player who is called so."""
        return replace(shot, player=self.shown(shot.player))

    def frame(self, shots: pd.DataFrame) -> pd.DataFrame:
        """Return a table of shots whose players are called so."""
        return shots.assign(player=shots["player"].map(self.shown)) if self.pairs else shots


NAMES = Callings()
"""Everybody by name."""


def by_initials(names: Iterable[str]) -> Callings:
    """Return initials for players, a number behind those that an earlier player has already.

    Who comes later takes nobody's initials away, so ``names`` stand in the order they came.
    """
    known = tuple(dict.fromkeys(names))
    taken = set(known)
    pairs = []
    for name in known:
        first = _initials(name)
        calling, number = first, 2
        while calling in taken:
            calling, number = f"{first} {number}", number + 1
        taken.add(calling)
        pairs.append((name, calling))
    return Callings(tuple(pairs))


def _initials(name: str) -> str:
    letters = [word[0] for word in _WORD.findall(name)]
    return "".join(letters[:LETTERS]).upper() or NAMELESS
