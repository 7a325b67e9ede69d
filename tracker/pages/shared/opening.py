"""How a page opens: the side bar, and what to do first where there is nothing to show."""

import functools
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import streamlit as st

from tracker.errors import StoreUnavailable
from tracker.fits import background
from tracker.fits.kept_fits import not_stored, not_stored_words
from tracker.pages.shared import address, belief, drawing
from tracker.pages.shared.context import (
    INITIALS,
    FitKey,
    Here,
    callings,
    latest_fit,
    latest_key,
    readable_fit,
    store_of,
    stored_fit,
)
from tracker.pages.shared.fit_time import before_words, expected_seconds, under_way_words
from tracker.pages.shared.freshness import since_fit
from tracker.pages.shared.phrases import counted
from tracker.plain import markdown
from tracker.store.engine import default_url
from tracker.store.rows import FitSummary
from tracker.store.store import Store
from tracker.units import SYSTEMS, System

POLL_SECONDS = 1.5

UNIT_NAMES: dict[str, str] = {"yards": "yards and mph", "metres": "metres and km/h"}


@dataclass(frozen=True, slots=True)
class StoredCounts:
    """How much is stored now and how much of it the fit has seen."""

    players: int
    sessions: int
    shots: int
    stale: str


def open_page(*, earlier: bool = False) -> Here | None:
    """Draw the side bar and return where the page stands; None after saying what to do first.

    With ``earlier`` the reader may look at the page as an earlier fit had it.
    """
    opened = open_store()
    if opened is None:
        return None
    url, store = opened
    latest = latest_fit(store)
    system = side_bar(url, store, latest)
    if not store.rows_by_table()["shot"]:
        _nothing_stored()
        return None
    if latest is None:
        callings(store)
        _nothing_fitted()
        return None
    asked = belief.asked_key(url, store, latest) if earlier else FitKey(url, latest.id)
    by_name = readable_fit(asked)
    if by_name is None:
        _fitted_too_long_ago()
        return None
    called = callings(store, by_name)
    key = replace(asked, called=called.of({player.name for player in by_name.players}))
    if key.earlier:
        belief.say(by_name)
    gone = not_stored_words([called.shown(name) for name in not_stored(store, by_name)])
    if gone:
        st.sidebar.warning(markdown(gone))
    return Here(key, store, stored_fit(key), system)


def open_store() -> tuple[str, Store] | None:
    """Return the database's address and the open database; None after saying why not."""
    url = default_url()
    try:
        return url, store_of(url)
    except StoreUnavailable as error:
        drawing.answer("The database cannot be opened.", str(error))
        return None


def side_bar(url: str, store: Store, latest: FitSummary | None) -> System:
    """Draw the side bar: units, names or initials, what is stored, and how old the fit is."""
    with st.sidebar:
        chosen = address.kept_choice("Units", SYSTEMS, "units", shown=UNIT_NAMES.__getitem__)
        address.kept_switch("Initials instead of names", INITIALS)
        held = _held(url, store.data_version(), latest)
        st.markdown(
            f"**Stored**  \n{counted(held.players, 'player')}, "
            f"{counted(held.sessions, 'session')}, {counted(held.shots, 'shot')}"
        )
        if latest is not None:
            when = latest.created_at.astimezone(UTC)
            st.markdown(f"**Fit {latest.id:d}**  \n{when:%d %b %Y, %H:%M} UTC")
        if held.stale:
            drawing.note(held.stale)
        if held.shots:
            expected = expected_seconds(latest, held.sessions)
            _fit_again(url, store, "Fit again" if latest else "Fit", expected)
        drawing.quietly(f"Database: {store.address}")
    return "metres" if chosen == "metres" else "yards"


def work_out_counts() -> None:
    """Work out ahead what is stored and how it differs from what the latest fit has seen."""
    key = latest_key()
    if key is not None:
        store = store_of(key.url)
        _held(key.url, store.data_version(), latest_fit(store))


def _held(url: str, version: int, latest: FitSummary | None) -> StoredCounts:
    """Count what is stored and say how it differs from what the fit has seen."""
    rows = store_of(url).rows_by_table()
    counts = rows["player"], rows["practice_session"], rows["shot"]
    if latest is None:
        return StoredCounts(*counts, stale="")
    return StoredCounts(*counts, stale=since_fit(store_of(url), version, rows["shot"], latest))


def _fit_again(url: str, store: Store, label: str, expected: float | None) -> None:
    """Draw the button, or the running fit's progress, without holding up the page.

    ``expected`` is how long a fit will take, in seconds.
    """
    now = background.progress(store)
    active = now is not None and now.active
    draw = st.fragment(
        functools.partial(_draw_progress, store, active, expected),
        run_every=POLL_SECONDS if active else None,
    )
    draw()
    if not active and st.button(markdown(label), width="stretch", key="fit again"):
        background.start_fit(store, url)
        st.rerun()
    if not active:
        drawing.quietly(before_words(expected))


def _draw_progress(store: Store, was_active: bool, expected: float | None) -> None:
    now = background.progress(store)
    if now is None:
        return
    if now.active:
        when = now.begun, datetime.now(UTC)
        words = under_way_words(now.phase, now.share, *when, expected)
        st.progress(now.share or 0.0, text=markdown(words))
    elif was_active:
        st.rerun()
    elif now.state == "failed":
        drawing.refused(now.message or "The last fit failed: start it again.")


def _nothing_stored() -> None:
    st.title("No shots yet.", anchor=False)
    st.markdown(
        "Load a shot log on the **Load** page, or see the page at work on an invented academy: "
        "run `drive-progress demo` in a terminal."
    )


def _nothing_fitted() -> None:
    st.title("Shots are stored, but nothing has been fitted yet.", anchor=False)
    st.markdown(
        "Press **Fit** in the side bar; it runs beside the page and says what it is doing. In a "
        "terminal: `drive-progress fit`."
    )


def _fitted_too_long_ago() -> None:
    st.title("The last fit was made by an earlier version.", anchor=False)
    st.markdown(
        "It cannot be read any more; the shots can. Press **Fit again** in the side bar, or in a "
        "terminal run `drive-progress fit`."
    )
