"""The command that plans a season: who works on what when, and the calendar it can write."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from tracker.as_json import fields_json, json_value
from tracker.cli.common import (
    DbOption,
    ForceOption,
    JsonOption,
    UnitsOption,
    WideOption,
    may_write,
    out,
    parse_day,
    print_json,
    print_rows,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, Belief, belief_asked_for, open_store
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain import squad_levers
from tracker.decisions.distance.gain_answer import Measure
from tracker.decisions.season.assignment import Capacity
from tracker.decisions.season.plan import Planned, RetestOf, SeasonPlan, season_plan
from tracker.decisions.season.plan_calendar import plan_calendar
from tracker.decisions.season.plan_table import plan_csv
from tracker.decisions.season.plan_words import (
    gain_words,
    left_out_words,
    load_words,
    plan_cautions,
    plan_headline,
    plan_lead,
    programme_aim,
    reading_brief,
    retest_words,
    sure_words,
)
from tracker.decisions.season.programme import MOST_A_WEEK, checked_pace, season_retest
from tracker.decisions.verdict.retest import RetestPlan
from tracker.decisions.verdict.threshold import kept_threshold
from tracker.records import DEFAULT_CLUB
from tracker.store.private_files import write_private
from tracker.units import System

FromOption = Annotated[
    str | None,
    typer.Option(
        "--from", metavar="DATE", help="First day. Default: today, or the day of --as-of."
    ),
]
OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="FILE.ics", help="Write the plan as a calendar.")
]
TableOption = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE.csv", help="Write the plan as a table, in --units."),
]
WEEKS, SESSIONS_A_WEEK = 12, 10
READING_FIELDS = "trait worth_m"
ASIDE = frozenset({"sure", "read more"})
"""Columns that a narrow terminal is spared."""


def plan(
    start: FromOption = None,
    weeks: Annotated[int, typer.Option("--weeks", help="Length of the season.")] = WEEKS,
    sessions_a_week: Annotated[
        int, typer.Option("--sessions-a-week", help="Sessions the coach can give in a week.")
    ] = SESSIONS_A_WEEK,
    devices: Annotated[
        int, typer.Option("--devices", help="Players who can be measured in one session.")
    ] = 1,
    a_player: Annotated[
        int,
        typer.Option("--a-player", help=f"Sessions a week of one player, 1 to {MOST_A_WEEK}."),
    ] = 1,
    path: OutOption = None,
    table: TableOption = None,
    as_of: AsOfOption = None,
    force: ForceOption = False,
    wide: WideOption = False,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan the season: who practises what when, the retest, and what the squad gains by it."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        capacity, a_week = Capacity(weeks, sessions_a_week, devices), checked_pace(a_player)
        asked = parse_day(start, "--from", "2026-09-01")
        for file in (path, table):
            if file is not None:
                may_write(file, force)
        belief = belief_asked_for(store, DEFAULT_CLUB, as_of)
        levers = squad_levers(belief.fit)
        found = season_plan(
            levers,
            retests_at(belief, a_week),
            start=asked or belief.day or date.today(),
            capacity=capacity,
            a_player_a_week=a_week,
        )
        if path is not None:
            write_private(path, plan_calendar(found, system, datetime.now(UTC)))
        if table is not None:
            write_private(table, plan_csv(found, system))
        if as_json:
            print_json({**plan_json(found, system), **belief.as_json()})
            return
        belief.warn(*DISTANCE_PARTS)
        _print_plan(found, system, wide)
        if path is not None:
            out.print(f"The calendar is in {path}.")
        if table is not None:
            out.print(f"The table is in {table}.")


def retests_at(belief: Belief, a_week: int) -> RetestOf:
    """Return how it is found out what would show a player's first lever."""

    def retest_of(player: str, trait: str) -> RetestPlan | None:
        limit = kept_threshold(belief.kept, belief.fit, player, trait, logged=True).value
        return season_retest(belief.fit, player, trait, limit, a_week)

    return retest_of


def plan_json(found: SeasonPlan, system: System) -> Mapping[str, Any]:
    """Return a plan as JSON: each player's blocks with dates, and who was left out and why."""
    return {
        "words": plan_headline(found, system),
        "lead": plan_lead(found, system),
        "from": found.start.isoformat(),
        **fields_json(found.capacity, "weeks sessions_a_week devices"),
        "a_player_a_week": found.a_player_a_week,
        "total_gain_m": json_value(found.total),
        "planned": [_planned_json(one) for one in found.planned],
        "left_out": [
            {**fields_json(one, "player why"), "one_more_reading": _reading_json(one.reading)}
            for one in found.left_out
        ],
        "sessions_used": list(found.used),
        **fields_json(found, "measured_sessions measured_shots problems"),
        "measuring_sessions_of_the_coach": found.measuring_slots,
        "one_more_reading": None
        if found.reading is None
        else {"player": found.reading[0], **fields_json(found.reading[1], READING_FIELDS)},
        "cautions": list(plan_cautions(found)),
    }


def _planned_json(one: Planned) -> Mapping[str, Any]:
    made = one.programme
    lever, retest = made.lever, made.retest
    return {
        "player": one.player,
        "lever": lever.name,
        **fields_json(lever, "kind trait gain_m mean_gain_m p_best"),
        **fields_json(made, "clear practice_sessions"),
        "retest": None
        if retest is None
        else {
            "on": json_value(one.retest_on),
            **fields_json(retest, "sessions shots_per_session p_real"),
            "change": made.retest_change,
        },
        "one_more_reading": _reading_json(made.reading),
        "measured_first": made.measures_first,
        "blocks": [
            {
                **fields_json(block, "kind sessions"),
                "from": block.start.isoformat(),
                "to": block.end.isoformat(),
            }
            for block in one.blocks
        ],
    }


def _reading_json(reading: Measure | None) -> Mapping[str, Any] | None:
    return None if reading is None else fields_json(reading, READING_FIELDS)


def _line(one: Planned, system: System) -> Mapping[str, str]:
    made, retest = one.programme, retest_words(one.programme)
    return {
        "player": one.player,
        "from": f"{one.blocks[0].start:%d %b}",
        "practise": programme_aim(made),
        "gain": gain_words(made, system),
        "sure": sure_words(made),
        "retest": retest if one.retest_on is None else f"{one.retest_on:%d %b}: {retest}",
        "read more": reading_brief(made, system),
    }


def _print_plan(found: SeasonPlan, system: System, wide: bool) -> None:
    out.print(plan_headline(found, system), style="bold")
    out.print(plan_lead(found, system))
    if found.planned:
        print_rows([_line(one, system) for one in found.planned], wide, ASIDE)
        out.print(f"In brackets: 90 % sure. {load_words(found)}")
    for one in found.left_out:
        out.print(f"Left out: {one.player}, {left_out_words(one, system)}.")
    if found.planned:
        out.print(" ".join(plan_cautions(found)))
