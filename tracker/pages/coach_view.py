"""What the coach's page says: the first lever in words, its picture's numbers and the tables."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from models.traits import MODELLED, STRIKES, TARGETED
from tracker.charts.face_map import FaceMap
from tracker.charts.gain import GainRow
from tracker.decisions.distance.gain import common_lever
from tracker.decisions.distance.gain_answer import Fix, Gains, LeverGain
from tracker.decisions.distance.gain_words import (
    NOT_YET,
    amount_words,
    gain_brief,
    gain_display,
    gain_with_range,
    lever_aim,
    meanwhile_words,
    sessions_words,
)
from tracker.decisions.promises.promise_words import promise_sentence
from tracker.pages.shared.phrases import (
    Rows,
    amount_brief,
    amount_with_range,
    counted,
    distance_brief,
    distance_with_range,
    named,
    trait_label,
    window_text,
)
from tracker.promise import Promise
from tracker.records import Change
from tracker.store.rows import LoggedChange
from tracker.units import System
from tracker.words import cases_words, cautions_for, chance_words, fault_words, start_of_sentence

LEVER_COLUMNS = (
    "Lever", "Gain", "A session", "Stays inside", "Particular to this player", "Moves it by",
    "Effort",
)  # fmt: skip
WORTH_COLUMNS = (
    "Trait", "Now", "Best window", "In words", "Best lever", "If nothing else moved",
    "All the way",
)  # fmt: skip
BESIDES_COLUMNS = ("Best lever for", "Carry and run", "Ball speed", "Spin", "Where it lands")
CHANCE_COLUMNS = ("Lever", "Best choice", "Cost if it is not the best, on average")
PICTURED = 6
"""Levers in the picture; the table holds all."""
NOT_READ = "not read"
NO_PROMISES: Mapping[int, Promise] = MappingProxyType({})
SQUAD_COLUMNS = (
    "Player", "First lever", "Gain", "A session", "Particular to this player", "Best choice",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One logged change as the list shows it, with the number that removes it."""

    change_id: int
    text: str
    promised: str = ""
    """What was promised of it when it was logged; empty where nothing was."""


@dataclass(frozen=True, slots=True)
class CoachView:
    """Everything the coach's page shows for one player."""

    player: str
    headline: str
    lead: str
    problems: tuple[str, ...]
    gain_rows: tuple[GainRow, ...]
    gain_text: str
    face: FaceMap | None
    face_text: str
    levers: Rows
    worth: Rows
    besides: Rows
    chances: Rows
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    plans: tuple[PlanLine, ...]
    traits: tuple[tuple[str, str], ...]
    """Traits a plan may aim at, with their names, that of the first lever first."""
    efforts: tuple[tuple[str, float], ...] = ()
    """Sessions that the best lever of each trait takes."""

    @property
    def usable(self) -> bool:
        """Return whether numbers may be shown."""
        return not self.problems


def coach_view(
    gains: Gains,
    face: FaceMap | None,
    plans: Sequence[LoggedChange],
    system: System,
    promises: Mapping[int, Promise] = NO_PROMISES,
) -> CoachView:
    """Return what to show for one player."""
    headline, lead = _answer(gains)
    order = [fix.trait for fix in gains.fixes]
    remarks = [*filter(None, [gains.follows]), *gains.notes]
    if gains.fixes:
        remarks.append(f"Carry now: {distance_with_range(gains.carry_m, system)}.")
    return CoachView(
        player=gains.player,
        headline=headline,
        lead=lead,
        problems=gains.problems,
        gain_rows=tuple(_gain_row(gains, lever, system) for lever in _pictured(gains)),
        gain_text=_gain_text(gains, system),
        face=face,
        face_text=_face_text(gains, face, system),
        levers=tuple(_lever_line(lever, system) for lever in gains.levers),
        worth=(
            *(_worth_line(fix, system) for fix in gains.fixes),
            *(_unread_line(trait) for trait in gains.unread if trait in TARGETED),
        ),
        besides=tuple(_besides_line(fix, system) for fix in gains.fixes),
        chances=tuple(_chance_line(lever, system) for lever in gains.levers),
        efforts=tuple((fix.trait, fix.effort_sessions) for fix in gains.fixes),
        remarks=tuple(remarks),
        cautions=cautions_for(gains.first) if gains.first else (),
        plans=tuple(
            PlanLine(p.id, _plan_text(p.change), _promised(promises.get(p.id), system))
            for p in plans
        ),
        traits=tuple(
            (t, trait_label(t)) for t in (*order, *(m for m in MODELLED if m not in order))
        ),
    )


def _answer(gains: Gains) -> tuple[str, str]:
    """Return a headline to remember, and the answer without what the headline has said."""
    name = gains.player
    if gains.problems:
        return (
            f"{name}: no answer from this fit.",
            "The draws did not pass their checks, so nothing is ranked. Fit again.",
        )
    measure, lead = gains.measure, gains.lead
    if measure is not None and measure.beats_acting:
        headline, lead = f"{name}: read {trait_label(measure.trait)} first.", gains.sentence
    elif gains.best is not None:
        headline = f"{name}: {lever_aim(gains.best.lever)} first."
    elif not gains.fixes:
        headline = f"{name}: no lever can be named yet."
    elif gains.unsure:
        headline = f"{name}: {NOT_YET}."
    else:
        headline = f"{name}: nothing is worth changing first."
    return headline, f"{lead} {gains.measure_next}".strip()


