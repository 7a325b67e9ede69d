"""How a player's levers are said: the answer, the amounts, what to read next, notes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.traits import TARGETED, TRAITS
from tracker.decisions.distance.gain_answer import Measure
from tracker.decisions.distance.levers import Lever, LeverEffect
from tracker.decisions.distance.taught import ATTACK
from tracker.decisions.distance.worth import PlayerLevers
from tracker.decisions.distance.yardstick import Yardstick
from tracker.interval import Interval
from tracker.units import (
    Display,
    System,
    brief_text,
    display,
    range_text,
    trait_display,
    value_text,
)
from tracker.words import cases_words, listed, start_of_sentence

POINTS = Display("in 100", 1.0, 0)
"""How chances of staying inside are shown: drives in a hundred."""
SMALL = 3.0
"""A gain whose interval stays below this, as shown, keeps a decimal."""
MUCH_M, MUCH_MORE = 5.0, 3.0
"""From so much, and so many times a lever's own gain, it is said what its trait has waiting."""
UNREAD = "neither strike, attack, loft, path nor face was read"
USUAL = "what is usual"
A_GUESS = "a guess, from what drills have done here"
NOT_YET = "nothing is worth acting on yet"
HANGS_ON_LUCK = "is as likely as not to give nothing that matters"
COSTLY_CHANCE = 0.2
"""Chance from which it is said that a lever may make things worse."""
MOST_NAMED = 2
"""Levers named beside the first; of more, how many they are says enough."""


@dataclass(frozen=True, slots=True)
class LeverWords:
    """What the answer says of one lever; ``mean_alone`` is its gain with nothing following."""

    lever: Lever
    gain: Interval
    mean_gain: float
    mean_alone: float
    effort: float
    p_best: float
    p_worse: float
    """Chance that it makes things worse."""
    reason: str


def gain_display(gain: Interval, system: System) -> Display:
    """Return how a gain is shown: metres as distances, points as drives in a hundred.

    A gain that is small throughout keeps a decimal.
    """
    how = _display(gain.unit, system)
    largest = max(abs(gain.low90), abs(gain.high90)) * how.factor
    return replace(how, decimals=1) if largest < SMALL else how


def _display(unit: str, system: System) -> Display:
    return POINTS if unit == "points" else display("distance", system)


def gain_with_range(gain: Interval, yardstick: Yardstick, system: System) -> str:
    """Return ``+6 yd toward the target (90 % sure between +1 and +12 yd)``."""
    how = gain_display(gain, system)
    size = value_text(gain.median, how, signed=True)
    return f"{size} {yardstick.words} ({range_text(gain, how, signed=True)})"


def gain_brief(gain: Interval | None, system: System) -> str:
    """Return ``+6 yd (+1 to +12)`` for tables, where the heading says 90 %; nothing for none."""
    if gain is None:
        return ""
    return brief_text(gain, gain_display(gain, system), signed=True)


def amount_words(metres: float, unit: str, system: System) -> str:
    """Return one signed amount with a decimal, such as ``+2.4 yd``."""
    return value_text(metres, _display(unit, system), signed=True, decimals=1)


def sessions_words(number: float) -> str:
    """Return sessions of practice as a person says them."""
    return f"{number:g} {'session' if number == 1 else 'sessions'}"


def lever_reason(effect: LeverEffect, system: System) -> str:
    """Return what a lever has been seen to do, or that nobody has seen it."""
    trait = effect.lever.trait or ""
    how = trait_display(trait, system)
    if effect.own is not None:
        size = _size(float(np.median(effect.own)), how)
        if size == _size(0.0, how):
            return "it hardly moved this player so far; again is taken to add half of that"
        return f"it moved this player by about {size} already; again is taken to add half of that"
    if effect.lever.kind == "new":
        return "; ".join([*(_tried_words(*one, how) for one in effect.tried), A_GUESS])
    if not effect.doers:
        return A_GUESS
    if not effect.moved:
        return f"it surely moved none of {effect.doers} here"
    size = _size(float(np.median(effect.moved)), how)
    return f"it moved {len(effect.moved)} of {effect.doers} here by about {size}"


def _tried_words(name: str, moved: float, how: Display) -> str:
    """Return what a drill that a player has done for the trait has come to."""
    size = _size(moved, how)
    if size == _size(0.0, how):
        return f"{name} hardly moved this player so far"
    return f"{name} moved this player by about {size} so far"


