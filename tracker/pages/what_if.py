"""The section 'What if' of the coach's page: sliders for club, tee, air and speed, one answer."""

from typing import cast

import streamlit as st

from tracker.decisions.distance.what_if import WhatIf, WhatIfAnswer, what_if
from tracker.errors import TrackerError
from tracker.pages.shared import context, drawing
from tracker.pages.shared.once import once
from tracker.pages.shared.waiting import waited
from tracker.pages.what_if_view import (
    AIM_COLUMNS,
    EFFECT_COLUMNS,
    NOTHING_ASKED,
    WhatIfView,
    change_of,
    sliders,
    what_if_view,
)
from tracker.plain import markdown
from tracker.units import System

KEPT = "kept what if"
"""What is asked, in stored units: it stands when the units change or the page is left."""


@st.fragment
def section(here: context.Here, player: str) -> None:
    """Ask what to change and say what it would do to the player's drives."""
    st.header("What if", anchor=False)
    said = st.container()
    stood, places = cast(WhatIf, st.session_state.get(KEPT, NOTHING_ASKED)), {}
    columns = st.columns(3)
    for place, slider in enumerate(sliders(here.system)):
        key = f"what if {slider.field} {here.system}"
        if key not in st.session_state:
            st.session_state[key] = slider.shown(float(getattr(stood, slider.field)))
        places[slider.field] = columns[place % 3].slider(
            markdown(slider.label),
            slider.low,
            slider.high,
            step=slider.step,
            format="%.1f" if slider.step < 1 else "%.0f",
            key=key,
        )
    change = st.session_state[KEPT] = change_of(places, here.system, stood)
    with said:
        if not change.asked:
            drawing.say(f"Move a slider to see what it would do to {player}'s drives.")
            return
        try:
            with st.spinner("Flying the same drives with the change"):
                asked = here.key, here.store.data_version(), player, change, here.system
                found = waited(lambda: answered(*asked))
        except TrackerError as error:
            drawing.say(str(error))
            return
        render(what_if_view(found, here.system))


def render(view: WhatIfView) -> None:
    """Draw the sentence, where the best window goes, and the rest on demand."""
    drawing.say(view.shift, view.sentence)
    with st.expander("What else it changes, and what is taken for granted"):
        drawing.table(EFFECT_COLUMNS, view.effects, "", ranges=True)
        drawing.table(AIM_COLUMNS, view.aims, "")
        if view.notes:
            drawing.bullets(view.notes)


@once(256)
def answered(
    key: context.FitKey, version: int, player: str, change: WhatIf, system: System
) -> WhatIfAnswer:
    """Return what a change would do; ``version`` counts changes of the stored data."""
    shots = context.squad_shots(key, version)
    return what_if(context.stored_fit(key), player, change, shots, system=system)
