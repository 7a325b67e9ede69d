"""Which kept fit a page shows: the latest, or an earlier one that the reader asked for."""

from datetime import UTC

import streamlit as st

from tracker.fits.beliefs import belief_words
from tracker.pages.shared import address, drawing
from tracker.pages.shared.context import FitKey, readable_fit
from tracker.plain import markdown
from tracker.posterior import Fit
from tracker.store.rows import FitSummary
from tracker.store.store import Store

CHOICE = "fit"
"""The choice, by the name of its parameter; the number of a fit, empty for the latest."""
NOW = ""


def asked_key(url: str, store: Store, latest: FitSummary) -> FitKey:
    """Ask in the side bar, where there are earlier fits, as of which of them the page is wanted.

    A fit that cannot be read any more is said, and the latest is shown.
    """
    now = FitKey(url, latest.id)
    fits = [f for f in store.fits() if f.club == latest.club and f.id != latest.id]
    if not fits and not address.kept(CHOICE):
        return now
    shown = {NOW: "now", **{str(f.id): option_words(f) for f in fits}}
    with st.sidebar:
        number = address.kept_choice(
            "As believed on", list(shown), CHOICE, NOW, shown=shown.__getitem__
        )
    if number == NOW:
        return now
    earlier = FitKey(url, int(number), earlier=True)
    if readable_fit(earlier) is None:
        drawing.say(
            f"Fit {number} was made by an earlier version and cannot be read any more: this is "
            "what is believed now."
        )
        return now
    return earlier


def option_words(fit: FitSummary) -> str:
    """Return how an earlier fit is offered."""
    return f"{fit.created_at.astimezone(UTC):%d %b %Y, %H:%M} (fit {fit.id})"


def say(fit: Fit) -> None:
    """Say above the page that it shows an old belief, and offer the way back."""
    said = f"{belief_words(fit)} Nothing can be stored from this page."
    with st.container(horizontal=True, vertical_alignment="center"):
        st.warning(markdown(said))
        if st.button("Back to now"):
            address.choose(CHOICE, NOW)
            st.rerun()
