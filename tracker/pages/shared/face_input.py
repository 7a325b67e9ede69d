"""The picture that takes a click or a key press as a place: mounted in the page."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
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


@dataclass(eq=False, slots=True)
class _Ledger:
    """How many clicks of each picture have been dealt with."""

    heard: dict[str, int] = field(default_factory=dict)
    one_at_a_time: Lock = field(default_factory=Lock)


def take_clicks(key: str, on_place: Callable[[Place], None]) -> None:
    """Call ``on_place`` once for each new click or press of Enter on a picture, in order.

    To be called before anything is drawn that the clicks change. The browser sends every click
    again until it is told that it was heard, and a quick second click has the page run anew while
    the first one is still being dealt with: so one run at a time deals with them, and ``on_place``
    must ask nothing of the page library, which would cut it short.
    """
    ledger, told = _ledger(key), cast(Mapping[str, Any], st.session_state.get(key) or {})
    clicks = told.get("clicks") or {"sender": "", "places": ()}
    sender = str(clicks["sender"])
    with ledger.one_at_a_time:
        for click in clicks["places"]:
            if click["number"] > ledger.heard.get(sender, 0):
                on_place(Place(float(click["x"]), float(click["y"]), str(click["whose"])))
                ledger.heard[sender] = click["number"]


def picture_to_click(picture: Clickable, key: str) -> None:
    """Draw a picture whose clicks ``take_clicks`` hands out in the next run of the page."""
    data = {**picture.as_data(), "heard": dict(_ledger(key).heard)}
    _PICKER(key=key, data=data, on_clicks_change=_run_again)


def _run_again() -> None:
    """Do nothing: that a click came is enough for the page to run again."""


def _ledger(key: str) -> _Ledger:
    return cast(_Ledger, st.session_state.setdefault(f"heard {key}", _Ledger()))
