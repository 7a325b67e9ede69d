"""The command that keeps score: what was promised of logged changes, and what was found."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Annotated, Any

import typer

from models.traits import TRAITS
from tracker.as_json import fields_json, json_value
from tracker.cli.common import (
    DbOption,
    JsonOption,
    UnitsOption,
    WideOption,
    out,
    print_json,
    print_rows,
    print_table,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, Belief, belief_asked_for, open_store
from tracker.decisions.distance.gain_words import gain_brief
from tracker.decisions.promises.found import PromiseBook, PromiseRow, promise_book
from tracker.decisions.promises.promise_words import DOUBT, STATUS_WORDS, book_sentence, drill_row
from tracker.errors import UnknownPlayer
from tracker.fits.beliefs import promised_by
from tracker.promise import Promise
from tracker.readings.shot_frame import shots_of
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, trait_display
from tracker.words import chance_words

LEFT_OUT = frozenset({"starts", "gain promised", "gain found", "carry found"})
"""Columns that a narrow terminal does without."""


def promises(
    player: Annotated[
        str | None, typer.Argument(help="Player's name as in the shot log; everybody without.")
    ] = None,
    as_of: AsOfOption = None,
    wide: WideOption = False,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what was promised of logged changes, what was found, and how many held."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        if player is not None and player not in [p.name for p in store.players()]:
            raise UnknownPlayer(f"player {player!r} is not stored")
        kept = tuple(store.promises(player).values())
        # nothing promised is an answer, and needs no fit
        belief = belief_asked_for(store, DEFAULT_CLUB, as_of) if kept or as_of else None
        book = PromiseBook.empty() if belief is None else _book(belief, kept)
        if as_json:
            print_json({**promises_json(book), **({} if belief is None else belief.as_json())})
            return
        if belief is not None:
            belief.warn(*dict.fromkeys(row.promise.trait for row in book.rows))
        out.print(book_sentence(book), style="bold")
        if book.rows:
            print_rows([_row(row, system) for row in book.rows], wide, LEFT_OUT)
            _print_drills(book)


def _book(belief: Belief, kept: Sequence[Promise]) -> PromiseBook:
    """Return the book of those of some promises that were made by the day of a belief."""
    fit = belief.fit
    made = kept if belief.day is None else promised_by(fit, kept, belief.day)
    players = dict.fromkeys(promise.change.player for promise in made)
    return promise_book(fit, made, [s for name in players for s in shots_of(belief.shots(name))])


def promises_json(book: PromiseBook) -> Mapping[str, Any]:
    """Return promises under the keys of the contract, and a few more."""
    return {
        "promises": [_promise_json(row) for row in book.rows],
        "coverage": asdict(book.coverage),
        "promised_over_found": json_value(book.promised_over_found),
        "by_drill": [
            {
                **fields_json(drill, "name trait promised_over_found"),
                **asdict(drill.coverage),
            }
            for drill in book.by_drill
        ],
        "words": book_sentence(book),
    }


def _promise_json(row: PromiseRow) -> Mapping[str, Any]:
    promise = row.promise
    return {
        **fields_json(promise.change, "player name kind start"),
        **fields_json(promise, "trait lever effort_sessions fit_id stored_at"),
        "promised": json_value(promise.move),
        "promised_gain_m": json_value(promise.gain),
        "promised_gains": json_value(promise.gains),
        **fields_json(row, "found found_gain_m found_carry_m inside status why"),
    }


def _row(row: PromiseRow, system: System) -> Mapping[str, str]:
    promise, change = row.promise, row.promise.change
    how = trait_display(promise.trait, system)
    return {
        "player": change.player,
        "change": change.name,
        "starts": change.start.isoformat(),
        "trait": TRAITS[promise.trait].label,
        "promised": brief_text(promise.move, how, signed=True),
        "found": "" if row.found is None else brief_text(row.found, how, signed=True),
        "gain promised": gain_brief(promise.gain, system),
        "gain found": "" if row.found_gain_m is None else gain_brief(row.found_gain_m, system),
        "carry found": "" if row.found_carry_m is None else gain_brief(row.found_carry_m, system),
        "held": row.why
        if row.inside is None
        else f"{STATUS_WORDS[row.status]}, {chance_words(row.inside)}",
    }


def _print_drills(book: PromiseBook) -> None:
    print_table(("change", "trait", "held", "promised over found"), map(drill_row, book.by_drill))
    out.print("Gains are toward the target; carry found is what was read, at like club speed and")
    out.print("noted weather. In brackets: 90 % sure between.")
    out.print(DOUBT)
