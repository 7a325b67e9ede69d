"""The section of the trust page on the chances that earlier fits gave, and what they came to."""

import streamlit as st

from tracker.charts.chances import chance_chart
from tracker.decisions.checks.chance_words import (
    BY_ITS_LIGHTS,
    CHANCE_COLUMNS,
    INTERVAL_COLUMNS,
    KIND_COLUMNS,
)
from tracker.decisions.checks.chances import ChanceBook
from tracker.fits.earlier_fits import chances_of
from tracker.pages.chances_view import ChancesView, chances_view
from tracker.pages.shared import context, drawing
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture

CAPTION = "Across: chance given; upward: share that came right, 90 % sure; dashed: as said."
HOW_TO_READ = (
    "Each dot is the chances of one size that earlier fits gave: which way a trait moved, whether "
    "something changed that nobody logged, which way a drill acts. Under the dashed line fewer "
    f"came right than was said. {BY_ITS_LIGHTS}"
)
HOW_TO_READ_TABLES = (
    "Counted is what was read more of since. Of several chances about one player, or about one "
    "change on average, all come right or wrong together, so the range goes by how many there are "
    "of those. Chances are said of the likelier side, so they start at 50 in 100."
)


def section(here: context.Here) -> None:
    """Show what the chances that earlier fits gave have come to."""
    st.header("Have the chances it gave come true?", anchor=False)
    with st.spinner("Reading the earlier fits"):
        book = _book(here.key.by_name, here.store.data_version())
    render(chances_view(book))


def render(view: ChancesView) -> None:
    """Draw the sentences, the picture and the tables."""
    drawing.say(view.sentence)
    if not view.points:
        return
    picture(chance_chart(view.points), "chances", CAPTION, view.picture_text, HOW_TO_READ)
    if view.intervals_sentence:
        drawing.say(view.intervals_sentence)
    drawing.say(BY_ITS_LIGHTS)
    with st.expander("Chances by size, by what they were given for, and intervals"):
        drawing.table(CHANCE_COLUMNS, view.by_size, "")
        drawing.table(KIND_COLUMNS, view.by_kind, "")
        drawing.table(INTERVAL_COLUMNS, view.intervals, "No interval.", ranges=True)
        st.caption(HOW_TO_READ_TABLES)


@once(8)
def _book(key: context.FitKey, version: int) -> ChanceBook:
    """Return the book of a fit; ``version`` counts changes of the data, promises among them."""
    return chances_of(context.store_of(key.url), context.stored_fit(key))
