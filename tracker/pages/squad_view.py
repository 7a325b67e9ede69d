"""What the squad's page says: who stands where, who cannot be told apart, which drill works."""

from collections.abc import Sequence
from dataclasses import dataclass

from models.traits import TRAITS
from tracker.charts.rank import RankRow
from tracker.decisions.board.board_words import one_sided, tied_words
from tracker.decisions.squad import DrillRow, SquadRow, top_words
from tracker.decisions.verdict.verdict_words import directions
from tracker.files.table_file import Value, heads, numbers, table_csv
from tracker.pages.shared.phrases import (
    Rows,
    amount,
    amount_brief,
    amount_range,
    amount_with_range,
    counted,
    trait_label,
)
from tracker.posterior import Fit
from tracker.report.figures import rank_row
from tracker.units import System, brief_text, trait_display
from tracker.words import chance_words, start_of_sentence

DRILL_COLUMNS = ("Drill or change", "Acts on", "Effect", "Direction", "Players")

MOST_NAMED = 8
"""Players named in one sentence."""
WORKS = 0.95
"""Least chance of an effect's sign at which the sentence names a drill (two-sided 90 %)."""


@dataclass(frozen=True, slots=True)
class SquadView:
    """Everything the squad's page shows for one trait."""

    trait: str
    headline: str
    lead: str
    problems: tuple[str, ...]
    rows: tuple[RankRow, ...]
    label: str
    positive: str
    first: str
    """What the first place means: the best, or only the highest."""
    best: str
    in_words: tuple[str, ...]
    """Each row for those who cannot see the picture."""
    levels: Rows
    moving: str
    drills: Rows
    yardstick: str
    """What the places go by."""
    levels_csv: bytes
    drills_csv: bytes


def squad_view(
    fit: Fit,
    trait: str,
    table: Sequence[SquadRow],
    drills: Sequence[DrillRow],
    system: System,
) -> SquadView:
    """Return what to show of a squad's table for one trait."""
    problems = fit.problems_of(trait)
    usable = not problems
    sound = [d for d in drills if not fit.problems_of(d.trait)]
    return SquadView(
        trait=trait,
        headline=_headline(trait, table, system) if usable else "No ranking from this fit.",
        lead=_lead(trait, sound, system)
        if usable
        else "The draws did not pass their checks, so nobody is compared. Fit again.",
        problems=problems,
        rows=tuple(rank_row(fit, trait, row, system) for row in table),
        label=trait_label(trait),
        positive=TRAITS[trait].positive,
        first=_first(trait),
        best=_best(trait),
        in_words=tuple(
            f"{r.player} {amount_with_range(trait, r.level, system)}, 90 % sure of {_place(r)}"
            for r in table
        ),
        levels=tuple(_level_line(trait, row, len(table), system) for row in table),
        moving=_moving(trait, table, system),
        drills=tuple(_drill_line(d, system) for d in sound),
        yardstick=_yardstick(trait, table),
        levels_csv=_levels_csv(trait, table),
        drills_csv=_drills_csv(sound),
    )


def level_columns(first: str) -> tuple[str, ...]:
    """Return the heads of the table of levels; ``first`` is what the first place means."""
    place = ("Place, 90 % sure", f"Among the {first} three")
    return ("Player", "Level", *place, "Trend a month", "Off the own best level", "Tied with")


def _yardstick(trait: str, table: Sequence[SquadRow]) -> str:
    label = trait_label(trait)
    among = f"among the {counted(len(table), 'player')} here"
    if any(row.shortfall is not None for row in table):
        return f"Places go by how far {label} is off each player's own best level, {among}."
    return f"Places go by the level of {label}, {among}."


def _first(trait: str) -> str:
    return "highest" if TRAITS[trait].goal == "none" else "best"


def _best(trait: str) -> str:
    row = TRAITS[trait]
    if row.goal == "none":
        return "more of it is neither better nor worse"
    return row.spoken.most if row.goal == "more" else "closest to each player's own target"


