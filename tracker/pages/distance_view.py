"""What is said of where the distance goes: the difference in a sentence, its parts as a picture."""

from dataclasses import dataclass
from datetime import datetime

from tracker.charts.waterfall import DistancePart, Waterfall, in_words
from tracker.decisions.distance.ends import Moment, When
from tracker.decisions.distance.explain import SMALL_M, UNEXPLAINED, Explanation
from tracker.decisions.distance.explain_words import (
    PART_WORDS,
    is_clear,
    listed_parts,
    small_words,
    split_sentence,
)
from tracker.interval import Interval
from tracker.pages.shared.phrases import Rows, amount_brief, distance, distance_range, trait_label
from tracker.player_trait import Window
from tracker.posterior import Fit
from tracker.units import System, shown
from tracker.words import start_of_sentence


@dataclass(frozen=True, slots=True)
class End:
    """Something a comparison may start or end at: who, when, and what it is called."""

    player: str
    when: When
    label: str


@dataclass(frozen=True, eq=False, slots=True)
class DistanceView:
    """Everything the section shows of one comparison."""

    headline: str
    lead: str
    picture: Waterfall
    picture_text: str
    ends: tuple[str, str]
    levels: Rows
    notes: tuple[str, ...]
    split: str = ""
    """The attack part in two, where it was asked for."""


def distance_view(found: Explanation, start: End, end: End, system: System) -> DistanceView:
    """Return what to show of a difference between two ends."""
    order = list(listed_parts(found))
    steps = [DistancePart(PART_WORDS[n], _shown(found.parts[n], system)) for n in order]
    if found.small_sum is not None:
        steps.append(DistancePart(small_words(found), _shown(found.small_sum, system)))
    steps.append(
        DistancePart(
            PART_WORDS[UNEXPLAINED], _shown(found.parts[UNEXPLAINED], system), explained=False
        )
    )
    whole = DistancePart("difference", _shown(found.carry_difference_m, system))
    picture = Waterfall(tuple(steps), whole)
    return DistanceView(
        headline=_headline(found, start.label, end.label, system),
        lead=_lead(found, order, system),
        picture=picture,
        picture_text=in_words(picture),
        ends=(start.label, end.label),
        levels=tuple(
            (
                start_of_sentence(trait_label(trait)),
                amount_brief(trait, found.start_level[trait], system),
                amount_brief(trait, found.end_level[trait], system),
            )
            for trait in found.start_level
        ),
        notes=(*_small(found), *found.notes),
        split=split_sentence(found, system),
    )


def _small(found: Explanation) -> tuple[str, ...]:
    if not found.small:
        return ()
    return (f"Small parts: {', '.join(PART_WORDS[name] for name in found.small)}.",)


def _shown(interval: Interval, system: System) -> Interval:
    return shown(interval, "distance", system)


def _headline(found: Explanation, start: str, end: str, system: System) -> str:
    whole = found.carry_difference_m
    ends = start_of_sentence(f"{end} against {start}")
    whose = "the shots with a carry reading went" if found.measured else "by the model, carry is"
    size = abs(whole.median)
    way = "longer" if whole.median > 0 else "shorter"
    if not is_clear(whole):
        sure = distance_range(whole, system)
        return (
            f"{ends}: {whose} perhaps {distance(size, system)} {way}, but which way is not settled "
            f"({sure}, + longer)."
        )
    near, far = sorted((abs(whole.low90), abs(whole.high90)))
    sure = distance_range(Interval(size, near, far, "m"), system)
    return f"{ends}: {whose} about {distance(size, system)} {way} ({sure})."


def _lead(found: Explanation, order: list[str], system: System) -> str:
    settled = [
        name
        for name in order
        if is_clear(found.parts[name]) and abs(found.parts[name].median) >= SMALL_M
    ]
    if not settled:
        return "No single part is settled: the readings leave it open where the distance goes."
    said = [f"{PART_WORDS[name]} {_signed(found.parts[name], system)}" for name in settled[:3]]
    text = f"What is settled: {', '.join(said)}."
    unexplained = found.parts[UNEXPLAINED]
    if found.measured and is_clear(unexplained):
        text += f" Left unexplained: {_signed(unexplained, system)}."
    return text


def _signed(part: Interval, system: System) -> str:
    return f"{distance(part.median, system, signed=True)} ({distance_range(part, system)})"


def ends_to_choose(fit: Fit, player: str) -> tuple[tuple[End, ...], tuple[End, ...]]:
    """Return what a comparison may start from and end at, the suggested one first in each.

    Suggested are the first and the latest third of the player's sessions; then come single
    sessions, latest first, and, to start from, the tendency of the other players.
    """
    starts = fit.sessions(player)
    first, latest = (_third(fit, player, late) for late in (False, True))
    sessions = tuple(End(player, Moment(s), _when(s, starts)) for s in reversed(starts))
    others = tuple(
        End(p.name, _third(fit, p.name, late=True).when, f"{p.name}, latest third")
        for p in fit.players
        if p.name != player
    )
    if len(starts) < 2:
        return (*others, *sessions), sessions
    return (first, *sessions, *others), (latest, *sessions)


def _third(fit: Fit, player: str, late: bool) -> End:
    """Return the first or the latest third of a player's sessions, two where there are four."""
    starts = fit.sessions(player)
    count = len(starts)
    third = max(1, min(count // 2, max(2, round(count / 3))))
    some = starts[-third:] if late else starts[:third]
    days = f"{some[0]:%d %b} to {some[-1]:%d %b %Y}" if len(some) > 1 else f"{some[0]:%d %b %Y}"
    name = "latest third" if late else "first third"
    return End(player, Window(some[0].date(), some[-1].date()), f"{name} ({days})")


def _when(start: datetime, starts: tuple[datetime, ...]) -> str:
    alone = sum(s.date() == start.date() for s in starts) == 1
    return f"{start:%d %b %Y}" if alone else f"{start:%d %b %Y, %H:%M}"
