"""What the program's own evidence found, as it is shipped: invented seasons, published values."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True, slots=True)
class Requirement:
    """One thing that verdicts must do over many invented seasons whose truth is known."""

    what: str
    wanted: str
    found: str
    """With 95 % limits in brackets."""
    met: bool
    means: str = ""
    """What a requirement that is missed means for the reader of an answer."""


class Tried:
    """What is asked of requirements that were tried on invented players; a subclass holds them."""

    __slots__ = ()
    requirements: tuple[Requirement, ...]

    @property
    def missed(self) -> tuple[Requirement, ...]:
        """Return the requirements that are not met."""
        return tuple(r for r in self.requirements if not r.met)

    @property
    def score(self) -> str:
        """Return how many requirements hold, in words."""
        all_of = len(self.requirements)
        return f"{all_of - len(self.missed)} of {all_of} requirements"


@dataclass(frozen=True, slots=True)
class Evidence(Tried):
    """What verdicts must do, and over how many seasons it was tried."""

    squads: int
    players: int
    """Of each squad."""
    seasons: int
    requirements: tuple[Requirement, ...]


@dataclass(frozen=True, slots=True)
class LeverEvidence(Tried):
    """What first levers must do, and over how many academies it was tried."""

    academies: int
    players: int
    """In all."""
    requirements: tuple[Requirement, ...]


@dataclass(frozen=True, slots=True)
class PublishedCheck:
    """A published value beside the one that the program's own code finds."""

    check: str
    quantity: str
    source: str
    published: str
    found: str
    tolerance: str
    met: bool
    why_missed: str = ""


@cache
def evidence() -> Evidence:
    """Return what the invented seasons showed of verdicts."""
    return Evidence(**_tried("evidence.json"))


@cache
def lever_evidence() -> LeverEvidence:
    """Return what invented academies showed of first levers."""
    return LeverEvidence(**_tried("levers.json"))


@cache
def published_checks() -> tuple[PublishedCheck, ...]:
    """Return every published value that was found again, or was not."""
    return tuple(PublishedCheck(**row) for row in _read("published.json")["checks"])


def evidence_sentence(found: Evidence) -> str:
    """Return how many requirements hold, in words."""
    return (
        f"In {found.seasons} invented seasons whose truth is known, the verdicts met {found.score}."
    )


def lever_evidence_sentence(found: LeverEvidence) -> str:
    """Return how many requirements first levers meet, in words."""
    return (
        f"For {found.players} invented players of {found.academies} academies whose drills are "
        f"known, the first levers met {found.score}."
    )


def published_sentence(checks: Sequence[PublishedCheck]) -> str:
    """Return how many published values were found again, in words."""
    met = sum(c.met for c in checks)
    return (
        f"Of {len(checks)} values that others have published, the program's own code finds {met} "
        "again within their tolerance."
    )


def _tried(name: str) -> dict[str, Any]:
    kept = _read(name)
    return {**kept, "requirements": tuple(Requirement(**row) for row in kept["requirements"])}


def _read(name: str) -> dict[str, Any]:
    text = files("tracker.decisions.checks").joinpath(name).read_text(encoding="utf-8")
    return dict(json.loads(text))
