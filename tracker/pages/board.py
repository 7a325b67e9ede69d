"""The parts of the squad's page about its season: answers kept by fit, and how they are drawn."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import streamlit as st

from tracker.charts.strips import Strips, strips_chart, strips_text
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
from tracker.decisions.distance.gain import for_players
from tracker.decisions.distance.target import Target, player_target
from tracker.decisions.distance.yardstick import Yardstick
from tracker.decisions.verdict.consistency import ConsistencyVerdict, looser_scatter
from tracker.interval import Interval
from tracker.pages.board_view import (
    ALLOWED_COLUMNS,
    CHANGED_COLUMNS,
    LEVER_COLUMNS,
    LOOK_COLUMNS,
    START_COLUMNS,
    UNCLAIMED_COLUMNS,
    LookView,
    TableView,
    UnclaimedView,
    changed_view,
    look_view,
    start_view,
    unclaimed_view,
)
from tracker.pages.every_trait_view import EveryTraitView, every_trait_csv, every_trait_view
from tracker.pages.shared import context, drawing
from tracker.pages.shared.judging import WORKING, limit_of
from tracker.pages.shared.long_table import long_table
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture
from tracker.pages.shared.waiting import waited
from tracker.plain import markdown
from tracker.report.figures import strips_of
from tracker.units import System

ALL_AT_ONCE = 40
"""Players up to whom everybody's levers are worked out unasked."""
AHEAD_IN: System = "yards"
"""The units of what is worked out ahead: those of a reader who chose none."""
STRIPS_CAPTION = (
    "Line: level, 90 % sure; dashed frame: target; upright line: logged change; dotted column: "
    "change that nobody logged."
)
STRIPS_HOW = (
    "One strip a player, all on one scale and one calendar; the number on the right is the level "
    "now. A change at one moment shows as a step; what creeps shows as a slope."
)
START_NOTE = (
    "At first and now are averages over the first and the latest third of the sessions with "
    "readings. The worth compares both ends through the player's own cloud of shots, at today's "
    "club speed on both sides."
)


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page is about: whose, of which trait, since when, by which yardstick."""

    players: tuple[str, ...]
    """Everybody whom the filters leave, in the order of the fit."""
    page: tuple[str, ...]
    """Those of them who are pictured."""
    trait: str
    since: date | None
    yardstick: Yardstick


# --- answers, kept by fit ---


@once(32)
def start_of(
    key: context.FitKey, players: tuple[str, ...], trait: str, since: date | None
) -> tuple[StartNow, ...]:
    """Return how far players came in a trait."""
    return squad_start_now(context.stored_fit(key), players, trait, since)


@once(16)
def moves_since(
    key: context.FitKey, players: tuple[str, ...], since: date | None
) -> tuple[Moves, ...]:
    """Return how far players came in every trait."""
    return moves_of(context.stored_fit(key), players, since)


@once(2048)
def worth_of(
    key: context.FitKey, player: str, yardstick: Yardstick, since: date | None
) -> Interval | None:
    """Return what a player's way from the start is worth at like speed."""
    return start_now_distance(context.stored_fit(key), player, yardstick=yardstick, since=since)


@once(16)
def changed_of(key: context.FitKey, players: tuple[str, ...], since: date | None) -> Changed:
    """Return who changed in any trait, against the squad's own limits."""
    fit = context.stored_fit(key)

    def limit(trait: str, logged: bool) -> float:
        return limit_of(key, trait, logged).value

    return who_changed(fit, fit.traits, limit, players=set(players), since=since)


@once(2048)
def target_of(key: context.FitKey, player: str, trait: str) -> Target | None:
    """Return where one player's trait should be."""
    return player_target(context.stored_fit(key), player, trait)


@once(8)
def scatter_of(
    key: context.FitKey, version: int, players: tuple[str, ...], since: date | None
) -> tuple[ConsistencyVerdict, ...]:
    """Return the verdicts on players whose shots may scatter more than at first."""
    fit, shots = context.stored_fit(key), context.squad_shots(key, version)
    return tuple(
        verdict
        for trait in fit.traits
        if not fit.problems_of(trait)
        for verdict in looser_scatter(shots, trait, scatter_windows(fit, players, trait, since))
    )


