"""The picture that takes a click or a key press as a place: mounted in the page."""

from collections.abc import Callable, Iterator, Mapping
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
    """A place clicked, in the picture's units, to the right and down, and whose picture it was."""

    x: float
    y: float
    whose: str = ""


def picture_to_click(picture: Clickable, key: str, on_place: Callable[[Place], None]) -> None:
    """Draw a picture and call ``on_place`` once for each click or press of Enter on it, in order.

    The browser sends every click that it does not know to have been heard, so that none is lost
    when several come at once. The calls come before the page is drawn again, so that the page
    shows what they led to.
    """

    def heard() -> None:
        for place in _fresh(key, st.session_state.get(key)):
            on_place(place)

    data = {**picture.as_data(), "heard": dict(_heard(key))}
    _PICKER(key=key, data=data, on_clicks_change=heard)


def _fresh(key: str, state: object) -> Iterator[Place]:
    """Give the places not dealt with yet, first to last."""
    told = cast(Mapping[str, Any], state or {}).get("clicks")
    if not told:
        return
    heard, sender = _heard(key), str(told["sender"])
    for click in told["places"]:
        if click["number"] > heard.get(sender, 0):
            heard[sender] = click["number"]
            yield Place(float(click["x"]), float(click["y"]), str(click["whose"]))


def _heard(key: str) -> dict[str, int]:
    """Return the number of the last click dealt with, by the picture that sent it."""
    return cast(dict[str, int], st.session_state.setdefault(f"heard {key}", {}))
