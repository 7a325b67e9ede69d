"""The part of the squad's page that says who belongs to which group and coach from now on."""

from collections.abc import Mapping, Sequence

import streamlit as st

from tracker.errors import TrackerError
from tracker.pages.shared import context, drawing
from tracker.plain import line
from tracker.records import Label

SOURCE = (
    "The columns group and coach of a shot log say this too; the newest word counts. A field left "
    "empty leaves what was said before."
)
REFUSED = "group refused"
"""What was wrong with the latest words, kept for the run after it."""


def section(here: context.Here, players: Sequence[str]) -> None:
    """Ask for the group and the coach of some players; what is said holds from now on."""
    refused = st.session_state.pop(REFUSED, "")
    if refused:
        drawing.refused(refused)
    with st.popover("Say group and coach", type="tertiary"):
        drawing.quietly(SOURCE)
        with st.form("groups", border=False, clear_on_submit=True):
            whom = st.multiselect("Players", players, format_func=line)
            group = st.text_input("Group from now on", max_chars=80)
            coach = st.text_input("Coach from now on", max_chars=80)
            none = st.checkbox("Neither group nor coach any longer")
            if st.form_submit_button("Keep", type="primary"):
                _keep(here, whom, said_of(group, coach, none=none))


def said_of(group: str, coach: str, *, none: bool) -> Mapping[Label, str | None]:
    """Return what was said in the two fields; an empty one says nothing."""
    if none:
        return {"group": None, "coach": None}
    said: dict[Label, str | None] = {"group": group.strip(), "coach": coach.strip()}
    return {label: word for label, word in said.items() if word}


def _keep(here: context.Here, players: Sequence[str], said: Mapping[Label, str | None]) -> None:
    if not players or not said:
        st.session_state[REFUSED] = (
            "Nothing was kept: choose players, and say a group, a coach, or neither any longer."
        )
        st.rerun()
    try:
        for name in players:
            here.store.set_labels(here.called.stored(name), said)
    except TrackerError as error:
        st.session_state[REFUSED] = f"Nothing more was kept: {error}."
    st.rerun()
