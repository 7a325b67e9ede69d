"""How shots come into a live lesson: numbers typed, a strike clicked, stored, and taken back."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import streamlit as st

from models.traits import BALL, TRAITS
from tracker.charts.clickable import Clickable, strike_at
from tracker.errors import BadRequest, TrackerError
from tracker.lesson.session import Lesson, commit, take_back
from tracker.pages.live_view import TOE, UP
from tracker.pages.shared import address, drawing
from tracker.pages.shared.face_input import Place, picture_to_click
from tracker.pages.shared.phrases import counted, start_of_sentence, trait_label
from tracker.pages.shared.typed_number import typed_reading
from tracker.plain import markdown
from tracker.records import Shot
from tracker.store.store import Store
from tracker.units import System, trait_display

NUMBERS = tuple(t.name for t in TRAITS.values() if t.group == "delivery")
STORED, TAKEN = "Nothing was stored", "Nothing was taken back"
STAYS = "The strike stays on the picture."

_ENTRY, _STRIKE, _PROBLEM = "live entry", "live strike", "live problem"

NEW, NAME = "live new", "live name"
"""Whether the lesson is of somebody who is not stored yet, and the name typed."""

Strike = tuple[float, float]
"""Toe and up in mm."""


@dataclass(frozen=True, eq=False, slots=True)
class Entry:
    """The next shot of a lesson, as far as it has been entered."""

    store: Store
    lesson: Lesson
    system: System


# --- what is on the page ---


def face(entry: Entry, picture: Clickable) -> None:
    """Draw the face; every click on it stores a shot."""
    whose = _whose(entry.lesson)
    shown = replace(picture, whose=whose)
    picture_to_click(shown, f"face {entry.lesson.handed}", lambda place: _clicked(entry, place))
    if waiting_strike(entry.lesson) is None:
        return
    left, right = st.columns(2)
    left.button(
        "Store the strike on the picture",
        type="primary",
        width="stretch",
        on_click=lambda: _store_waiting(entry),
    )
    right.button(
        "Take it off", width="stretch", on_click=lambda: st.session_state.pop(_STRIKE, None)
    )


def waiting_strike(lesson: Lesson) -> Strike | None:
    """Return the strike that was clicked but could not be stored; None without one."""
    whose, strike = st.session_state.get(_STRIKE, ("", None))
    return strike if whose == _whose(lesson) else None


def numbers(entry: Entry, shot: int) -> None:
    """Ask for the other readings of the next shot; fresh fields for every shot."""
    drawing.say("Numbers first, if any, then the strike.", f"Shot {shot}.")
    for trait in NUMBERS:
        _ask_number(trait, entry.system)
    with st.expander("What the ball did"):
        for trait in BALL:
            _ask_number(trait, entry.system)


def buttons(entry: Entry, shots: tuple[Shot, ...]) -> None:
    """Draw how many shots are stored, the last one to take back, and the shots without a strike."""
    drawing.say("", f"{counted(len(shots), 'shot')} stored today")
    if shots:
        last = shots[-1]
        st.button(
            markdown(f"Take shot {last.number} back"),
            width="stretch",
            on_click=lambda: attempt(lambda: take_back(entry.store, last), TAKEN),
        )
    st.button("Store without a strike", width="stretch", on_click=lambda: _store(entry, {}))
    st.button(
        "Struck, but cannot be read",
        width="stretch",
        help="The mark is off the readable face. The model counts it as such, not as missing.",
        on_click=lambda: _store(entry, {}, missed_face=True),
    )


def by_photo(entry: Entry) -> Callable[[float, float], Shot | None]:
    """Return what stores a strike that was read from a photograph."""

    def stored(toe_mm: float, up_mm: float) -> Shot | None:
        word = entry.lesson.strike_method
        lesson = replace(entry.lesson, strike_method=word if "photo" in word else "photo")
        strike = {TOE: round(toe_mm, 2), UP: round(up_mm, 2)}
        return _store(replace(entry, lesson=lesson), strike)

    return stored


def attempt[R](work: Callable[[], R], without_it: str = STORED) -> R | None:
    """Do one thing with the store; a refusal is kept for the next drawing of the page."""
    try:
        return work()
    except TrackerError as error:
        st.session_state[_PROBLEM] = f"{without_it}: {error}"
        return None


def say_problem() -> None:
    """Say why the last thing tried was refused."""
    problem = st.session_state.pop(_PROBLEM, None)
    if problem:
        drawing.refused(problem)


# --- numbers ---


def _key(trait: str, system: System) -> str:
    return f"number {st.session_state.get(_ENTRY, 0)} {trait} {system}"


def _text(trait: str, system: System) -> str:
    return address.kept(_key(trait, system)) or ""


def _ask_number(trait: str, system: System) -> None:
    """Ask for one reading, as text: a number field would drop what it cannot read."""
    st.text_input(
        markdown(f"{start_of_sentence(trait_label(trait))} ({trait_display(trait, system).unit})"),
        placeholder=f"+ is {TRAITS[trait].positive}",
        **address.bound(_key(trait, system), _text(trait, system)),
    )
    try:
        typed_reading(trait, _text(trait, system), system)
    except BadRequest as error:
        drawing.refused(f"{error}.")


def _typed(system: System) -> dict[str, float]:
    """Return the typed readings in stored units; raise BadRequest where one cannot be used."""
    found, problems = {}, []
    for trait in (*NUMBERS, *BALL):
        try:
            value = typed_reading(trait, _text(trait, system), system)
        except BadRequest as error:
            problems.append(str(error))
            continue
        if value is not None:
            found[trait] = value
    if problems:
        raise BadRequest("; ".join(problems))
    return found


# --- storing ---


def _clicked(entry: Entry, place: Place) -> None:
    lesson = entry.lesson
    if place.whose != _whose(lesson):
        st.session_state[_PROBLEM] = (
            f"{STORED}: a click was on the picture before it was {lesson.player}'s; click again."
        )
        return
    toe, up = strike_at(place.x, place.y, lesson.handed)
    st.session_state[_STRIKE] = _whose(lesson), (round(toe, 1), round(up, 1))
    _store_waiting(entry)


def _store_waiting(entry: Entry) -> None:
    """Store the strike on the picture; it stays there when it is refused."""
    strike = waiting_strike(entry.lesson)
    if strike is not None and _store(entry, dict(zip((TOE, UP), strike, strict=True))) is None:
        st.session_state[_PROBLEM] += f" {STAYS}"


def _store(entry: Entry, strike: Mapping[str, float], *, missed_face: bool = False) -> Shot | None:
    lesson, system = entry.lesson, entry.system

    def stored() -> Shot:
        readings = {**_typed(system), **strike}
        return commit(entry.store, lesson, readings, missed_face=missed_face)

    shot = attempt(stored)
    if shot is not None:
        address.keep("player", lesson.player)
        for over in (_STRIKE, NEW, f"kept {NAME}"):
            st.session_state.pop(over, None)
        st.session_state[_ENTRY] = st.session_state.get(_ENTRY, 0) + 1
    return shot


def _whose(lesson: Lesson) -> str:
    return f"{lesson.player}, {lesson.session}, {lesson.club}"
