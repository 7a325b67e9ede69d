"""A squad's season from a shell: the way since the start, flags, looks, what is left."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from rich.progress import Progress

from models.traits import TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.common import err, out, plain_table
from tracker.cli.stored import Belief
from tracker.decisions.board.board_words import (
    NO_LEVER,
    changed_lead,
    look_reason,
    look_remedy,
    move_words,
)
from tracker.decisions.board.changed import Changed, who_changed
from tracker.decisions.board.every_trait import Moves, moves_of
from tracker.decisions.board.look import Look, who_needs_a_look
from tracker.decisions.board.start_now import (
    StartNow,
    scatter_windows,
    squad_start_now,
    start_now_distance,
)
from tracker.decisions.board.unclaimed import Unclaimed, unclaimed
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain import common_lever, squad_levers
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.gain_words import gain_brief
from tracker.decisions.distance.target import player_target
from tracker.decisions.distance.yardstick import Yardstick
from tracker.decisions.verdict.consistency import looser_scatter
from tracker.decisions.verdict.threshold import kept_threshold
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.readings.stuck_device import without_stuck
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, trait_display


@dataclass(frozen=True, slots=True)
class Board:
    """Everything the command says beside places and drills."""

    start: tuple[StartNow, ...]
    worth: Mapping[str, Interval | None]
    moves: tuple[Moves, ...]
    """Of every trait."""
    changed: Changed
    looks: tuple[Look, ...]
    left: Unclaimed | None
    """None for a club whose flight is not known."""


def board_of(
    belief: Belief,
    trait: str,
    players: Sequence[str],
    since: date | None,
    yardstick: Yardstick,
    system: System,
) -> Board:
    """Work out the season of a squad, telling on standard error how far it is."""
    fit = belief.fit
    known = fit.info.club == DEFAULT_CLUB
    sound = known and not fit.problems_of(*DISTANCE_PARTS)
    start = () if fit.problems_of(trait) else squad_start_now(fit, players, trait, since)
    shots, stuck = without_stuck(belief.shots())

    @cache
    def limit(of: str, logged: bool) -> float:
        return kept_threshold(belief.kept, fit, fit.players[0].name, of, logged=logged).value

    return Board(
        start=start,
        worth={
            row.player: start_now_distance(fit, row.player, yardstick=yardstick, since=since)
            for row in start
            if sound
        },
        moves=moves_of(fit, players, since),
        changed=who_changed(fit, fit.traits, limit, players=players, since=since),
        looks=who_needs_a_look(
            fit,
            players,
            target=lambda player, of: player_target(fit, player, of),
            scatter=[
                verdict
                for of in fit.traits
                if not fit.problems_of(of)
                for verdict in looser_scatter(shots, of, scatter_windows(fit, players, of, since))
            ],
            stuck=stuck,
            since=since,
        ),
        left=_left(fit, players, yardstick, system) if known else None,
    )


def _left(fit: Fit, players: Sequence[str], yardstick: Yardstick, system: System) -> Unclaimed:
    """Return what players leave unclaimed; a fit in doubt costs no flight."""
    if problems := fit.problems_of(*DISTANCE_PARTS):
        return Unclaimed((), None, 0.0, (), problems)
    with Progress(console=err, transient=True) as bar:
        task = bar.add_task("First levers", total=len(players))

        def tell(done: int, of: int) -> None:
            bar.update(task, completed=done, total=of)

        levers = squad_levers(fit, players=players, yardstick=yardstick, progress=tell)
    return unclaimed(levers, system)


def board_json(board: Board, system: System) -> Mapping[str, Any]:
    """Return the season of a squad under its keys; lengths in m, days as dates."""
    left = board.left
    return {
        "start_now": [
            {
                **fields_json(row, "player trait start now change first latest"),
                "steps": [fields_json(s, "kind name between size chance") for s in row.steps],
                "creep_per_month": json_value(row.creep),
                "worth_at_like_speed": json_value(board.worth.get(row.player)),
            }
            for row in board.start
        ],
        "start_now_every_trait": [
            {"player": one.player, "changes": json_value(one.moves)} for one in board.moves
        ],
        "changed": {
            "flags": [
                fields_json(flag, "player trait chance limit change before after logged")
                for flag in board.changed.flags
            ],
            **fields_json(board.changed, "expected_wrong bar looked_at held_back"),
        },
        "needs_a_look": [
            {
                **fields_json(look, "player kind trait"),
                "reason": look_reason(look, system),
                "remedy": look_remedy(look),
            }
            for look in board.looks
        ],
        "unclaimed_m": None
        if left is None
        else {
            **fields_json(left, "total mean_total problems"),
            "players": [_first_json(one) for one in left.gains],
            "levers": [
                {**fields_json(lever, "name trait"), "players": number}
                for lever, number in left.levers
            ],
        },
    }


def _first_json(one: Gains) -> Mapping[str, Any]:
    best = one.best
    return {
        **fields_json(one, "player first_lever"),
        "gain_m": None if best is None else json_value(best.gain_m),
        "mean_gain_m": None if best is None else best.mean_gain_m,
        "particular_gain_m": None if best is None else best.particular_gain_m,
    }


def print_board(board: Board, trait: str, system: System) -> None:
    """Print the season of a squad, one heading a question."""
    how = trait_display(trait, system)
    if board.start:
        out.print("Start against now", style="bold")
        table = plain_table("player", "change", "how it moved", "worth at like speed")
        for row in board.start:
            worth = board.worth.get(row.player)
            table.add_row(
                row.player,
                brief_text(row.change, how, signed=True),
                move_words(row, system),
                "" if worth is None else gain_brief(worth, system),
            )
        out.print(table)
    out.print("Who changed", style="bold")
    out.print(changed_lead(board.changed))
    if board.changed.flags:
        flags = plain_table("player", "trait", "change", "P", "limit", "since")
        for flag in board.changed.flags:
            own = trait_display(flag.trait, system)
            change = brief_text(flag.change, own, signed=True)
            since = f"{flag.after[0]} {flag.logged}".strip()
            sure = f"{flag.chance:.3f}", f"{flag.limit:.3f}"
            flags.add_row(flag.player, TRAITS[flag.trait].label, change, *sure, since)
        out.print(flags)
    out.print("Who needs a look", style="bold")
    for look in board.looks:
        out.print(f"{look.player}: {look_reason(look, system)} {look_remedy(look)}")
    if not board.looks:
        out.print("Nobody.")
    _print_left(board.left, system)


def _print_left(left: Unclaimed | None, system: System) -> None:
    if left is None:
        return
    out.print("Left unclaimed", style="bold")
    for problem in left.problems:
        out.print(f"No number: {problem}")
    if left.total is not None:
        number = sum(times for _, times in left.levers)
        out.print(f"{gain_brief(left.total, system)} in all, by the first levers of {number}.")
    elif not left.problems:
        out.print(NO_LEVER)
    if common := common_lever(left.gains):
        out.print(common)
