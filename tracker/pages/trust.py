"""The trust page: how far the fit holds, on what that rests, and what earlier fits believed."""

import streamlit as st

from tracker.decisions.checks.trust import PART_COLUMNS
from tracker.decisions.history_words import MOVE_COLUMNS
from tracker.errors import NoFit
from tracker.pages import chances
from tracker.pages.constants_view import CONSTANT_COLUMNS
from tracker.pages.history_view import (
    FIT_COLUMNS,
    HOW_TO_READ_FITS,
    HOW_TO_READ_MOVES,
    ComparedView,
    HistoryView,
    compared_fits,
    compared_view,
    history_view,
    pair_words,
)
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.checks_view import (
    CHECK_COLUMNS,
    HOW_TO_READ_CHECKS,
    HOW_TO_READ_PRIORS,
    PRIOR_COLUMNS,
    ChecksView,
    checks_of,
    checks_view,
)
from tracker.pages.shared.context import Here
from tracker.pages.shared.long_table import paged_table
from tracker.pages.shared.once import once
from tracker.pages.trust_view import (
    HOW_TO_READ_EVIDENCE,
    HOW_TO_READ_LEVERS,
    HOW_TO_READ_PUBLISHED,
    HOW_TO_READ_SAMPLER,
    LEVER_COLUMNS,
    MADE_COLUMNS,
    PUBLISHED_COLUMNS,
    REQUIREMENT_COLUMNS,
    TrustView,
    trust_view,
)
from tracker.units import System

CHOOSE_TWO = "choose two neighbouring fits"


def page() -> None:
    """Show the trust page for the stored fit."""
    here = opening.open_page()
    if here is None:
        return
    address.settle("Trust")
    view, checks = _views(here.key, here.system)
    drawing.answer(view.headline, view.lead)
    render(view, checks)
    chances.section(here)
    show_history(here)


@once(16)
def _views(key: context.FitKey, system: System) -> tuple[TrustView, ChecksView]:
    checks = checks_of(key)
    return trust_view(context.stored_fit(key), checks, system), checks_view(checks, system)


def render(view: TrustView, checks: ChecksView) -> None:
    """Draw everything under the answer but the history."""
    if view.doubts:
        drawing.warn_bullets(view.doubts)
    if view.care:
        drawing.note_bullets(view.care)
    st.header("How this fit was worked out", anchor=False)
    drawing.say(view.sampled)
    with st.expander("Every part with the sampler's own checks"):
        drawing.table(PART_COLUMNS, view.parts, "")
        st.caption(HOW_TO_READ_SAMPLER)
    st.header("Does the model look like your shots?", anchor=False)
    drawing.say(checks.headline)
    with st.expander("Every comparison of what was seen with what the model makes up"):
        drawing.table(CHECK_COLUMNS, checks.checks, "", ranges=True)
        st.caption(HOW_TO_READ_CHECKS)
    with st.expander("What the model took for possible before the first shot"):
        drawing.table(PRIOR_COLUMNS, checks.priors, "", ranges=True)
        st.caption(HOW_TO_READ_PRIORS)
    st.header("Has it been right where the truth is known?", anchor=False)
    drawing.say(view.evidence)
    if view.missed:
        st.markdown("What the others mean:")
        drawing.bullets(view.missed)
    with st.expander("Every requirement on verdicts"):
        drawing.table(REQUIREMENT_COLUMNS, view.requirements, "")
        st.caption(HOW_TO_READ_EVIDENCE)
    drawing.say(view.levers)
    with st.expander("Every requirement on first levers"):
        drawing.table(LEVER_COLUMNS, view.lever_requirements, "")
        st.caption(HOW_TO_READ_LEVERS)
    drawing.say(view.published)
    with st.expander("Every published value"):
        drawing.table(PUBLISHED_COLUMNS, view.checks, "")
        st.caption(HOW_TO_READ_PUBLISHED)
    st.header("The physics", anchor=False)
    drawing.say(view.physics)
    if view.constants:
        with st.expander("The constants of impact and flight, learned and published"):
            drawing.table(CONSTANT_COLUMNS, view.constants, "", ranges=True)
    with st.expander("What this fit was made of: seed, versions, data"):
        drawing.table(MADE_COLUMNS, view.made, "")


def show_history(here: Here) -> None:
    """Draw what earlier fits believed; two neighbours are read only when asked for."""
    fits = [f for f in here.store.fits() if f.club == here.fit.info.club]
    view = history_view(fits)
    render_history(view)
    if not view.pairs:
        return
    offered = {CHOOSE_TWO: None, **{pair_words(pair): pair for pair in view.pairs}}
    chosen = offered[address.kept_choice("What changed, and why", list(offered), "history")]
    if chosen is None:
        return
    try:
        with st.spinner("Reading both fits ..."):
            found = compared_fits(*context.keys_alike(here, chosen))
    except NoFit as error:
        drawing.say(str(error))
        return
    render_compared(compared_view(found, here.system))


def render_history(view: HistoryView) -> None:
    """Draw the list of kept fits."""
    st.header("What was believed before", anchor=False)
    drawing.say(view.sentence)
    with st.expander("Every kept fit"):
        drawing.table(FIT_COLUMNS, view.fits, "")
        st.caption(HOW_TO_READ_FITS)


def render_compared(view: ComparedView) -> None:
    """Draw what changed between two fits, and why."""
    drawing.say("", view.sentence)
    # names in these sentences are shown as they were typed, whatever they mean to Markdown
    st.text("\n".join(view.causes))
    if view.moves:
        with st.expander("Every level that moved, and the reason"):
            paged_table(MOVE_COLUMNS, view.moves, "", "levels that moved")
            st.caption(HOW_TO_READ_MOVES)
