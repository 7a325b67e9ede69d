"""The squad's page: levels, places and drills for one trait, drawn from its view."""

from datetime import date

import streamlit as st

from tracker.charts.rank import rank_chart
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.squad import last_changed
from tracker.errors import TrackerError
from tracker.pages import promises
from tracker.pages.player_view import modelled_traits
from tracker.pages.shared import address, context, drawing
from tracker.pages.shared.checks_view import unlike_model
from tracker.pages.shared.hand_over import paper_buttons
from tracker.pages.shared.phrases import start_of_sentence, trait_label
from tracker.pages.shared.picture import picture
from tracker.pages.squad_view import DRILL_COLUMNS, SquadView, level_columns, squad_view
from tracker.report.paper import Paper
from tracker.report.squad_paper import squad_paper

CAPTION = (
    "Lines: 90 % sure, thick 50 % sure; dashed: each player's target; right: places, 90 % sure."
)


def page() -> None:
    """Show the squad's page for the stored fit."""
    here = context.open_page()
    if here is None:
        return
    heading, chooser = st.columns([3, 1], vertical_alignment="top")
    with chooser:
        _, worked_on = last_changed(here.fit)
        traits = modelled_traits(here.fit)
        trait = address.kept_choice("What", traits, "trait", worked_on, trait_label)
    address.settle("Squad")
    try:
        table, drills = context.squad_tables_of(here.key, trait)
    except TrackerError as error:
        with heading:
            drawing.answer("Nobody can be compared yet.", str(error))
        return
    view = squad_view(here.fit, trait, table, drills, here.system)
    with heading:
        drawing.problems(view.problems)
        drawing.answer(view.headline, view.lead)
        drawing.unlike(unlike_model(here, (trait,)))
        drawing.elsewhere(here.fit.problems_elsewhere(trait))
    render(view)
    promises.section(here)
    paper_buttons(lambda: _paper(here, trait), "squad-report")


def _paper(here: context.Here, trait: str) -> Paper:
    """Return the squad's paper, compared on the trait that is shown."""
    table, drills = context.squad_tables_of(here.key, trait)
    found = [
        context.gains_of(here.key, player.name, (), TOWARD, here.system)
        for player in here.fit.players
    ]
    today = date.today()
    return squad_paper(here.fit, found, trait, table, drills, printed=today, system=here.system)


def render(view: SquadView) -> None:
    """Draw everything under the answer."""
    if view.problems:
        return
    if view.rows:
        how_to_read = (
            f"{start_of_sentence(view.first)} on top: {view.best}. Left: each player's tendency, "
            "thin line 90 % sure, thick line 50 % sure; dashed: that player's own target. Right: "
            "the places each player may hold, 90 % sure; where the lines overlap, the order is "
            "not settled."
        )
        chart = rank_chart(view.rows, view.label, view.positive, view.first)
        picture(chart, "ranks", CAPTION, view.picture_text, how_to_read)
    with st.expander("Levels, places and trends as a table"):
        drawing.table(level_columns(view.first), view.levels, "Nobody has a reading yet.")
        drawing.say(view.moving)
    st.header("Which drill works", anchor=False)
    st.markdown(
        "What each logged change did on average over the players who did it, with their ordinary "
        "drift taken out. Players who changed nothing are part of the comparison."
    )
    drawing.table(DRILL_COLUMNS, view.drills, "No change is logged yet.")
