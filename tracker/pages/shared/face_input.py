"""The picture that takes a click or a key press as a place: mounted in the page."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import streamlit as st
from streamlit.components.v2 import component

from tracker.charts.clickable import Clickable

_PARTS = Path(__file__).with_name("picker")
_NAMES = ("html", "css", "js")
_HTML, _CSS, _JS = ((_PARTS / f"picker.{n}").read_text(encoding="utf-8") for n in _NAMES)

_PICKER = component("drive_progress_picker", html=_HTML, css=_CSS, js=_JS)


@dataclass(frozen=True, slots=True)
class Place:
    """A place clicked, in the picture's units, to the right and down."""

    x: float
    y: float


def picture_to_click(picture: Clickable, key: str, on_place: Callable[[Place], None]) -> None:
    """Draw a picture and call ``on_place`` once for each click or press of Enter on it.

    The call comes before the page is drawn again, so that the page shows what it led to.
    """

    def heard() -> None:
        place = _fresh(key, st.session_state.get(key))
        if place is not None:
            on_place(place)

    _PICKER(key=key, data=picture.as_data(), on_place_change=heard)


def _fresh(key: str, state: object) -> Place | None:
    """Return the place just clicked; None where it has been dealt with already."""
    told = cast(Mapping[str, Any], state or {}).get("place")
    if not told:
        return None
    seen = f"seen {key}"
    if st.session_state.get(seen) == told["id"]:
        return None
    st.session_state[seen] = told["id"]
    return Place(float(told["x"]), float(told["y"]))
