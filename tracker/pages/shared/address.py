"""The address of a view: what was chosen, as query parameters, in every link and on every page.

What was chosen is the truth and a widget only shows it (the library forgets a widget's value when
its page is left): it changes only when somebody moves the widget, comes by another address or steps
back. A move is seen by laying the widget beside what it was drawn with, not told by a callback: the
library cuts a callback short when the next click comes soon.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any, cast

import streamlit as st
from streamlit.navigation.page import Page
from streamlit.runtime.scriptrunner import get_script_run_ctx

from tracker.plain import line, markdown
from tracker.player_trait import Window

CHOICES = (
    "player", "trait", "units", "yardstick", "group", "coach", "handed", "since", "initials", "fit"
)  # fmt: skip
"""Choices that belong to a view's address, by the name of their parameter."""
WINDOWS = ("before", "after")
ALWAYS_ALIKE = {"units", "yardstick", "group", "coach", "handed", "since", "fit"}
"""Choices that every page shows alike as long as nobody chooses: no need to write them down."""
ON, OFF = "on", "off"
"""What a switch stands at; one that is off is left out of the address."""
BY_A_FIT = ("Coach", "Player", "Squad", "Season")
"""The pages that can be seen as an earlier fit had them; the others are always of now."""
CHOSEN_ONLY = "Live"
"""The page that takes nobody for its player whom nobody chose."""
BETWEEN = ".."
"""Between the first and the last day of a window, as in ``2026-01-05..2026-02-01``."""

Pair = tuple[Window, Window]

_PAGE, _VISIT, _LINKS = "address page", "address visit", "address links"
_GUESSED, _MOVED = "address guessed", "address moved"


# --- coming and going ---


def arrive() -> None:
    """Take over what the address says, on a first visit, on another page and after a step back.

    Between these the address only repeats what this page wrote, late perhaps. A choice made since
    the links were drawn stands against a link that does not know of it yet.
    """
    run = get_script_run_ctx()
    if run is None:
        return
    state = st.session_state
    first, other = _PAGE not in state, state.get(_PAGE) != run.page_script_hash
    state[_PAGE] = run.page_script_hash
    if other:
        state[_VISIT] = _visit() + 1
    stepped = run.is_history_navigation
    if not (first or other or stepped):
        return
    moved = set() if first or stepped else _names(_MOVED)
    told = {key: st.query_params[key] for key in CHOICES if st.query_params.get(key)}
    for key, value in told.items():
        if key not in moved and value != kept(key):
            keep(key, value)
    # a switch stays as it is after a step back: names hidden from a screen do not come back so
    if stepped:
        for key in ALWAYS_ALIKE - told.keys():
            st.session_state.pop(f"kept {key}", None)
    if "player" in told and "trait" in told and not moved & {"player", "trait", *WINDOWS}:
        keep_windows(told["player"], told["trait"], _windows_told())


def place_links(pages: Sequence[Page]) -> None:
    """Draw the links to the pages, which carry what is chosen; ``settle`` draws them anew."""
    st.session_state[_LINKS] = (st.empty(), tuple(pages), None)
    _draw_links()


def settle(page: str, player: str = "") -> None:
    """Write what is chosen into the address and the links, and page and player into the title."""
    st.set_page_config(page_title=f"{page}: {player}" if player else page)
    wanted = _parameters(page)
    if st.query_params.to_dict() != wanted:
        st.query_params.from_dict(wanted)
    _names(_MOVED).clear()
    _draw_links()


def _parameters(page: str) -> dict[str, str]:
    """Return what is chosen as the address of a page says it."""
    unsaid = _names(_GUESSED) & (ALWAYS_ALIKE | ({"player"} if page == CHOSEN_ONLY else set()))
    stand = {key: kept(key) for key in CHOICES if key not in unsaid}
    found = {key: value for key, value in stand.items() if value and value != OFF}
    if page not in BY_A_FIT:
        found.pop("fit", None)
    windows = kept_windows(found.get("player", ""), found.get("trait", ""))
    if windows is not None:
        texts = (f"{w.start.isoformat()}{BETWEEN}{w.end.isoformat()}" for w in windows)
        found |= dict(zip(WINDOWS, texts, strict=True))
    return found


def _draw_links() -> None:
    if _LINKS not in st.session_state:
        return
    place, pages, drawn = st.session_state[_LINKS]
    wanted = [_parameters(page.title) for page in pages]
    if wanted == drawn:
        return
    st.session_state[_LINKS] = (place, pages, wanted)
    with place.container(horizontal=True, gap="small"):
        for page, parameters in zip(pages, wanted, strict=True):
            st.page_link(page, label=page.title, query_params=parameters)


# --- choices ---


def kept(key: str) -> str | None:
    """Return what a choice stands at, chosen or only shown first; None before it was asked."""
    moved = picked(key)
    if moved is not None:
        choose(key, moved)
        st.session_state[_shown(key)] = (_visit(), st.session_state[_widget(key)])
    return cast(str | None, st.session_state.get(f"kept {key}"))


def picked(key: str) -> str | None:
    """Return what somebody made of a choice's widget since it was drawn; None where nothing.

    A day is said as the address says it.
    """
    visit, shown = st.session_state.get(_shown(key), (None, None))
    now = st.session_state.get(_widget(key))
    if visit != _visit() or now == shown:
        return None
    if isinstance(now, bool):
        return _said(now)
    return now.isoformat() if isinstance(now, date) else cast(str | None, now)


