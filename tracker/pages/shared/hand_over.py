"""How a page offers its paper: two files to take along, each made when it is asked for."""

from collections.abc import Callable
from functools import partial

import streamlit as st

from tracker.plain import markdown
from tracker.report.handing_over import as_file
from tracker.report.paper import Paper


def paper_buttons(made: Callable[[], Paper], name: str) -> None:
    """Offer a paper as PDF and as HTML; ``made`` works it out, ``name`` begins the files' names."""
    with st.popover("On paper", icon=":material/print:"):
        st.caption("A page to print or to send. It takes a few seconds to make.")
        for label, ending, mime in (
            ("For print (PDF)", ".pdf", "application/pdf"),
            ("For the screen (HTML)", ".html", "text/html"),
        ):
            st.download_button(
                markdown(label),
                partial(_content, made, ending),
                file_name=f"{name}{ending}",
                mime=mime,
                on_click="ignore",
                key=f"{name} as {ending}",
                width="stretch",
            )


def _content(made: Callable[[], Paper], ending: str) -> bytes:
    return as_file(made(), ending).content
