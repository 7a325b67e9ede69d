"""The frozen records that pass between files, store and model."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Literal

Handed = Literal["right", "left"]
ChangeKind = Literal["drill", "equipment", "setup"]
Label = Literal["group", "coach"]

CHANGE_KINDS: tuple[ChangeKind, ...] = ("drill", "equipment", "setup")
LABELS: tuple[Label, ...] = ("group", "coach")
"""Free words that say where a player belongs; no fit depends on them."""
DEFAULT_CLUB = "driver"
UNSTATED_METHOD = "unstated"
"""Name of the method where the log does not say how a reading was taken."""

INFERRED_METHOD = "inferred"
"""Name of the method where a reading was worked out from the ball's flight."""


@dataclass(frozen=True, slots=True)
class Player:
    """A player as the log names them."""

    name: str
    handed: Handed = "right"


@dataclass(frozen=True, slots=True)
class Labels:
    """The group and the coach that a player was last known to have; None where nothing says."""

    group: str | None = None
    coach: str | None = None


@dataclass(frozen=True, slots=True)
class Shot:
    """One recorded shot.

    ``readings`` holds what was read, by trait column, in the trait's unit; a missing reading is
    absent. The player, session start, club and number together identify the shot.
    """

    player: str
    session: datetime
    number: int
    readings: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    club: str = DEFAULT_CLUB
    handed: Handed = "right"
    strike_method: str = UNSTATED_METHOD
    delivery_method: str = UNSTATED_METHOD
    missed_face: bool = False
    tee_height_mm: float | None = None
    ball: str | None = None
    air_temperature_c: float | None = None
    altitude_m: float | None = None
    group: str | None = None
    """Free word for what the player belongs to at the time, such as a team or a class."""
    coach: str | None = None
    """Who coached the player at the time."""
    note: str | None = None

    @property
    def key(self) -> tuple[str, datetime, str, int]:
        """Return what identifies the shot."""
        return (self.player, self.session, self.club, self.number)


@dataclass(frozen=True, slots=True)
class Change:
    """A logged drill, equipment or set-up change.

    ``trait`` names the trait it aims at; None means all of them. ``effort_sessions`` is how much
    practice it was planned to take, in sessions.
    """

    player: str
    start: date
    kind: ChangeKind
    name: str
    trait: str | None = None
    effort_sessions: float | None = None
    note: str | None = None
