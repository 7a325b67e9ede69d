"""The commands that answer from a stored fit about a player: show, gains."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any, cast

import typer
from scipy import constants

from models.traits import TRAITS
from tracker.as_json import fields_json
from tracker.cli.common import (
    AllOption,
    ClubOption,
    DbOption,
    JsonOption,
    PlayerArgument,
    UnitsOption,
    WideOption,
    answer_players,
    out,
    parse_moment,
    plain_table,
    player_names,
    print_json,
    print_rows,
    refusals,
    system_named,
)
from tracker.cli.stored import AsOfOption, belief_asked_for, open_store
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.gain import common_lever, player_gains, squad_gains
from tracker.decisions.distance.gain_answer import Fix, Gains
from tracker.decisions.distance.gain_words import (
    gain_brief,
    lever_aim,
    meanwhile_words,
    sessions_words,
    unread_words,
)
from tracker.decisions.distance.yardstick import (
    CORRIDOR_M,
    TOWARD,
    YARDSTICKS,
    Yardstick,
    YardstickName,
)
from tracker.errors import BadRequest
from tracker.interval import Interval
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB
from tracker.units import System, brief_text, display, trait_display, value_text
from tracker.words import fault_words

AtOption = Annotated[str | None, typer.Option("--at", metavar="DATE", help="Level on that date.")]
EffortOption = Annotated[
    list[str] | None,
    typer.Option(
        "--effort", metavar="NAME=SESSIONS", help="Practice a lever or a trait takes; repeatable."
    ),
]
YardstickOption = Annotated[
    str, typer.Option("--yardstick", help=f"What counts: {', '.join(YARDSTICKS)}.")
]
CorridorOption = Annotated[
    str, typer.Option("--corridor", metavar="WIDTH", help="Such as 30m or 33yd.")
]
FIX_FIELDS = (
    "trait lever now target window gain_m mean_gain_m full_fix_gain_m gain_alone_m "
    "gain_as_player_moves_m total_gain_m ball_speed_gain_mps spin_change_rpm side_change_m "
    "target_at_edge p_best p_top2 expected_regret_m effort_sessions"
)
LEVER_FIELDS = (
    "name kind trait move effort_sessions gain_m mean_gain_m gain_per_session_m p_best "
    "expected_regret_m stays_inside_change particular_gain_m"
)


def show(
    player: PlayerArgument = None,
    at: AtOption = None,
    as_of: AsOfOption = None,
    every: AllOption = False,
    club: ClubOption = DEFAULT_CLUB,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show a player's true tendencies: level, shot scatter and day-to-day scatter."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, club, as_of)
        fit = belief.fit
        moment = parse_moment(at, "--at")
        names = player_names(fit, player, every)
        if as_json:
            answer = answer_players(fit, player, every, lambda name: levels_json(fit, name, moment))
            problems = list(fit.problems_of(*fit.traits))
            print_json({**answer, **belief.as_json(), "problems": problems})
            return
        belief.warn(*fit.traits)
        for name in names:
            _print_levels(fit, name, moment, system)


def levels_json(fit: Fit, player: str, at: datetime | None) -> Mapping[str, Any]:
    """Return a player's levels and scatters at a moment (default: the last session)."""
    traits = {}
    for trait in fit.traits:
        one, unit = fit.of(player, trait), TRAITS[trait].unit
        traits[trait] = {
            "level": Interval.from_draws(one.at(at), unit).as_json(),
            "shot_sd": Interval.from_draws(one.shot_sd, unit).as_json(),
            "session_sd": Interval.from_draws(one.session_sd, unit).as_json(),
            "read": one.is_read,
            "shots": one.readings,
            "sessions": int(one.places_read.size),
        }
    as_of = at or fit.sessions(player)[-1]
    return {"player": player, "as_of": as_of.date().isoformat(), "traits": traits}