@once(8)
def look_of(
    key: context.FitKey, version: int, players: tuple[str, ...], since: date | None
) -> tuple[Look, ...]:
    """Return who needs a look."""
    return who_needs_a_look(
        context.stored_fit(key),
        set(players),
        target=lambda player, trait: target_of(key, player, trait),
        scatter=scatter_of(key, version, players, since),
        stuck=context.squad_stuck(key, version),
        since=since,
    )


def unclaimed_of(
    here: context.Here,
    players: Sequence[str],
    yardstick: Yardstick,
    progress: Callable[[int, int], None],
) -> Unclaimed:
    """Return what players leave unclaimed; progress is told in this thread."""
    for_players(players, lambda name: context.levers_of(here.key, name, yardstick), progress)
    return _unclaimed(here.key, tuple(players), yardstick, here.system)


@once(16)
def _unclaimed(
    key: context.FitKey, players: tuple[str, ...], yardstick: Yardstick, system: System
) -> Unclaimed:
    return unclaimed([context.levers_of(key, name, yardstick) for name in players], system)


@once(32)
def strips_shown(
    key: context.FitKey, trait: str, page: tuple[str, ...], since: date | None, system: System
) -> Strips:
    """Return the strips of those on the page who have readings."""
    fit = context.stored_fit(key)
    read = [name for name in page if fit.of(name, trait).is_read]
    return strips_of(fit, trait, read, context.squad_targets_of(key, trait), since, system)


@once(32)
def start_shown(key: context.FitKey, shown: Shown, system: System) -> TableView:
    """Return the table of how far those on the page came."""
    rows = start_of(key, shown.players, shown.trait, shown.since)
    by_name = {row.player: row for row in rows}
    on_page = [by_name[name] for name in shown.page if name in by_name]
    doubt = context.stored_fit(key).problems_of(*DISTANCE_PARTS)
    return start_view(rows, on_page, worth_shown(key, shown), doubt, system)


def worth_shown(key: context.FitKey, shown: Shown) -> dict[str, Interval | None]:
    """Return what the way of those on the page is worth; nobody's where distance is in doubt."""
    if context.stored_fit(key).problems_of(*DISTANCE_PARTS):
        return {}
    names = sorted(shown.page)
    return {name: worth_of(key, name, shown.yardstick, shown.since) for name in names}


@once(32)
def changed_shown(
    key: context.FitKey, players: tuple[str, ...], since: date | None, system: System
) -> TableView:
    """Return the table of who changed."""
    return changed_view(changed_of(key, players, since), system)


@once(32)
def look_shown(
    key: context.FitKey,
    version: int,
    players: tuple[str, ...],
    since: date | None,
    system: System,
) -> LookView:
    """Return the tables of who needs a look."""
    return look_view(look_of(key, version, players, since), len(players), system)


def ahead(key: context.FitKey, shown: Shown) -> None:
    """Work out ahead what the sections say first; of a large squad what is not asked for."""
    fit, version = context.stored_fit(key), context.store_of(key.url).data_version()
    players, since, system = shown.players, shown.since, AHEAD_IN
    if not fit.problems_of(shown.trait):
        strips_shown(key, shown.trait, shown.page, since, system)
        start_shown(key, shown, system)
        moves_since(key, shown.page, since)
    changed_shown(key, players, since, system)
    look_shown(key, version, players, since, system)
    if len(players) <= ALL_AT_ONCE and not fit.problems_of(*DISTANCE_PARTS):
        _unclaimed(key, players, shown.yardstick, system)


# --- parts of the page ---


def season_section(here: context.Here, shown: Shown) -> None:
    """Show the levels over the season and how far everybody came."""
    if here.fit.problems_of(shown.trait):
        return
    st.header("The season, player by player", anchor=False)
    render_strips(strips_shown(here.key, shown.trait, shown.page, shown.since, here.system))
    render_start(start_shown(here.key, shown, here.system))
    moves = moves_since(here.key, shown.page, shown.since)
    render_every_trait(
        every_trait_view(moves, worth_shown(here.key, shown), here.system),
        lambda: every_trait_csv(moves_since(here.key, shown.players, shown.since)),
    )


def changed_section(here: context.Here, shown: Shown) -> None:
    """Show who changed, in any trait."""
    st.header("Who changed", anchor=False)
    asked = here.key, shown.players, shown.since, here.system
    with st.spinner(WORKING):
        view = waited(lambda: changed_shown(*asked))
    render_table(view, CHANGED_COLUMNS, "who changed", ranges=True)


