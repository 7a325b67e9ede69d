"""How the difference between two fits is said: one sentence a cause, one row a level that moved."""

from collections.abc import Mapping, Sequence
from typing import Any

from models.traits import TRAITS
from tracker.as_json import fields_json
from tracker.decisions.history_of_fits import (
    NOT_KEPT,
    FitsCompared,
    LevelMove,
    PlayerShots,
    version_words,
)
from tracker.interval import Interval
from tracker.records import Change
from tracker.units import System, brief_text, trait_display
from tracker.words import start_of_sentence

NAMED = 6
"""Players, changes or packages named in one sentence; the rest is counted."""

MOVE_COLUMNS = ("Player", "Trait", "Believed then", "Believed now", "That day, seen now", "Why")


def cause_sentences(found: FitsCompared, system: System) -> tuple[str, ...]:
    """Return what differs between the fits beside the levels, one sentence a cause."""
    said = [_shots(found)]
    for words, changes in (("Logged since", found.came), ("Logged no longer", found.went)):
        if changes:
            said.append(f"{words}: {_listed([_change(c) for c in changes])}.")
    said += [f"{start_of_sentence(m)}." for m in found.methods]
    said += [
        f"{start_of_sentence(TRAITS[b.trait].label)}: the bias of {b.method} moved from "
        f"{_brief(b.trait, b.before, system)} to {_brief(b.trait, b.after, system)}."
        for b in found.biases
    ]
    known = [v for v in found.versions if NOT_KEPT not in v[1:]]
    if known:
        said.append(f"Made by another version: {_listed([version_words(*v) for v in known])}.")
    said += [
        f"{start_of_sentence(version_words(*v))}, so it may have been another one."
        for v in found.versions
        if v not in known
    ]
    if found.before.seed != found.after.seed:
        said.append(f"Drawn with seed {found.after.seed} in place of {found.before.seed}.")
    if found.in_doubt:
        labels = _listed([TRAITS[t].label for t in found.in_doubt])
        said.append(f"Not compared, since a fit is in doubt about it: {labels}.")
    return tuple(said)


def moves_sentence(found: FitsCompared) -> str:
    """Return how many levels moved by more than matters, and how many of the same day."""
    if not found.levels:
        return "No level moved by more than the change that is worth having."
    many, same = len(found.levels), sum(m.seen_otherwise for m in found.levels)
    what = "level moved" if many == 1 else "levels moved"
    if not same:
        other = "by what came after" if many == 1 else "all by what came after"
    elif same == many:
        other = f"{'it is' if many == 1 else 'all are'} another view of the same day"
    else:
        other = f"{same} of them {'is' if same == 1 else 'are'} another view of the same day"
    return f"{many} {what} by more than the change that is worth having; {other}."


def move_row(move: LevelMove, system: System) -> tuple[str, ...]:
    """Return a level that moved under ``MOVE_COLUMNS``."""
    then, now = (day.date().isoformat() for day in move.days)
    return (
        move.player,
        TRAITS[move.trait].label,
        f"{_brief(move.trait, move.before, system)} on {then}",
        f"{_brief(move.trait, move.after, system)} on {now}",
        _brief(move.trait, move.same_day, system),
        "; ".join(move.reasons),
    )


def compared_json(found: FitsCompared) -> Mapping[str, Any]:
    """Return the difference between two fits as the command line prints it."""
    change = "player start kind name trait"
    return {
        "from": found.before.fit_id,
        "to": found.after.fit_id,
        **fields_json(found, "same_data new_shots methods in_doubt"),
        "players": [
            {
                **fields_json(p, "player sessions shots"),
                "sessions_read_otherwise": p.otherwise,
                "sessions_gone": p.gone,
            }
            for p in found.players
        ],
        "changes_logged": [fields_json(c, change) for c in found.came],
        "changes_taken_out": [fields_json(c, change) for c in found.went],
        "biases": [
            {
                **fields_json(b, "trait method"),
                "from": b.before.as_json(),
                "to": b.after.as_json(),
            }
            for b in found.biases
        ],
        "versions": [{"name": n, "from": a, "to": b} for n, a, b in found.versions],
        "levels": [
            {
                "from": m.before.as_json(),
                "to": m.after.as_json(),
                **fields_json(m, "player trait same_day days worthwhile seen_otherwise reasons"),
            }
            for m in found.levels
        ],
    }


def _brief(trait: str, level: Interval, system: System) -> str:
    return brief_text(level, trait_display(trait, system), signed=TRAITS[trait].signed)


def _shots(found: FitsCompared) -> str:
    if found.same_data:
        return "The same shots and changes."
    if not found.players:
        other = "; some of their readings differ" if not (found.came or found.went) else ""
        return f"As many shots of everybody as before{other}."
    more = found.new_shots
    total = "As many shots as before"
    if more:
        counted = f"{abs(more)} {'shot' if abs(more) == 1 else 'shots'}"
        total = f"{counted} {'more' if more > 0 else 'fewer'}"
    return f"{total}: {_listed([_player(p) for p in found.players])}."


def _player(one: PlayerShots) -> str:
    parts = [
        f"{number} {words[number != 1]}"
        for number, words in (
            (one.sessions, ("new session", "new sessions")),
            (one.otherwise, ("session read otherwise", "sessions read otherwise")),
            (one.gone, ("session taken out", "sessions taken out")),
        )
        if number
    ]
    more = f" {one.shots:+d}" if one.shots else ""
    return f"{one.player}{more} ({', '.join(parts)})"


def _change(change: Change) -> str:
    return f"{change.name} ({change.player}, {change.start.isoformat()})"


def _listed(words: Sequence[str]) -> str:
    shown = list(words[:NAMED])
    if len(words) > NAMED:
        shown.append(f"and {len(words) - NAMED} more")
    return ", ".join(shown)