def _print_levels(fit: Fit, player: str, at: datetime | None, system: System) -> None:
    as_of = at or fit.sessions(player)[-1]
    out.print(f"{player}, {as_of:%Y-%m-%d}. In brackets: 90 % sure between.", style="bold")
    table = plain_table(
        "trait", "+ means", "tendency", "shot scatter (SD)", "days differ (SD)", "readings"
    )
    for trait in fit.traits:
        how = trait_display(trait, system)
        one, unit = fit.of(player, trait), TRAITS[trait].unit
        level = Interval.from_draws(one.at(at), unit)
        readings = f"{one.readings} in {one.places_read.size} sessions"
        table.add_row(
            TRAITS[trait].label,
            TRAITS[trait].positive,
            brief_text(level, how, signed=TRAITS[trait].signed),
            brief_text(Interval.from_draws(one.shot_sd, unit), how),
            brief_text(Interval.from_draws(one.session_sd, unit), how),
            readings if one.is_read else _not_read(fit, trait),
        )
    out.print(table)


def _not_read(fit: Fit, trait: str) -> str:
    source = "the squad's" if fit.squad(trait).is_read else "what is usual"
    return f"not read: {source}"


def gains(
    player: PlayerArgument = None,
    effort: EffortOption = None,
    yardstick: YardstickOption = TOWARD.name,
    corridor: CorridorOption = f"{CORRIDOR_M:g}m",
    as_of: AsOfOption = None,
    every: AllOption = False,
    wide: WideOption = False,
    units: UnitsOption = "yards",
    db: DbOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to do first, what each lever is worth, and how sure that is."""
    system = system_named(units)
    with refusals(), open_store(db) as store:
        belief = belief_asked_for(store, DEFAULT_CLUB, as_of)
        fit = belief.fit
        efforts, counts = _efforts(effort), yardstick_named(yardstick, corridor)
        names = player_names(fit, player, every)
        if every:
            found = squad_gains(fit, efforts=efforts, yardstick=counts, system=system)
        else:
            found = (player_gains(fit, names[0], efforts=efforts, yardstick=counts, system=system),)
        if as_json:
            answers = [gains_json(g) for g in found]
            squad = {"players": answers, "common": common_lever(found)}
            print_json({**(squad if every else answers[0]), **belief.as_json()})
            return
        belief.warn(*DISTANCE_PARTS)
        if every:
            print_coach_table(found, system, wide)
        else:
            _print_gains(found[0], system, wide)


def yardstick_named(name: str, corridor: str) -> Yardstick:
    """Return what counts by its name and the corridor's width; anything else is refused."""
    number, metres = (corridor.removesuffix("yd"), False) if corridor.endswith("yd") else (
        corridor.removesuffix("m"), True
    )  # fmt: skip
    try:
        width = float(number) * (1.0 if metres else constants.yard)
    except ValueError:
        msg = f"--corridor: found {corridor!r}, wanted a width such as 30m or 33yd"
        raise BadRequest(msg) from None
    return Yardstick(cast(YardstickName, name), width)


def _efforts(given: list[str] | None) -> Mapping[str, float] | None:
    if not given:
        return None
    efforts = {}
    for text in given:
        name, _, sessions = text.rpartition("=")
        try:
            efforts[name] = float(sessions)
        except ValueError:
            msg = f"--effort: found {text!r}, wanted such as strike_up_mm=2 or 'tee ladder=1'"
            raise BadRequest(msg) from None
    return efforts


def gains_json(found: Gains) -> Mapping[str, Any]:
    """Return a player's gains under the keys of the contract, and a few more."""
    return {
        "player": found.player,
        "as_of": found.as_of.date().isoformat(),
        "carry_m": found.carry_m.as_json(),
        "fixes": [_fix_json(fix) for fix in found.fixes],
        "levers": [{**fields_json(one, LEVER_FIELDS), "words": one.reason} for one in found.levers],
        "yardstick": fields_json(found.yardstick, "name corridor_m"),
        **fields_json(found, "first first_lever clear tied tied_levers"),
        "measure": None if found.measure is None else asdict(found.measure),
        "tighter_scatter_gain_m": found.tighter_scatter_gain_m.as_json(),
        "words": found.sentence,
        "measure_next": found.measure_next,
        "follows": found.follows,
        "measure_next_trait": None if found.measure is None else found.measure.trait,
        "not_read": list(found.unread),
        **fields_json(found, "notes problems"),
    }


def _fix_json(fix: Fix) -> Mapping[str, Any]:
    share = fix.share
    return {
        **fields_json(fix, FIX_FIELDS),
        "share": share.median,
        "share90": [share.low90, share.high90],
    }


def print_coach_table(found: tuple[Gains, ...], system: System, wide: bool = False) -> None:
    """Print the coach's table: player, first lever, gain with 90 % interval, the particular gain.

    A player whose answer is in doubt has a sentence and no number.
    """
    common = common_lever(found)
    if common:
        out.print(common, style="bold")
    rows, names = [], ("gain (90 %)", "a session", "particular", "P(best)")
    for g in found:
        best = g.best
        if best is None:
            aim, cells = "none", [""] * len(names)
            words = g.sentence.removeprefix(f"{g.player}: ")
            if g.measure is not None:
                read = meanwhile_words(g.measure, g.yardstick.unit, system)
                words = f"{words.removesuffix('.')}; {read}."
        else:
            aim, words = lever_aim(best.lever), _in_words(g)
            cells = [
                gain_brief(best.gain_m, system),
                gain_brief(best.per_session, system),
                gain_brief(best.particular, system),
                f"{best.p_best:.2f}",
            ]
        answer = dict(zip(names, cells, strict=True))
        rows.append({"player": g.player, "first lever": aim, **answer, "in words": words})
    print_rows(rows, wide, frozenset({"a session", "particular", "P(best)"}))
    said: dict[str, list[str]] = {}
    for g in found:
        for note in g.notes[len(g.unread) :]:
            said.setdefault(note, []).append(g.player)
        for trait in g.unread:
            said.setdefault(unread_words(trait, "what is usual"), []).append(g.player)
    for note, players in sorted(said.items(), key=lambda item: len(item[1])):
        out.print(note if len(players) == len(found) else f"{', '.join(players)}: {note}")


def _in_words(found: Gains) -> str:
    """Return how sure the first lever is, and what to read first where that is worth more."""
    words = "clear" if found.clear else f"close with {len(found.tied_levers) - 1} more"
    if found.measure is not None and found.measure.beats_acting:
        words += f"; measure {TRAITS[found.measure.trait].label} first"
    return words


def _print_gains(found: Gains, system: System, wide: bool) -> None:
    out.print(found.sentence, style="bold")
    if found.levers:
        _print_levers(found, system, wide)
        _print_traits(found, system)
    how = display("distance", system)
    out.print(f"Carry now: {brief_text(found.carry_m, how)}. In brackets: 90 % sure between.")
    for line in (found.measure_next, found.follows, *found.notes):
        if line:
            out.print(line)


def _print_levers(found: Gains, system: System, wide: bool) -> None:
    rows = []
    for lever in found.levers:
        move = ""
        if lever.move is not None and lever.trait is not None:
            move = brief_text(lever.move, trait_display(lever.trait, system), signed=True)
        effort = lever.effort_sessions
        rows.append(
            {
                "lever": lever_aim(lever.lever),
                "moves it by": move,
                f"gain {found.yardstick.words}": gain_brief(lever.gain_m, system),
                "a session": gain_brief(lever.per_session, system),
                "inside": gain_brief(lever.stays_inside_change, system),
                "particular": gain_brief(lever.particular, system),
                "P(best)": "yardstick" if lever.p_best is None else f"{lever.p_best:.2f}",
                "effort": "" if effort is None else sessions_words(effort),
            }
        )
    print_rows(rows, wide, frozenset({"moves it by", "a session", "particular", "effort"}))


def _print_traits(found: Gains, system: System) -> None:
    table = plain_table("trait", "now", "target", "gain all the way there", "in words")
    for fix in found.fixes:
        own = trait_display(fix.trait, system)
        table.add_row(
            TRAITS[fix.trait].label,
            brief_text(fix.now, own, signed=True),
            value_text(fix.target, own, signed=True),
            gain_brief(fix.full_fix_gain_m, system),
            fault_words(fix.trait, fix.now.median, fix.target, fix.window),
        )
    out.print(table)