def lever_aim(lever: Lever) -> str:
    """Return a lever with the trait it is for, such as ``tee ladder for strike height``."""
    if lever.kind in ("new", "yardstick") or lever.trait is None:
        return lever.name
    return f"{lever.name} for {TRAITS[lever.trait].label}"


def gain_sentence(
    levers: PlayerLevers,
    words: Sequence[LeverWords],
    tied: Sequence[str],
    *,
    clear: bool,
    worthwhile: bool,
    unsure: bool,
    system: System,
) -> str:
    """Return which lever comes first, what it is worth, and how sure that is."""
    player = levers.player
    if levers.problems:
        return f"{player}: this fit did not pass its checks, so nothing is ranked."
    if not words:
        return f"{player}: no lever can be named; {UNREAD}."
    if unsure:
        return f"{player}: {NOT_YET}; {_unsure_words(levers, words[0], system)}."
    if not worthwhile:
        return f"{player}: nothing is worth changing first; {_no_pay(levers, words[0], system)}."
    opening = f"{player}: {lever_aim(words[0].lever)} first ({words[0].reason})"
    return f"{opening}: {_worth_words(levers, words[0], tied, clear, system)}"


def gain_lead(
    levers: PlayerLevers,
    words: Sequence[LeverWords],
    tied: Sequence[str],
    *,
    clear: bool,
    worthwhile: bool,
    unsure: bool,
    system: System,
) -> str:
    """Return the answer without what a headline says already: who, and which lever."""
    if levers.problems:
        return "This fit did not pass its checks, so nothing is ranked."
    if not words:
        return f"{start_of_sentence(UNREAD)}."
    if unsure:
        return f"{start_of_sentence(_unsure_words(levers, words[0], system))}."
    if not worthwhile:
        return f"{start_of_sentence(_no_pay(levers, words[0], system))}."
    worth = _worth_words(levers, words[0], tied, clear, system)
    return f"{start_of_sentence(words[0].reason)}: {worth}"


def _unsure_words(levers: PlayerLevers, best: LeverWords, system: System) -> str:
    """Return what seems best, and that it is no reason to practise."""
    gain = gain_with_range(best.gain, levers.yardstick, system)
    return f"what seems best, {lever_aim(best.lever)}, {HANGS_ON_LUCK}: {gain}"


def _no_pay(levers: PlayerLevers, first: LeverWords, system: System) -> str:
    gain = gain_with_range(first.gain, levers.yardstick, system)
    return f"the most promising, {lever_aim(first.lever)}, is worth {gain}"


def _waiting(levers: PlayerLevers, first: LeverWords, system: System) -> str:
    """Return what the first lever's trait would give all the way there, where that is far more."""
    trait = first.lever.trait or ""
    full = levers.by_trait[trait].full
    if float(np.median(full)) < max(MUCH_M, MUCH_MORE * first.gain.median):
        return ""
    amount = value_text(
        float(np.median(full)), _display(first.gain.unit, system), signed=True, decimals=0
    )
    return f"All the way at its best, {TRAITS[trait].label} would give {amount}."


def _worth_words(
    levers: PlayerLevers, first: LeverWords, tied: Sequence[str], clear: bool, system: System
) -> str:
    """Return what the first lever is worth, and how sure it is that it comes first."""
    gain = gain_with_range(first.gain, levers.yardstick, system)
    said = f"{gain} for {sessions_words(first.effort)}."
    doubt = gain_doubt(first, tied, clear=clear, system=system)
    return " ".join(part for part in (said, doubt, _waiting(levers, first, system)) if part)


def gain_doubt(first: LeverWords, tied: Sequence[str], *, clear: bool, system: System) -> str:
    """Return what a first lever's gain hangs on, and how often another is better; may be empty."""
    said = []
    if np.sign(first.mean_gain) != np.sign(first.mean_alone):
        alone = amount_words(first.mean_alone, first.gain.unit, system)
        said.append(f"Loft and path that come along make that of it; alone it would be {alone}.")
    if not clear:
        chance = f"It is the best choice {cases_words(first.p_best)}"
        others = _others([name for name in tied if name != first.lever.name])
        said.append(f"{chance}; {others} may do better." if others else f"{chance}.")
    if first.p_worse >= COSTLY_CHANCE:
        worse = cases_words(first.p_worse)
        said.append(f"It makes things worse {worse}, so read again after a session or two of it.")
    return " ".join(said)


