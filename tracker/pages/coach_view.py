"""What the coach's page says: the first fault in words, its picture's numbers and the tables."""

from collections.abc import Sequence
from dataclasses import dataclass

from models.traits import FAULTS, MODELLED, STRIKES
from tracker.charts.face_map import FaceMap
from tracker.charts.gain import GainRow
from tracker.decisions.distance.gain import Fix, Gains
from tracker.pages.shared.phrases import (
    amount_brief,
    amount_with_range,
    counted,
    distance,
    distance_brief,
    distance_display,
    distance_range,
    distance_with_range,
    named,
    start_of_sentence,
    trait_label,
    window_text,
)
from tracker.records import Change
from tracker.store.rows import LoggedChange
from tracker.units import System, shown
from tracker.words import cautions_for, chance_words, fault_words

Rows = tuple[tuple[str, ...], ...]

WORTH_COLUMNS = (
    "Fault", "Now", "Best window", "Planned fix", "If nothing else moved", "As this player moves",
    "All the way",
)  # fmt: skip
BESIDES_COLUMNS = ("Planned fix of", "Carry and run", "Ball speed", "Spin", "Where it lands")
CHANCE_COLUMNS = (
    "Fault", "Best bet", "Among the best two", "Cost if it is not the best",
    "Effort (sessions)",
)  # fmt: skip
PRACTICE_CAUTIONS = (
    "Juniors: few full-effort swings a session, varied practice and days of rest.",
    "Powder sprayed on the face to see the strike: outdoors or in a ventilated place only, away "
    "from eyes and flames.",
    "Hit only where hitting is authorised, with nobody beside the ball or in front of it.",
    "This page ranks; a qualified coach decides on the swing, a physician on the body, and the "
    "equipment rules on club and ball.",
)
"""Safety sentences beside every plan that asks for practice (common practice, no source)."""
NOT_READ = "not read"
SQUAD_COLUMNS = ("Player", "First fault", "Worth in carry", "Best bet", "Effort (sessions)")


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One logged change as the list shows it, with the number that removes it."""

    change_id: int
    text: str


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
    worth: Rows
    besides: Rows
    chances: Rows
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    plans: tuple[PlanLine, ...]
    traits: tuple[tuple[str, str], ...]
    """Traits a plan may aim at, with their names, first fault first."""

    @property
    def usable(self) -> bool:
        """Return whether numbers may be shown."""
        return not self.problems


def coach_view(
    gains: Gains,
    face: FaceMap | None,
    plans: Sequence[LoggedChange],
    system: System,
) -> CoachView:
    """Return what to show for one player."""
    headline, lead = _answer(gains, system)
    order = [fix.trait for fix in gains.fixes]
    remarks = [*gains.notes]
    if gains.fixes:
        share = gains.fixes[0].share
        remarks.append(
            f"A planned fix gets {share.median * 100:.0f} % of the way (90 % sure between "
            f"{share.low90 * 100:.0f} and {share.high90 * 100:.0f} %)."
        )
        remarks.append(
            "Hitting the same spot more often (scatter a fifth smaller) would be worth "
            f"{distance_with_range(gains.tighter_scatter_gain_m, system)} of carry on its own."
        )
        remarks.append(f"Carry now: {distance_with_range(gains.carry_m, system)}.")
    return CoachView(
        player=gains.player,
        headline=headline,
        lead=lead,
        problems=gains.problems,
        gain_rows=tuple(_gain_row(fix, system) for fix in gains.fixes),
        gain_text=_gain_text(gains, system),
        face=face,
        face_text=_face_text(gains, face, system),
        worth=(
            *(_worth_line(fix, system) for fix in gains.fixes),
            *(_unread_line(trait) for trait in gains.unread if trait in FAULTS),
        ),
        besides=tuple(_besides_line(fix, system) for fix in gains.fixes),
        chances=tuple(_chance_line(fix, system) for fix in gains.fixes),
        remarks=tuple(remarks),
        cautions=cautions_for(gains.first) if gains.first else (),
        plans=tuple(PlanLine(p.id, _plan_text(p.change)) for p in plans),
        traits=tuple(
            (t, trait_label(t)) for t in (*order, *(m for m in MODELLED if m not in order))
        ),
    )


def _answer(gains: Gains, system: System) -> tuple[str, str]:
    name = gains.player
    if gains.problems:
        return (
            f"{name}: no answer from this fit.",
            "The draws did not pass their checks, so nothing is ranked. Fit again.",
        )
    if not gains.fixes:
        return (
            f"{name}: no fault can be named yet.",
            f"Neither strike, attack, loft nor face was read. {gains.measure_next}",
        )
    if gains.first is None:
        return (
            f"{name}: no fault is worth fixing first.",
            f"None costs enough carry to change the swing for. {gains.measure_next}",
        )
    first = next(fix for fix in gains.fixes if fix.trait == gains.first)
    worth = (
        f"worth about {distance(first.gain_m.median, system)} of carry "
        f"({distance_range(first.gain_m, system)})"
    )
    chance = f"best bet in {chance_words(first.p_best)} cases"
    if gains.clear or len(gains.tied) < 2:
        reason = fault_words(first.trait, first.now.median, first.target)
        headline = f"{name}: fix {trait_label(first.trait)} first."
        if len(gains.fixes) == 1:
            chance = "the one fault to weigh, since no other was read"
        return headline, f"{start_of_sentence(reason)}. {start_of_sentence(worth)}, {chance}."
    tied = tuple(trait_label(t) for t in gains.tied)
    headline = f"{name}: {named(tied)} are too close to call."
    lead = (
        f"Slight edge to {trait_label(first.trait)}: {worth}, {chance}. "
        f"Choosing wrongly would cost about {distance(first.expected_regret_m, system)}. "
        f"{gains.measure_next}"
    )
    return headline, lead.strip()


def _gain_row(fix: Fix, system: System) -> GainRow:
    half = fix.gain50_m
    factor = distance_display(system).factor
    return GainRow(
        label=trait_label(fix.trait),
        chance=chance_words(fix.p_best),
        gain=shown(fix.gain_m, "distance", system),
        full_fix=shown(fix.full_fix_gain_m, "distance", system),
        half=None if half is None else (half[0] * factor, half[1] * factor),
    )


def _gain_text(gains: Gains, system: System) -> str:
    return "; ".join(
        f"{trait_label(fix.trait)} {distance_with_range(fix.gain_m, system)}, best bet in "
        f"{chance_words(fix.p_best)}"
        for fix in gains.fixes
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


def _worth_line(fix: Fix, system: System) -> tuple[str, ...]:
    return (
        trait_label(fix.trait),
        amount_brief(fix.trait, fix.now, system),
        window_text(fix.trait, fix.window, system),
        distance_brief(fix.gain_m, system),
        distance_brief(fix.gain_alone_m, system),
        distance_brief(fix.gain_as_player_moves_m, system),
        distance_brief(fix.full_fix_gain_m, system),
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


def _chance_line(fix: Fix, system: System) -> tuple[str, ...]:
    return (
        trait_label(fix.trait),
        chance_words(fix.p_best),
        chance_words(fix.p_top2),
        distance(fix.expected_regret_m, system),
        f"{fix.effort_sessions:g}",
    )


def _sessions(number: float) -> str:
    return f"{number:g} {'session' if number == 1 else 'sessions'}"


def squad_rows(squad: Sequence[Gains], system: System) -> Rows:
    """Return the list of everybody's first fault, most to gain first."""
    by_worth = sorted(squad, key=lambda g: -(g.fixes[0].mean_gain_m if g.fixes else 0.0))
    return tuple(_squad_line(gains, system) for gains in by_worth)


def _squad_line(gains: Gains, system: System) -> tuple[str, ...]:
    if gains.problems or not gains.fixes:
        return (gains.player, NOT_READ if not gains.problems else "no answer", "", "", "")
    if gains.first is None:
        return (gains.player, "nothing worth changing", "", "", "")
    first = next(fix for fix in gains.fixes if fix.trait == gains.first)
    others = [trait_label(t) for t in gains.tied if t != gains.first]
    name = trait_label(gains.first)
    if not gains.clear and others:
        name += f" (too close to call with {named(others)})"
    return (
        gains.player,
        name,
        distance_brief(first.gain_m, system),
        chance_words(first.p_best),
        f"{first.effort_sessions:g}",
    )


def _plan_text(change: Change) -> str:
    aim = trait_label(change.trait) if change.trait else "all traits"
    text = f"{change.start:%d %b %Y}: {change.name} ({change.kind}) for {aim}"
    if change.effort_sessions is not None:
        text += f", {_sessions(change.effort_sessions)} planned"
    return text
