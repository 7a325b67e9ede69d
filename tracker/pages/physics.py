"""The physics page: how well the published or learned physics fits this squad's balls."""

import streamlit as st

from tracker.charts.agreement import agreement_chart
from tracker.pages.constants_view import CONSTANT_COLUMNS
from tracker.pages.physics_view import MISS_COLUMNS, PhysicsView, physics_view
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture
from tracker.units import System

HOW_TO_READ_AGREEMENT = (
    "Each dot is one session's average: across, what the physics predicts from the club alone; up, "
    "what was read, with a 90 % line for the luck of few shots. On the dashed line both agree; "
    "above it more was read than predicted."
)
AGREEMENT_CAPTION = "A dot a session, 90 % sure; on the dashed line it was read as predicted."


def page() -> None:
    """Show the physics page for the stored fit."""
    here = opening.open_page()
    if here is None:
        return
    address.settle("Physics")
    view = _view(here.key, here.system, context.ball_shots(here))
    drawing.problems(view.problems)
    drawing.answer(view.headline, view.lead)
    render(view)


@once(16)
def _view(key: context.FitKey, system: System, ball_shots: int) -> PhysicsView:
    return physics_view(context.stored_fit(key), system, ball_shots)


def render(view: PhysicsView) -> None:
    """Draw everything under the answer."""
    if not view.usable:
        return
    if view.wanted:
        st.header("What to record", anchor=False)
        drawing.bullets(view.wanted)
        return
    if view.panels:
        columns = st.columns(2)
        for place, (panel, said) in enumerate(zip(view.panels, view.panel_texts, strict=True)):
            with columns[place % 2]:
                chart, key = agreement_chart(panel), f"agreement {place}"
                picture(chart, key, AGREEMENT_CAPTION, said, HOW_TO_READ_AGREEMENT)
        drawing.table(MISS_COLUMNS, view.misses, "", ranges=True)
    if view.remarks:
        drawing.bullets(view.remarks)
    st.header("What the balls taught", anchor=False)
    drawing.table(
        CONSTANT_COLUMNS, view.constants, "Nothing beyond the flight's own numbers.", ranges=True
    )
    if view.flight:
        with st.expander("The six numbers of the flight (they move together)"):
            drawing.table(CONSTANT_COLUMNS, view.flight, "", ranges=True)
