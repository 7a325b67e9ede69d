"""The section 'Promised and found' of the squad's page, and a player's own promises."""

from collections.abc import Sequence

import streamlit as st

from tracker.charts.promise import promise_chart
from tracker.decisions.promises.found import PromiseBook, promise_book
from tracker.pages.promises_view import (
    BY_DRILL_COLUMNS,
    PROMISE_COLUMNS,
    PromisesView,
    player_promises,
    promises_view,
)
from tracker.pages.shared import context, drawing
from tracker.pages.shared.long_table import paged_table
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture

HOW_TO_READ = (
    "Each cross is one change that was promised something and has been read enough since: across "
    "what was promised toward the target, upward what was found, lines 90 % sure. On the dashed "
    "line both agree; under it less was found than promised."
)
CAPTION = "Across: promised; upward: found; 90 % sure each; on the dashed line both agree."


def section(here: context.Here) -> None:
    """Show what was promised of the squad's changes, and what was found."""
    st.header("Promised and found", anchor=False)
    with st.spinner("Setting what was promised against what was found"):
        book = _book(here)
    render(promises_view(book, here.system))


def render(view: PromisesView) -> None:
    """Draw the sentence, the picture and both tables."""
    drawing.say(view.sentence)
    if view.points:
        picture(promise_chart(view.points), "promises", CAPTION, view.picture_text, HOW_TO_READ)
    if view.drills:
        drawing.table(BY_DRILL_COLUMNS, view.drills, "", ranges=True)
    if view.rows:
        with st.expander("Every promise"):
            paged_table(PROMISE_COLUMNS, view.rows, "", "every promise", ranges=True)
    for note in view.notes:
        drawing.quietly(note)


def player_section(here: context.Here, player: str) -> None:
    """Say what was promised to a player, and what was found."""
    st.header("Promised and found", anchor=False)
    render_player(player_promises(_book(here), player, here.system))


def render_player(sentences: Sequence[str]) -> None:
    """Write a player's promises; names are the coach's own text, so no Markdown is read in them."""
    for sentence in sentences:
        st.text(sentence)


def _book(here: context.Here) -> PromiseBook:
    kept = context.promises_known(here.key)
    if not kept:
        return PromiseBook.empty()
    return _worked_out(here.key, here.store.data_version(), tuple(kept))


@once(8)
def _worked_out(key: context.FitKey, version: int, changes: tuple[int, ...]) -> PromiseBook:
    """Return the book of the promises of some changes; ``version`` counts changes of the data."""
    known = context.promises_known(key)
    promised = [key.called.promise(one) for number, one in known.items() if number in changes]
    players = dict.fromkeys(promise.change.player for promise in promised)
    carried = [s for name in players for s in context.shots_of_player(key, version, name)]
    return promise_book(context.stored_fit(key), promised, carried)