def _headline(trait: str, table: Sequence[SquadRow], system: System) -> str:
    alone = "is clearly highest" if TRAITS[trait].goal == "none" else "clearly leads"
    if table:
        alone += f", at {amount_with_range(trait, table[0].level, system)}"
    return f"{start_of_sentence(trait_label(trait))}: {top_words(table, alone)}"


def _lead(trait: str, drills: Sequence[DrillRow], system: System) -> str:
    mine = [d for d in drills if d.trait == trait]
    sure = [d for d in mine if max(d.p_positive, 1 - d.p_positive) >= WORKS]
    if sure:
        best = max(sure, key=lambda d: abs(d.effect.median))
        positive, negative = directions(trait)
        way = positive if best.effect.median > 0 else negative
        size = amount(trait, abs(best.effect.median), system)
        return (
            f"{start_of_sentence(best.name)} moves it {size} {way} "
            f"({amount_range(trait, best.effect, system, signed=True)}), "
            f"tried by {counted(best.players, 'player')}."
        )
    if mine:
        return f"No drill logged for {trait_label(trait)} has a settled effect yet."
    return f"No drill is logged for {trait_label(trait)} yet; log one on the coach's page."


def _place(row: SquadRow) -> str:
    low, high = row.rank90
    if low == high:
        return f"place {low}"
    return f"place {low} to {high}"


def _level_line(trait: str, row: SquadRow, of: int, system: System) -> tuple[str, ...]:
    trend = row.trend_per_month
    return (
        row.player,
        amount_brief(trait, row.level, system),
        _place(row),
        chance_words(row.p_top3),
        "one date only" if trend is None else amount_brief(trait, trend, system, change=True),
        "" if row.shortfall is None else brief_text(row.shortfall, trait_display(trait, system)),
        tied_words(row.tied_with, of),
    )


def _levels_csv(trait: str, table: Sequence[SquadRow]) -> bytes:
    """Return levels and places as a file, in stored units."""
    columns = (
        "player", "trait", "unit", "place_expected", "place_low90", "place_high90", "p_top3",
        *heads("level"), *heads("off_target"), *heads("trend_a_month"), "target_low",
        "target_high", "tied_with",
    )  # fmt: skip
    rows: list[list[Value]] = [
        [
            row.player,
            trait,
            TRAITS[trait].unit,
            row.expected_rank,
            *row.rank90,
            row.p_top3,
            *numbers(row.level),
            *numbers(row.shortfall),
            *numbers(row.trend_per_month),
            *(row.target_window or (None, None)),
            "; ".join(row.tied_with),
        ]
        for row in table
    ]
    return table_csv(columns, rows)


def _drills_csv(drills: Sequence[DrillRow]) -> bytes:
    columns = ("change", "kind", "trait", "unit", *heads("effect"), "p_positive", "players")
    rows: list[list[Value]] = [
        [d.name, d.kind, d.trait, TRAITS[d.trait].unit, *numbers(d.effect), d.p_positive, d.players]
        for d in drills
    ]
    return table_csv(columns, rows)


def _moving(trait: str, table: Sequence[SquadRow], system: System) -> str:
    found = [
        f"{row.player} {amount_with_range(trait, row.trend_per_month, system, change=True)} a month"
        for row in table
        if row.trend_per_month is not None and one_sided(row.trend_per_month)
    ]
    if not found:
        return "Nobody's trend is settled yet."
    more = len(found) - MOST_NAMED
    if more > 0:
        found = [*found[:MOST_NAMED], f"and {more} more, all in the file"]
    expected = 0.1 * len(table)
    return (
        f"Worth a look, because the trend is 90 % sure to have a direction: {'; '.join(found)}. "
        f"With {len(table)} players about {expected:.1g} would stand here by chance alone."
    )


def _drill_line(drill: DrillRow, system: System) -> tuple[str, ...]:
    positive, negative = directions(drill.trait)
    up = drill.p_positive >= 0.5
    chance = chance_words(drill.p_positive if up else 1 - drill.p_positive)
    return (
        drill.name if drill.kind == "drill" else f"{drill.name} ({drill.kind})",
        trait_label(drill.trait),
        amount_brief(drill.trait, drill.effect, system, change=True),
        f"{chance} {positive if up else negative}",
        str(drill.players),
    )