def look_section(here: context.Here, shown: Shown) -> None:
    """Show who needs a look, with reason and remedy."""
    st.header("Who needs a look", anchor=False)
    asked = here.key, here.store.data_version(), shown.players, shown.since, here.system
    with st.spinner("Looking through the shots for scatter and stuck devices"):
        view = waited(lambda: look_shown(*asked))
    render_look(view)


def unclaimed_section(here: context.Here, shown: Shown) -> None:
    """Show what is left to gain; of a large squad when it is asked for."""
    st.header("Left unclaimed", anchor=False)
    if doubt := here.fit.problems_of(*DISTANCE_PARTS):
        render_unclaimed(
            unclaimed_view(Unclaimed((), None, 0.0, (), doubt), shown.yardstick, here.system)
        )
        return
    number, asked = len(shown.players), f"kept unclaimed {here.key.fit_id}"
    if number > ALL_AT_ONCE and not st.session_state.get(asked):
        drawing.say(
            "What each player's first lever is worth is flown through every player's own cloud of "
            f"shots: some {max(1, round(number / 400))} minute or so for {number} players."
        )
        if not st.button("Work out everybody's first lever", key="ask unclaimed"):
            return
        st.session_state[asked] = True
    place = st.empty()

    def tell(done: int, of: int) -> None:
        place.progress(done / of, text=markdown(f"Levers of player {done} of {of}"))

    found = unclaimed_of(here, shown.players, shown.yardstick, tell)
    place.empty()
    render_unclaimed(unclaimed_view(found, shown.yardstick, here.system))


# --- drawing ---


def render_strips(strips: Strips) -> None:
    """Draw the levels over the season."""
    if not strips.rows:
        drawing.say("Nobody here has a session since then: pick an earlier day.")
        return
    low, high = strips.reach
    scale = f" Each strip spans {low:+.1f} to {high:+.1f} {strips.unit}."
    picture(strips_chart(strips), "season", STRIPS_CAPTION, strips_text(strips), STRIPS_HOW + scale)


def render_start(view: TableView) -> None:
    """Draw how far everybody came."""
    drawing.say(view.lead)
    if view.rows:
        drawing.table(START_COLUMNS, view.rows, "", ranges=True)
        drawing.quietly(START_NOTE)
        drawing.csv_button(view.csv, "start against now")


def render_every_trait(view: EveryTraitView, csv: Callable[[], bytes]) -> None:
    """Draw every trait's way at once, folded away; the file is made when it is asked for."""
    with st.expander("Every trait at once, start against now"):
        drawing.say(view.lead)
        if view.rows:
            drawing.table(view.columns, view.rows, "", ranges=True)
            drawing.csv_button(csv, "every trait start against now")


def render_look(view: LookView) -> None:
    """Draw who needs a look, and folded away what needs none."""
    drawing.say(view.lead)
    if view.rows:
        long_table(LOOK_COLUMNS, view.rows, "", view.csv, "who needs a look")
    if view.allowed:
        with st.expander("Read in another way than before, which the fit allows for"):
            st.markdown(
                "Others were read by both, so what the methods differ by is known and its doubt "
                "is in every answer. Nothing needs doing."
            )
            long_table(ALLOWED_COLUMNS, view.allowed, "", view.csv, "read in another way")


def render_table(
    view: TableView, columns: Sequence[str], key: str, *, ranges: bool = False
) -> None:
    """Draw a sentence and its table; ``ranges`` as for ``drawing.table``."""
    drawing.say(view.lead)
    if view.rows:
        long_table(columns, view.rows, "", view.csv, key, ranges=ranges)


def render_unclaimed(view: UnclaimedView) -> None:
    """Draw what is left to gain and by which levers."""
    drawing.problems(view.problems)
    drawing.say(view.lead)
    if not view.rows:
        return
    if view.common:
        drawing.say(view.common)
    if view.levers:
        drawing.table(LEVER_COLUMNS, view.levers, "")
    with st.expander("Player by player"):
        drawing.quietly(
            "Particular: what the player gets beyond an average player of this squad from the same "
            "lever."
        )
        long_table(UNCLAIMED_COLUMNS, view.rows, "", view.csv, "left unclaimed", ranges=True)
