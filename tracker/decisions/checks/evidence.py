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


@dataclass(frozen=True, slots=True)
class Evidence:
    """The requirements, and over how many seasons they were tried."""

    squads: int
    players: int
    """Of each squad."""
    seasons: int
    requirements: tuple[Requirement, ...]

    @property
    def missed(self) -> tuple[Requirement, ...]:
        """Return the requirements that are not met."""
        return tuple(r for r in self.requirements if not r.met)


@dataclass(frozen=True, slots=True)
class LeverEvidence:
    """What first levers must do over invented academies, and over how many it was tried."""

    academies: int
    players: int
    """In all."""
    requirements: tuple[Requirement, ...]

    @property
    def missed(self) -> tuple[Requirement, ...]:
        """Return the requirements that are not met."""
        return tuple(r for r in self.requirements if not r.met)


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
    kept = _read("evidence.json")
    requirements = tuple(Requirement(**row) for row in kept.pop("requirements"))
    return Evidence(**kept, requirements=requirements)


@cache
def lever_evidence() -> LeverEvidence:
    """Return what invented academies showed of first levers."""
    kept = _read("levers.json")
    requirements = tuple(Requirement(**row) for row in kept.pop("requirements"))
    return LeverEvidence(**kept, requirements=requirements)


@cache
def published_checks() -> tuple[PublishedCheck, ...]:
    """Return every published value that was found again, or was not."""
    return tuple(PublishedCheck(**row) for row in _read("published.json")["checks"])


def evidence_sentence(found: Evidence) -> str:
    """Return how many requirements hold, in words."""
    all_of = len(found.requirements)
    met = all_of - len(found.missed)
    return (
        f"In {found.seasons} invented seasons whose truth is known, the verdicts met {met} of "
        f"{all_of} requirements."
    )


def lever_evidence_sentence(found: LeverEvidence) -> str:
    """Return how many requirements first levers meet, in words."""
    all_of = len(found.requirements)
    met = all_of - len(found.missed)
    return (
        f"For {found.players} invented players of {found.academies} academies whose drills are "
        f"known, the first levers met {met} of {all_of} requirements."
    )


def published_sentence(checks: Sequence[PublishedCheck]) -> str:
    """Return how many published values were found again, in words."""
    met = sum(c.met for c in checks)
    return (
        f"Of {len(checks)} values that others have published, the program's own code finds {met} "
        "again within their tolerance."
    )


def _read(name: str) -> dict[str, Any]:
    text = files("tracker.decisions.checks").joinpath(name).read_text(encoding="utf-8")
    return dict(json.loads(text))