def chosen(key: str) -> str | None:
    """Return what somebody chose; None where a page only had to show something first."""
    stands = kept(key)
    return None if key in _names(_GUESSED) else stands


def keep(key: str, value: str) -> None:
    """Let a choice stand at a value, as somebody's own choice."""
    st.session_state[f"kept {key}"] = value
    _names(_GUESSED).discard(key)


def choose(key: str, value: str) -> None:
    """Keep what somebody picked just now, against links that do not know of it yet."""
    keep(key, value)
    _names(_MOVED).add(key)


def bound(key: str, value: str | date | bool | None) -> dict[str, Any]:
    """Return the arguments of a widget that shows a value, which ``kept`` or ``picked`` decided.

    The value is written where the widget shows another one, or starts afresh on a page come back
    to; never over what somebody is typing.
    """
    widget, state, visit = _widget(key), st.session_state, _visit()
    drawn, _ = state.get(_shown(key), (None, None))
    if widget not in state or state[widget] != value or drawn != visit:
        state[widget] = value
    state[_shown(key)] = (visit, value)
    return {"key": widget}


def kept_switch(label: str, key: str) -> bool:
    """Ask for one of two; the answer stands on every page until the switch is moved again."""
    on = kept(key) == ON
    st.toggle(markdown(label), **bound(key, on))
    return on


def call_players(called: Callable[[str], str]) -> None:
    """Let what is chosen call a player as the pages do; ``called`` returns that for either way."""
    player = kept("player")
    if player is not None:
        st.session_state["kept player"] = called(player)
    picked_windows = _windows()
    for (one, trait), windows in tuple(picked_windows.items()):
        del picked_windows[one, trait]
        picked_windows[called(one), trait] = windows


def _said(on: bool) -> str:
    return ON if on else OFF


def _widget(key: str) -> str:
    return f"box {key}"


def _shown(key: str) -> str:
    return f"shown {key}"


def _visit() -> int:
    return int(st.session_state.get(_VISIT, 0))


def kept_choice(
    label: str,
    options: Sequence[str],
    key: str,
    default: str | None = None,
    shown: Callable[[str], str] = str,
    **layout: Any,
) -> str:
    """Ask for one of several; the answer stands on every page until another is chosen.

    A kept value that is not among the options stays kept, is said, and the first choice is shown.
    ``layout`` goes to the select box: ``help``, ``label_visibility``.
    """
    asked = kept(key)
    first = default if default is not None and default in options else options[0]
    if asked is None or (key in _names(_GUESSED) and asked not in options):
        asked = first
        keep(key, asked)
        _names(_GUESSED).add(key)
    value = asked if asked in options else first

    def reads(option: str) -> str:
        return line(shown(option))  # a select box shows plain text, no Markdown

    st.selectbox(markdown(label), options, format_func=reads, **bound(key, value), **layout)
    if asked not in options:
        st.text(line(not_here(label, asked, shown(value))))
    return value


def kept_day(label: str, key: str, first: date, last: date) -> date | None:
    """Ask for a day from ``first`` to ``last``; None as long as it stands at the first.

    A kept day that is no day, or lies outside, stays kept, is said, and the first is shown.
    """
    asked = kept(key)
    try:
        day = first if asked is None else date.fromisoformat(asked)
    except ValueError:
        day = last + timedelta(days=1)
    value = day if first <= day <= last else first
    if asked is None:
        keep(key, first.isoformat())
        _names(_GUESSED).add(key)
    st.date_input(markdown(label), min_value=first, max_value=last, **bound(key, value))
    if asked is not None and value != day:
        st.text(line(not_here(label, asked, value.isoformat())))
    return None if value == first else value


def not_here(label: str, asked: str, instead: str) -> str:
    """Return the sentence on a choice that cannot be shown."""
    return f"{label}: found {asked!r} in the address, which is not here; {instead} is shown."


# --- windows ---


def kept_windows(player: str, trait: str) -> Pair | None:
    """Return the two windows picked for a player's trait; None where none were picked."""
    return _windows().get((player, trait))


def keep_windows(player: str, trait: str, windows: Pair | None) -> None:
    """Keep the two windows picked for a player's trait; None goes back to the suggested ones."""
    if windows is None:
        _windows().pop((player, trait), None)
    else:
        _windows()[player, trait] = windows


def _windows() -> dict[tuple[str, str], Pair]:
    return cast(dict[tuple[str, str], Pair], st.session_state.setdefault("kept windows", {}))


def _windows_told() -> Pair | None:
    return windows_of(st.query_params.to_dict())


def windows_of(parameters: Mapping[str, str]) -> Pair | None:
    """Return the windows that parameters name; None where they name no two windows of days."""
    found = []
    for name in WINDOWS:
        start, _, end = parameters.get(name, "").partition(BETWEEN)
        try:
            found.append(Window(date.fromisoformat(start), date.fromisoformat(end)))
        except ValueError:
            return None
    return found[0], found[1]


def _names(key: str) -> set[str]:
    return cast(set[str], st.session_state.setdefault(key, set()))
