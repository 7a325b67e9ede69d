"""Which players of a squad are looked at: by group, coach, handedness, and being seen since."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from tracker.posterior import Fit
from tracker.records import Labels


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a player; None asks nothing."""

    group: str | None = None
    coach: str | None = None
    handed: str | None = None
    since: date | None = None
    """Whoever has no session from that day on is left out."""


def players_left(fit: Fit, labels: Mapping[str, Labels], asked: Asked) -> tuple[str, ...]:
    """Return the players of a fit that are asked for, in its order."""
    nothing = Labels()
    return tuple(
        player.name
        for player in fit.players
        if (word := labels.get(player.name, nothing)) is not None
        and asked.group in (None, word.group)
        and asked.coach in (None, word.coach)
        and asked.handed in (None, player.handed)
        and (asked.since is None or fit.sessions(player.name)[-1].date() >= asked.since)
    )
