"""What the squad's board says: who came how far, who changed, who needs a look, what is left.

Every table stands here twice: as words for the page, and as plain numbers in SI units for a file.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.traits import TRAITS
from tracker.decisions.board.board_words import (
    NO_LEVER,
    changed_lead,
    creeps,
    look_reason,
    look_remedy,
    move_words,
    one_sided,
)
from tracker.decisions.board.changed import Changed, Flag
from tracker.decisions.board.look import Look, LookKind
from tracker.decisions.board.start_now import StartNow
from tracker.decisions.board.unclaimed import Unclaimed
from tracker.decisions.distance.gain import common_lever
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import gain_brief, lever_aim
from tracker.decisions.distance.yardstick import Yardstick
from tracker.files.table_file import Value, heads, numbers, table_csv
from tracker.interval import Interval
from tracker.pages.shared.phrases import Rows, amount_brief, counted, trait_label
from tracker.units import System
from tracker.words import chance_words, day_words, start_of_sentence

START_COLUMNS = ("Player", "At first", "Now", "Change", "How it moved", "Worth at like speed")
CHANGED_COLUMNS = ("Player", "What", "Change", "Sure", "Since")
LOOK_COLUMNS = ("Player", "Why", "What helps")
ALLOWED_COLUMNS = ("Player", "What changed")
UNCLAIMED_COLUMNS = ("Player", "First lever", "Worth", "Particular to the player", "Best choice")
LEVER_COLUMNS = ("First lever", "For", "Share of these players")

LOOK_WORDS: Mapping[LookKind, str] = {
    "drifting": "drifting",
    "scatter": "scatter growing",
    "stuck": "stuck device",
    "method": "method changed",
    "few": "too few shots",
    "unseen": "long unseen",
}


@dataclass(frozen=True, slots=True)
class TableView:
    """A table as it is shown and as it is handed over."""

    lead: str
    rows: Rows
    csv: bytes


@dataclass(frozen=True, slots=True)
class LookView:
    """Who needs a look; ``csv`` holds the rows of both tables."""

    lead: str
    rows: Rows
    csv: bytes
    allowed: Rows
    """Changes of method that others make up for: nothing to do."""


@dataclass(frozen=True, slots=True)
class UnclaimedView:
    """What is left to gain, and by which levers."""

    lead: str
    common: str
    rows: Rows
    levers: Rows
    csv: bytes
    problems: tuple[str, ...]


def start_view(
    rows: Sequence[StartNow],
    on_page: Sequence[StartNow],
    worth: Mapping[str, Interval | None],
    distance_problems: Sequence[str],
    system: System,
) -> TableView:
    """Return how far players came; ``worth`` in m or points, of those on the page.

    A doubt about what distance rests on hides the distance alone.
    """
    settled = [row for row in rows if one_sided(row.change)]
    crept = [row for row in rows if creeps(row, system)]
    stepped = [row for row in rows if any(step.sure for step in row.steps)]
    lead = (
        f"From the first third to the latest {len(settled)} of {counted(len(rows), 'player')} "
        f"moved for sure (90 %). A move at one moment is settled for {len(stepped) or 'nobody'}, "
        f"a creep for {len(crept) or 'nobody'}."
        if rows
        else "Nobody has readings on two days yet: measure another session."
    )
    if distance_problems and rows:
        lead += " What it is worth is not said, since the fit is in doubt there."
    shown: list[tuple[str, ...]] = []
    for row in on_page:
        gained = None if distance_problems else worth.get(row.player)
        shown.append(
            (
                row.player,
                amount_brief(row.trait, row.start, system),
                amount_brief(row.trait, row.now, system),
                amount_brief(row.trait, row.change, system, change=True),
                move_words(row, system),
                "not said" if gained is None else gain_brief(gained, system),
            )
        )
    return TableView(lead, tuple(shown), start_csv(rows, {} if distance_problems else worth))


def start_csv(rows: Sequence[StartNow], worth: Mapping[str, Interval | None]) -> bytes:
    """Return how far players came as a file, in stored units."""
    columns = (
        "player", "trait", "unit", "first_from", "first_to", "latest_from", "latest_to",
        *heads("start"), *heads("now"), *heads("change"), *heads("creep_a_month"),
        "steps", *heads("worth_at_like_speed"), "worth_unit",
    )  # fmt: skip
    found: list[list[Value]] = []
    for row in rows:
        gained = worth.get(row.player)
        found.append(
            [
                row.player,
                row.trait,
                TRAITS[row.trait].unit,
                *(day.isoformat() for day in (*row.first, *row.latest)),
                *numbers(row.start),
                *numbers(row.now),
                *numbers(row.change),
                *numbers(row.creep),
                "; ".join(
                    f"{s.name or 'not logged'} {s.between[0]} to {s.between[1]}: "
                    f"{s.size.median:.2f} ({s.size.low90:.2f} to {s.size.high90:.2f}), "
                    f"chance {s.chance:.2f}"
                    for s in row.steps
                ),
                *numbers(gained),
                None if gained is None else gained.unit,
            ]
        )
    return table_csv(columns, found)


def changed_view(found: Changed, system: System) -> TableView:
    """Return who changed."""
    columns = (
        "player", "trait", "unit", *heads("change"), "chance", "limit", "before_from",
        "before_to", "after_from", "after_to", "logged",
    )  # fmt: skip
    rows: list[list[Value]] = [
        [
            flag.player,
            flag.trait,
            TRAITS[flag.trait].unit,
            *numbers(flag.change),
            flag.chance,
            flag.limit,
            *(day.isoformat() for day in (*flag.before, *flag.after)),
            flag.logged,
        ]
        for flag in found.flags
    ]
    shown = tuple(_changed_row(flag, system) for flag in found.flags)
    return TableView(changed_lead(found), shown, table_csv(columns, rows))


def _changed_row(flag: Flag, system: System) -> tuple[str, ...]:
    since = f"{flag.logged}, " if flag.logged else "no logged change, "
    return (
        flag.player,
        trait_label(flag.trait),
        amount_brief(flag.trait, flag.change, system, change=True),
        chance_words(flag.chance),
        f"{since}{day_words(flag.after[0])}",
    )


def look_view(found: Sequence[Look], players: int, system: System) -> LookView:
    """Return who needs a look, why and what helps; what the model allows for stands apart."""
    needed = [look for look in found if look.kind != "method" or not look.linked]
    whom = {look.player for look in needed}
    lead = (
        f"{len(whom)} of {counted(players, 'player')}."
        if needed
        else "Nobody: no drift away from target, no growing scatter, no stuck device, nobody "
        "long unseen."
    )
    rows = tuple(
        (
            look.player,
            f"{start_of_sentence(LOOK_WORDS[look.kind])}. {look_reason(look, system)}",
            look_remedy(look),
        )
        for look in needed
    )
    allowed = tuple(
        (look.player, look_reason(look, system)) for look in found if look not in needed
    )
    csv = table_csv(
        ("player", "kind", "trait", "reason", "remedy"),
        [
            (
                look.player,
                LOOK_WORDS[look.kind],
                look.trait or ", ".join(look.few),
                look_reason(look, system),
                look_remedy(look),
            )
            for look in found
        ],
    )
    return LookView(lead, rows, csv, allowed)


def unclaimed_view(found: Unclaimed, yardstick: Yardstick, system: System) -> UnclaimedView:
    """Return what the squad leaves unclaimed, player by player."""
    if found.problems:
        lead = "No number: the draws that distance rests on did not pass their checks. Fit again."
        return UnclaimedView(lead, "", (), (), b"", found.problems)
    columns = (
        "player", "first_lever", "trait", *heads("worth"), "worth_mean", "worth_unit",
        "effort_sessions", "particular", "p_best",
    )  # fmt: skip
    rows: list[list[Value]] = []
    for one in found.gains:
        best = one.best
        if best is None:
            rows.append([one.player, *[None] * (len(columns) - 1)])
            continue
        rows.append(
            [
                one.player,
                best.name,
                best.trait,
                *numbers(best.gain_m),
                best.mean_gain_m,
                best.gain_m.unit,
                best.effort_sessions,
                best.particular_gain_m,
                best.p_best,
            ]
        )
    number = sum(times for _, times in found.levers)
    lead = NO_LEVER
    if found.total is not None:
        takers = "1 player" if number == 1 else f"each of {number} players"
        lead = (
            f"{gain_brief(found.total, system)} {yardstick.words} is left unclaimed in all, if "
            f"{takers} takes the first lever."
        )
    return UnclaimedView(
        lead=lead,
        common=common_lever(found.gains),
        rows=tuple(_unclaimed_row(one, system) for one in found.gains),
        levers=tuple(
            (lever_aim(lever), counted(times, "player"), f"{100 * times / len(found.gains):.0f} %")
            for lever, times in found.levers
        ),
        csv=table_csv(columns, rows),
        problems=(),
    )


def _unclaimed_row(one: Gains, system: System) -> tuple[str, ...]:
    best = one.best
    if best is None:
        return (one.player, "none pays enough to matter", "", "", "")
    return (
        one.player,
        lever_aim(best.lever),
        gain_brief(best.gain_m, system),
        gain_brief(best.particular, system),
        chance_words(best.p_best or 0.0),
    )
