"""Start against now in every trait at once: one move a player and trait, with its interval."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from models.traits import TRAITS
from tracker.decisions.board.start_now import ends_of, mean_level
from tracker.interval import Interval
from tracker.posterior import Fit


@dataclass(frozen=True, slots=True)
class Moves:
    """How far one player's traits came from the first to the latest sessions."""

    player: str
    moves: Mapping[str, Interval]
    """By trait, its unit; traits read on fewer than two days are not in it."""


def moves_of(fit: Fit, players: Collection[str], since: date | None = None) -> tuple[Moves, ...]:
    """Return the moves of some players in every trait that the fit does not doubt.

    The ends are those of ``start_now``: the first and the latest third of the sessions with
    readings since a day.
    """
    sound = [trait for trait in fit.traits if not fit.problems_of(trait)]
    return tuple(Moves(name, _moves(fit, name, sound, since)) for name in players)


def _moves(
    fit: Fit, player: str, traits: Collection[str], since: date | None
) -> Mapping[str, Interval]:
    found = {}
    for trait in traits:
        one = fit.of(player, trait)
        ends = ends_of(one, since) if one.is_read else None
        if ends is not None:
            change = mean_level(one, ends.after) - mean_level(one, ends.before)
            found[trait] = Interval.from_draws(change, TRAITS[trait].unit)
    return found
