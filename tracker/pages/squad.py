"""The squad's page: levels, places and drills for one trait, drawn from its view."""

from collections.abc import Sequence
from datetime import date

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tracker.charts.rank import rank_chart
from tracker.decisions.board.filters import Asked, players_left
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.squad import last_changed
from tracker.errors import TrackerError
from tracker.fits.beliefs import belief_words
from tracker.pages import board, groups, promises
from tracker.pages.player_view import modelled_traits
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.checks_view import unlike_model
from tracker.pages.shared.hand_over import paper_buttons
from tracker.pages.shared.long_table import FEW, PAGE, long_table, page_of
from tracker.pages.shared.once import once
from tracker.pages.shared.phrases import trait_label
from tracker.pages.shared.picture import picture
from tracker.pages.shared.yardsticks import kept_yardstick
from tracker.pages.squad_view import DRILL_COLUMNS, SquadView, level_columns, squad_view
from tracker.records import Labels
from tracker.report.paper import Paper, with_about
from tracker.report.squad_paper import squad_paper
from tracker.units import System
from tracker.words import start_of_sentence

CAPTION = (
    "Lines: 90 % sure, thick 50 % sure; dashed: each player's target; right: places, 90 % sure."
)


def page() -> None:
    """Show the squad's page for the stored fit."""
    here = opening.open_page(earlier=True)
    if here is None:
        return
    heading, chooser = st.columns([3, 1], vertical_alignment="top")
    with chooser:
        _, worked_on = last_changed(here.fit)
        traits = modelled_traits(here.fit)
        trait = address.kept_choice("What", traits, "trait", worked_on, trait_label)
    players, since = filtered(here)
    address.settle("Squad")
    if not players:
        with heading:
            drawing.answer(
                "Nobody is left by these filters.", "Take one of them off to see players again."
            )
        return
    shown = _places(here, heading, players, trait, since)
    board.changed_section(here, shown)
    board.look_section(here, shown)
    board.unclaimed_section(here, shown)
    promises.section(here)
    paper_buttons(lambda: _paper(here, trait), "squad-report")


def _places(
    here: context.Here,
    heading: DeltaGenerator,
    players: tuple[str, ...],
    trait: str,
    since: date | None,
) -> board.Shown:
    """Show who stands where in a trait and how each came there; return what the page is about."""
    try:
        with heading, st.spinner("Working out where each player's best level lies"):
            view = _view(here.key, trait, players, since, here.system)
    except TrackerError as error:
        with heading:
            drawing.answer("Nobody can be compared yet.", str(error))
        return board.Shown(players, (), trait, since, kept_yardstick())
    with heading:
        drawing.problems(view.problems)
        drawing.answer(view.headline, view.lead)
        drawing.unlike(unlike_model(here, (trait,)))
        drawing.elsewhere(here.fit.problems_elsewhere(trait))
    places = page_of([row.player for row in view.rows], "players")
    on_page = tuple(view.rows[place].player for place in places)
    shown = board.Shown(players, on_page, trait, since, kept_yardstick())
    render(view, places)
    board.season_section(here, shown)
    render_drills(view)
    return shown


@once(32)
def _view(
    key: context.FitKey,
    trait: str,
    players: tuple[str, ...],
    since: date | None,
    system: System,
) -> SquadView:
    table, drills = context.squad_tables_of(key, trait, players, since)
    return squad_view(context.stored_fit(key), trait, table, drills, system)


def filtered(here: context.Here) -> tuple[tuple[str, ...], date | None]:
    """Ask whom to look at and since when; return the players left, in the order of the fit."""
    labels = context.labels(here)
    days = [here.fit.sessions(p.name) for p in here.fit.players]
    first, last = min(d[0] for d in days).date(), max(d[-1] for d in days).date()
    columns = st.columns(4, vertical_alignment="bottom")
    words = {p.name: labels.get(p.name, Labels()) for p in here.fit.players}
    with columns[0]:
        group = _one_of("Group", "group", [w.group for w in words.values()])
    with columns[1]:
        coach = _one_of("Coach", "coach", [w.coach for w in words.values()])
    with columns[2]:
        handed = _one_of("Handed", "handed", [p.handed for p in here.fit.players])
    with columns[3]:
        since = address.kept_day("Since", "since", first, last)
    if here.may_store:
        groups.section(here, tuple(words))
    asked = Asked(group or None, coach or None, handed or None, since)
    return players_left(here.fit, words, asked), since


def _one_of(label: str, key: str, words: Sequence[str | None]) -> str:
    options = ["", *sorted({word for word in words if word})]
    return address.kept_choice(label, options, key, shown=lambda word: word or "everybody")


def _paper(here: context.Here, trait: str) -> Paper:
    """Return the squad's paper, compared on the trait that is shown."""
    table, drills = context.squad_tables_of(here.key, trait)
    found = [
        context.gains_of(here.key, player.name, (), TOWARD, here.system)
        for player in here.fit.players
    ]
    today = date.today()
    paper = squad_paper(here.fit, found, trait, table, drills, printed=today, system=here.system)
    return with_about(paper, belief_words(here.fit)) if here.key.earlier else paper


def work_out_ahead() -> None:
    """Work out ahead what the page shows to a reader who has chosen nothing."""
    key = context.latest_key()
    if key is None:
        return
    fit = context.stored_fit(key)
    players = tuple(player.name for player in fit.players)
    traits, worked_on = modelled_traits(fit), last_changed(fit)[1]
    trait = worked_on if worked_on is not None and worked_on in traits else traits[0]
    rows = _view(key, trait, players, None, board.AHEAD_IN).rows
    page = tuple(row.player for row in (rows if len(rows) <= FEW else rows[:PAGE]))
    board.ahead(key, board.Shown(players, page, trait, None, TOWARD))


def render(view: SquadView, places: Sequence[int] | None = None) -> None:
    """Draw the places; ``places`` are the rows that are shown, all of them unless given."""
    if view.problems:
        return
    shown = range(len(view.rows)) if places is None else places
    if view.rows:
        how_to_read = (
            f"{start_of_sentence(view.first)} on top: {view.best}. Left: each player's tendency, "
            "thin line 90 % sure, thick line 50 % sure; dashed: that player's own target. Right: "
            "the places each player may hold, 90 % sure; where the lines overlap, the order is "
            "not settled."
        )
        drawing.say(view.yardstick)
        rows = [view.rows[place] for place in shown]
        if rows:
            chart = rank_chart(rows, view.label, view.positive, view.first, of=len(view.rows))
            in_words = "; ".join(view.in_words[place] for place in shown)
            picture(chart, "ranks", CAPTION, in_words, how_to_read)
    with st.expander("Levels, places and trends as a table"):
        levels = [view.levels[place] for place in shown]
        drawing.table(level_columns(view.first), levels, "Nobody has a reading yet.", ranges=True)
        drawing.say(view.moving)
        drawing.csv_button(view.levels_csv, "levels and places")


def render_drills(view: SquadView) -> None:
    """Draw which drill works."""
    if view.problems:
        return
    st.header("Which drill works", anchor=False)
    st.markdown(
        "What each logged change did on average over the players who did it, with their ordinary "
        "drift taken out. Players who changed nothing are part of the comparison."
    )
    long_table(
        DRILL_COLUMNS,
        view.drills,
        "No change is logged yet.",
        view.drills_csv,
        "drills",
        ranges=True,
    )