def _others(names: Sequence[str]) -> str:
    if len(names) <= MOST_NAMED + 1:
        return listed(names)
    return listed([*names[:MOST_NAMED], f"{len(names) - MOST_NAMED} others"])


def measure_words(
    levers: PlayerLevers, best: tuple[str, float] | None, *, beats: bool, system: System
) -> str:
    """Return what one more session of readings is worth; ``best`` is a trait and its worth."""
    if levers.problems:
        return "Fit again before reading anything more."
    if best is None:
        return "Nothing to read more of for this; look again after the next few sessions."
    trait, worth = best
    label, amount = TRAITS[trait].label, amount_words(worth, levers.yardstick.unit, system)
    known = "" if trait not in levers.unread else ", which was never read,"
    if beats:
        return (
            f"Measure first: a session of reading {label}{known} is worth {amount} on average over "
            "what it may read, more than a session of practice."
        )
    return f"Of readings, one more session of {label}{known} is worth most: {amount} on average."


def meanwhile_words(measure: Measure, unit: str, system: System) -> str:
    """Return what to read where nothing is to be practised."""
    again = "once more" if measure.read else "for the first time"
    worth = amount_words(measure.worth_m, unit, system)
    return f"meanwhile read {TRAITS[measure.trait].label} {again}, worth {worth}"


def common_words(firsts: Sequence[Lever | None]) -> str:
    """Return that one lever is first for most players; empty when none is."""
    known = [lever for lever in firsts if lever is not None]
    counts = {lever: known.count(lever) for lever in known}
    if not counts:
        return ""
    most = max(counts, key=lambda lever: counts[lever])
    if len(firsts) < 2 or counts[most] <= len(firsts) / 2:
        return ""
    return (
        f"{start_of_sentence(lever_aim(most))} is first for {counts[most]} of {len(firsts)}: a "
        "common lever of this squad. What a player gets beyond the squad's average player is the "
        "particular gain."
    )


def unread_words(trait: str, source: str) -> str:
    """Return that a trait was not read and from where it is taken."""
    offered = "; no lever for it is offered." if trait in TARGETED else "."
    return f"{start_of_sentence(TRAITS[trait].label)} was not read: taken from {source}{offered}"


def gain_notes(levers: PlayerLevers, system: System) -> tuple[str, ...]:
    """Return what a reader should know beside the numbers."""
    notes = []
    for trait in levers.unread:
        level = Interval.from_draws(levers.level_of(trait), TRAITS[trait].unit)
        source = "what is usual among players" if trait in levers.nobodys else "the squad"
        range_ = range_text(level, trait_display(trait, system))
        notes.append(unread_words(trait, f"{source} ({range_})"))
    for trait, worth in levers.by_trait.items():
        if worth.target.at_edge:
            edge = value_text(worth.target.best, trait_display(trait, system), signed=True)
            notes.append(
                f"The best {TRAITS[trait].label} lies at or beyond what peers reach ({edge})."
            )
    if not levers.calibrated:
        notes.append(
            "No ball data of the squad used: the physics is the published one, so the carry itself "
            "is uncertain; gains, being differences, much less."
        )
    return tuple(notes)


def follows_words(levers: PlayerLevers, system: System) -> str:
    """Return what a degree of attack takes along in a player, and who says so; may be empty."""
    if ATTACK not in levers.by_trait:
        return ""
    along = []
    for trait, draws in (
        ("loft_deg", np.asarray(levers.physics.loft_follows_attack)),
        ("path_deg", levers.path_follows_attack),
    ):
        found, how = Interval.from_draws(draws, TRAITS[trait].unit), trait_display(trait, system)
        along.append(f"{brief_text(found, how, signed=True)} of {TRAITS[trait].label}")
    changed = levers.attack_changed_in
    told = ["shots", *([f"{changed} here whose attack was changed"] if changed else []), USUAL]
    return (
        f"A degree of attack brings along {listed(along)}, 90 % sure in brackets: so say "
        f"{listed(told)}."
    )


def _size(value: float, how: Display) -> str:
    return value_text(abs(value), how)