def _pictured(gains: Gains) -> tuple[LeverGain, ...]:
    ranked = tuple(lever for lever in gains.levers if lever.p_best is not None)
    return ranked[:PICTURED]


def _gain_row(gains: Gains, lever: LeverGain, system: System) -> GainRow:
    how = gain_display(lever.gain_m, system)
    full = next(fix.full_fix_gain_m for fix in gains.fixes if fix.trait == lever.trait)
    low, high = lever.gain50_m
    return GainRow(
        label=lever_aim(lever.lever),
        chance=chance_words(lever.p_best or 0.0),
        gain=lever.gain_m.scaled(how.factor, how.unit),
        full_fix=full.scaled(how.factor, how.unit),
        half=(low * how.factor, high * how.factor),
    )


def _gain_text(gains: Gains, system: System) -> str:
    return "; ".join(
        f"{lever_aim(lever.lever)} {gain_with_range(lever.gain_m, gains.yardstick, system)}, best "
        f"choice {cases_words(lever.p_best or 0.0)}"
        for lever in _pictured(gains)
    )


def _face_text(gains: Gains, face: FaceMap | None, system: System) -> str:
    if face is None:
        return ""
    parts = [
        f"{trait_label(fix.trait)} {amount_with_range(fix.trait, fix.now, system)}, best window "
        f"{window_text(fix.trait, fix.window, system)}"
        for fix in gains.fixes
        if fix.trait in STRIKES
    ]
    shots = counted(len(face.strikes), "shot")
    return f"{shots} on the face. " + "; ".join(parts) + ("." if parts else "")


def _lever_line(lever: LeverGain, system: System) -> tuple[str, ...]:
    return (
        lever_aim(lever.lever) + (" (yardstick)" if lever.kind == "yardstick" else ""),
        gain_brief(lever.gain_m, system),
        gain_brief(lever.per_session, system),
        gain_brief(lever.stays_inside_change, system),
        gain_brief(lever.particular, system),
        ""
        if lever.move is None or lever.trait is None
        else amount_brief(lever.trait, lever.move, system, change=True),
        "" if lever.effort_sessions is None else sessions_words(lever.effort_sessions),
    )


def _worth_line(fix: Fix, system: System) -> tuple[str, ...]:
    return (
        trait_label(fix.trait),
        amount_brief(fix.trait, fix.now, system),
        window_text(fix.trait, fix.window, system),
        fault_words(fix.trait, fix.now.median, fix.target, fix.window),
        gain_brief(fix.gain_m, system),
        gain_brief(fix.gain_alone_m, system),
        gain_brief(fix.full_fix_gain_m, system),
    )


def _unread_line(trait: str) -> tuple[str, ...]:
    return (trait_label(trait), NOT_READ, *("",) * (len(WORTH_COLUMNS) - 2))


def _besides_line(fix: Fix, system: System) -> tuple[str, ...]:
    return (
        trait_label(fix.trait),
        distance_brief(fix.total_gain_m, system),
        amount_brief("ball_speed_mps", fix.ball_speed_gain_mps, system),
        amount_brief("spin_rpm", fix.spin_change_rpm, system),
        distance_brief(fix.side_change_m, system, signed=True),
    )


def _chance_line(lever: LeverGain, system: System) -> tuple[str, ...]:
    if lever.p_best is None or lever.expected_regret_m is None:
        return (lever_aim(lever.lever), "yardstick, not ranked", "")
    return (
        lever_aim(lever.lever),
        chance_words(lever.p_best),
        amount_words(lever.expected_regret_m, lever.gain_m.unit, system).lstrip("+"),
    )


def squad_rows(squad: Sequence[Gains], system: System) -> Rows:
    """Return the list of everybody's first lever, most to gain a session first."""
    return tuple(
        _squad_line(gains, system) for gains in sorted(squad, key=lambda g: -_a_session(g))
    )


def squad_sentence(squad: Sequence[Gains]) -> str:
    """Return that one lever is common to most of the squad; empty where none is."""
    return common_lever(squad)


def _a_session(gains: Gains) -> float:
    best = gains.best
    return 0.0 if best is None else best.gain_per_session_m or 0.0


def _squad_line(gains: Gains, system: System) -> tuple[str, ...]:
    empty = ("",) * (len(SQUAD_COLUMNS) - 2)
    if gains.problems or not gains.fixes:
        return (gains.player, NOT_READ if not gains.problems else "no answer", *empty)
    best = gains.best
    if best is None:
        said = "nothing worth acting on yet" if gains.unsure else "nothing worth changing"
        if gains.measure is not None:
            said += f"; {meanwhile_words(gains.measure, gains.yardstick.unit, system)}"
        return (gains.player, said, *empty)
    others = [name for name in gains.tied_levers if name != best.name]
    name = lever_aim(best.lever)
    if not gains.clear and others:
        name += f" (too close to call with {named(others)})"
    return (
        gains.player,
        name,
        gain_brief(best.gain_m, system),
        gain_brief(best.per_session, system),
        gain_brief(best.particular, system),
        chance_words(best.p_best or 0.0),
    )


def _promised(promise: Promise | None, system: System) -> str:
    """Return what was promised of a change, as its line under the plan."""
    if promise is None:
        return ""
    return f"{start_of_sentence(promise_sentence(promise, system))}."


def _plan_text(change: Change) -> str:
    aim = trait_label(change.trait) if change.trait else "all traits"
    text = f"{change.start:%d %b %Y}: {change.name} ({change.kind}) for {aim}"
    if change.effort_sessions is not None:
        text += f", {sessions_words(change.effort_sessions)} planned"
    return text
