"""What players are called on the pages: their names, or initials that no other player has."""

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import pandas as pd

from tracker.decisions.distance.worth import LeverWorth, PlayerLevers
from tracker.posterior import Fit
from tracker.promise import Promise
from tracker.records import Change, Player, Shot
from tracker.store.rows import LoggedChange

LETTERS = 3
"""Most letters of a player's initials."""
NAMELESS = "P"
"""Stands for a name without any letter or digit."""

_WORD = re.compile(r"[^\W_]+")
_NO_LETTER_BEFORE, _NO_LETTER_AFTER = r"(?<![^\W_])", r"(?![^\W_])"


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
        """Return a sentence in which every player's name is what the pages call the player.

        A name of several words is found in any case and with any signs between them.
        """
        return self._without_names(text, in_any_case=False)

    def in_file_name(self, text: str) -> str:
        """Return a file's name in which every player's name, in any case, is what the pages say."""
        return self._without_names(text, in_any_case=True)

    def _without_names(self, text: str, *, in_any_case: bool) -> str:
        if not self.pairs:
            return text
        name, callings = _finder(self.pairs, in_any_case)
        return name.sub(lambda found: callings[(found.lastindex or 1) - 1], text)

    # --- things of the store, with the player called so ---

    def fit(self, fit: Fit) -> Fit:
        """Return a fit whose players are called so."""
        players = tuple(replace(p, name=self.shown(p.name)) for p in fit.players)
        return replace(
            fit,
            players=players,
            changes=tuple(self.change(c) for c in fit.changes),
            drills=tuple(self.in_text(drill) for drill in fit.drills),
        )

    def levers(self, levers: PlayerLevers) -> PlayerLevers:
        """Return the levers of a player who is called so; drills named after players likewise."""
        if not self.pairs:
            return levers
        return replace(
            levers,
            player=self.shown(levers.player),
            offered=tuple(map(self._lever, levers.offered)),
            unread_levers=tuple(map(self._lever, levers.unread_levers)),
        )

    def _lever(self, worth: LeverWorth) -> LeverWorth:
        lever = replace(worth.lever, name=self.in_text(worth.lever.name))
        return replace(worth, effect=replace(worth.effect, lever=lever))

    def player(self, player: Player) -> Player:
        """Return a player who is called so."""
        return replace(player, name=self.shown(player.name))

    def change(self, change: Change) -> Change:
        """Return a change of a player who is called so; its own name and note name nobody."""
        note = None if change.note is None else self.in_text(change.note)
        player, name = self.shown(change.player), self.in_text(change.name)
        return replace(change, player=player, name=name, note=note)

    def logged(self, logged: LoggedChange) -> LoggedChange:
        """Return a logged change of a player who is called so."""
        return replace(logged, change=self.change(logged.change))

    def promise(self, promise: Promise) -> Promise:
        """Return a promise to a player who is called so."""
        lever = self.in_text(promise.lever)
        return replace(promise, change=self.change(promise.change), lever=lever)

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


@lru_cache(maxsize=8)
def _finder(
    pairs: tuple[tuple[str, str], ...], in_any_case: bool
) -> tuple[re.Pattern[str], tuple[str, ...]]:
    """Return what finds any name, and what each of its groups is called."""
    longest_first = sorted(pairs, key=lambda pair: len(pair[0]), reverse=True)
    names = "|".join(f"({_pattern(name, in_any_case)})" for name, _ in longest_first)
    found = re.compile(rf"{_NO_LETTER_BEFORE}(?:{names}){_NO_LETTER_AFTER}")
    return found, tuple(calling for _, calling in longest_first)


def _pattern(name: str, in_any_case: bool) -> str:
    words = _WORD.findall(name)
    if len(words) > 1:
        return f"(?i:{'[\\W_]+'.join(words)})"
    return f"(?i:{re.escape(name)})" if in_any_case else re.escape(name)


def _initials(name: str) -> str:
    letters = [word[0] for word in _WORD.findall(name)]
    return "".join(letters[:LETTERS]).upper() or NAMELESS
