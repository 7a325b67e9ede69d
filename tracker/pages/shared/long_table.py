"""How a table that may be long is put on a page: searched, in pages, and handed over whole."""

from collections.abc import Sequence

import streamlit as st

from tracker.pages.shared import drawing
from tracker.plain import line, markdown

FEW = 24
"""Rows, or players in a picture, up to which all are shown."""
PAGE = 12
"""Of more than a few, how many are shown at once: a browser draws a cell in about a millisecond,
and draws all of them before the first picture."""


def page_of(labels: Sequence[str], key: str, what: str = "Find a player") -> tuple[int, ...]:
    """Ask which of many to show; return their places. All of them, unasked, where they are few.

    ``labels`` are what the search looks in, one each; ``key`` names the widgets.
    """
    if len(labels) <= FEW:
        return tuple(range(len(labels)))
    left, right = st.columns([2, 1], vertical_alignment="bottom")
    sought = left.text_input(markdown(what), key=f"find {key}")
    places = matching(labels, sought)
    if not places:
        st.text(line(f"Nothing here holds {sought!r}."))
    if len(places) <= FEW:
        return places
    pages = -(-len(places) // PAGE)
    chosen = right.selectbox(
        "Shown",
        range(pages),
        format_func=lambda page: shown_words(page, len(places)),
        key=f"page {key} of {pages}",
    )
    return places[chosen * PAGE : (chosen + 1) * PAGE]


def matching(labels: Sequence[str], sought: str) -> tuple[int, ...]:
    """Return the places of the labels that hold what is sought, whatever its case."""
    wanted = sought.strip().casefold()
    return tuple(i for i, label in enumerate(labels) if wanted in label.casefold())


def shown_words(page: int, of: int) -> str:
    """Return which of many a page shows."""
    return f"{page * PAGE + 1} to {min((page + 1) * PAGE, of)} of {of}"


def long_table(
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    empty: str,
    csv: bytes,
    key: str,
    *,
    ranges: bool = False,
) -> None:
    """Show a table in pages with a search over its cells, and offer the whole as CSV.

    ``ranges`` as for ``drawing.table``.
    """
    paged_table(columns, rows, empty, key, ranges=ranges)
    if rows:
        drawing.csv_button(csv, key)


def paged_table(
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    empty: str,
    key: str,
    *,
    ranges: bool = False,
) -> None:
    """Show a table in pages with a search over its cells, where its file stands elsewhere."""
    labels = ["\n".join(row) for row in rows]
    shown = page_of(labels, key, "Find in this table")
    if shown or not rows:
        drawing.table(columns, [rows[place] for place in shown], empty, ranges=ranges)
