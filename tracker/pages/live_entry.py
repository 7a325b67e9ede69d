"""How shots come into a live lesson: numbers typed, a strike clicked, stored, and taken back."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import cast

import streamlit as st

from models.traits import BALL, STRIKES, TRAITS
from tracker.charts.clickable import Clickable, strike_at
from tracker.errors import BadRequest, TrackerError
from tracker.lesson.session import Lesson, commit, take_back
from tracker.pages.shared import address, drawing
from tracker.pages.shared.callings import Callings
from tracker.pages.shared.face_input import Place, picture_to_click, take_clicks
from tracker.pages.shared.phrases import counted, trait_label
from tracker.pages.shared.typed_number import in_other_units, typed_reading
from tracker.plain import markdown
from tracker.records import Shot
from tracker.store.store import Store
from tracker.units import System, trait_display
from tracker.words import start_of_sentence

NUMBERS = tuple(t.name for t in TRAITS.values() if t.group == "delivery")
STORED, TAKEN = "Nothing was stored", "Nothing was taken back"
STAYS = "The strike stays on the picture."
NEW, NAME = "live new", "live name"
"""Whether the lesson is of somebody who is not stored yet, and the name typed."""
UNITS_TYPED = "live units typed"
"""The units in which the fields of the next shot were last shown."""

Strike = tuple[float, float]
"""Toe and up in mm."""


@dataclass(eq=False, slots=True)
class _Desk:
    """What one browser has in hand. It is a plain thing, so that no run stops while it changes."""

    turn: int = 0
    """Rises with every shot stored here; the fields of a turn are its own."""
    waiting: tuple[str, Strike] | None = None
    """A strike that could not be stored, and whose it is."""
    refused: tuple[str, str] = ("", "")
    """Why the last thing tried was refused, and in whose lesson; it stands until the next try."""


@dataclass(frozen=True, eq=False, slots=True)
class Entry:
    """The next shot of a lesson, as far as it has been entered."""

    store: Store
    lesson: Lesson
    system: System
    desk: _Desk
    turn: int
    texts: Mapping[str, str]
    """What stands in each number's field, as typed in this turn."""
    called: Callings
    """What players are called in what is said."""

    def keep(self, strike: Mapping[str, float], *, missed_face: bool = False) -> Shot | None:
        """Store the shot; None where it was refused, with the reason kept to be said."""
        typed = self.texts if self.desk.turn == self.turn else {}

        def stored() -> Shot:
            readings = {**_readings(typed, self.system), **strike}
            return commit(self.store, self.lesson, readings, missed_face=missed_face)

        shot = self.attempt(stored)
        if shot is not None:
            self.desk.turn += 1
            self.desk.waiting = None
        return shot

    def strike(self, place: Place) -> None:
        """Store a shot struck at a place of the picture; a refused strike stays on it."""
        lesson = self.lesson
        if place.whose != _whose(lesson):
            self._refuse(
                f"{STORED}: the picture clicked was not {self.called.shown(lesson.player)}'s yet; "
                "click again."
            )
            return
        toe, up = strike_at(place.x, place.y, lesson.handed)
        self.desk.waiting = _whose(lesson), (round(toe, 1), round(up, 1))
        self.keep_waiting()

    def keep_waiting(self) -> None:
        """Store the strike on the picture; it stays there when it is refused."""
        strike = self.waiting
        if strike is not None and self.keep(dict(zip(STRIKES, strike, strict=True))) is None:
            self._refuse(f"{self.problem}. {STAYS}")

    @property
    def waiting(self) -> Strike | None:
        """Return the strike that was clicked but could not be stored; None without one."""
        whose, strike = self.desk.waiting or ("", None)
        return strike if whose == _whose(self.lesson) else None

    def drop_waiting(self) -> None:
        """Take the strike that could not be stored off the picture."""
        self.desk.waiting = None

    def attempt[R](self, work: Callable[[], R], without_it: str = STORED) -> R | None:
        """Do one thing with the store; why it was refused is said until the next try."""
        self._refuse("")
        try:
            return work()
        except TrackerError as error:
            self._refuse(f"{without_it}: {self.called.in_text(str(error))}")
            return None

    @property
    def problem(self) -> str:
        """Return why the last thing tried in this lesson was refused; empty where it was not."""
        whose, why = self.desk.refused
        return why if whose == _whose(self.lesson) else ""

    def _refuse(self, why: str) -> None:
        self.desk.refused = _whose(self.lesson), why


def entry_of(store: Store, lesson: Lesson, system: System, called: Callings) -> Entry:
    """Return what has been entered of the lesson's next shot, after storing what was clicked."""
    desk = cast(_Desk, st.session_state.setdefault("live desk", _Desk()))
    _take_along(desk.turn, system)
    entry = _entered(store, lesson, system, desk, called)
    take_clicks(_picture(lesson), entry.strike)
    if desk.turn == entry.turn:
        return entry
    _over(lesson, called)
    return _entered(store, lesson, system, desk, called)


def _entered(store: Store, lesson: Lesson, system: System, desk: _Desk, called: Callings) -> Entry:
    turn = desk.turn
    texts = {t: address.kept(_field(turn, t, system)) or "" for t in (*NUMBERS, *BALL)}
    return Entry(store, lesson, system, desk, turn, texts, called)


def _take_along(turn: int, system: System) -> None:
    """Let what was typed in other units before they were switched stand in these."""
    former = cast(System, st.session_state.setdefault(UNITS_TYPED, system))
    st.session_state[UNITS_TYPED] = system
    if former == system:
        return
    for trait in (*NUMBERS, *BALL):
        left, asked = _field(turn, trait, former), _field(turn, trait, system)
        text, before = address.kept(left) or "", address.kept(asked) or ""
        # what was typed in these units at first, and only looked at in the others, stays as it was
        if in_other_units(trait, before, system, former) != text:
            address.keep(asked, in_other_units(trait, text, former, system))


def _over(lesson: Lesson, called: Callings) -> None:
    """Let a lesson with a stored shot be the stored player's."""
    address.choose("player", called.shown(lesson.player))
    for key in (NEW, f"kept {NAME}"):
        st.session_state.pop(key, None)


# --- what is on the page ---


def say_problem(entry: Entry) -> None:
    """Say why the last thing tried was refused."""
    if entry.problem:
        drawing.refused(entry.problem)


def face(entry: Entry, picture: Clickable) -> None:
    """Draw the face; every click on it stores a shot."""
    picture_to_click(replace(picture, whose=_whose(entry.lesson)), _picture(entry.lesson))
    if entry.waiting is None:
        return
    left, right = st.columns(2)
    left.button(
        "Store the strike on the picture",
        type="primary",
        width="stretch",
        on_click=lambda: _press(entry, Entry.keep_waiting),
    )
    right.button("Take it off", width="stretch", on_click=entry.drop_waiting)


def buttons(entry: Entry, shots: tuple[Shot, ...]) -> None:
    """Draw how many shots are stored, the last one to take back, and the shots without a strike."""
    drawing.say("", f"{counted(len(shots), 'shot')} stored today")
    if shots:
        last = shots[-1]
        st.button(
            markdown(f"Take shot {last.number} back"),
            width="stretch",
            on_click=lambda: entry.attempt(lambda: take_back(entry.store, last), TAKEN),
        )
    st.button(
        "Store without a strike",
        width="stretch",
        on_click=lambda: _press(entry, lambda now: now.keep({})),
    )
    st.button(
        "Struck, but cannot be read",
        width="stretch",
        help="The mark is off the readable face. The model counts it as such, not as missing.",
        on_click=lambda: _press(entry, lambda now: now.keep({}, missed_face=True)),
    )


def numbers(entry: Entry, shot: int) -> None:
    """Ask for the other readings of the next shot; fresh fields for every shot."""
    drawing.say("Numbers first, if any, then the strike.", f"Shot {shot}.")
    for trait in NUMBERS:
        _ask_number(entry, trait)
    with st.expander("What the ball did"):
        for trait in BALL:
            _ask_number(entry, trait)


def by_photo(entry: Entry) -> Callable[[float, float], Shot | None]:
    """Return what stores a strike that was read from a photograph."""

    def stored(toe_mm: float, up_mm: float) -> Shot | None:
        word = entry.lesson.strike_method
        lesson = replace(entry.lesson, strike_method=word if "photo" in word else "photo")
        strike = dict(zip(STRIKES, (round(toe_mm, 2), round(up_mm, 2)), strict=True))
        return _done(replace(entry, lesson=lesson), lambda now: now.keep(strike))

    return stored


def _press(entry: Entry, work: Callable[[Entry], object]) -> None:
    """Do what a button says."""
    _done(entry, work)


def _done[R](entry: Entry, work: Callable[[Entry], R]) -> R:
    """Return what comes of some work on an entry with what stands in its fields by now."""
    now = _entered(entry.store, entry.lesson, entry.system, entry.desk, entry.called)
    done = work(now)
    if now.desk.turn != now.turn:
        _over(now.lesson, now.called)
    return done


def _ask_number(entry: Entry, trait: str) -> None:
    """Ask for one reading, as text: a number field would drop what it cannot read."""
    text, system = entry.texts[trait], entry.system
    st.text_input(
        markdown(f"{start_of_sentence(trait_label(trait))} ({trait_display(trait, system).unit})"),
        placeholder=f"+ is {TRAITS[trait].positive}",
        **address.bound(_field(entry.turn, trait, system), text),
    )
    try:
        typed_reading(trait, text, system)
    except BadRequest as error:
        drawing.refused(f"{error}.")


def _readings(texts: Mapping[str, str], system: System) -> dict[str, float]:
    """Return typed readings in stored units; raise BadRequest where one cannot be used."""
    found, problems = {}, []
    for trait, text in texts.items():
        try:
            value = typed_reading(trait, text, system)
        except BadRequest as error:
            problems.append(str(error))
            continue
        if value is not None:
            found[trait] = value
    if problems:
        raise BadRequest("; ".join(problems))
    return found


def _field(turn: int, trait: str, system: System) -> str:
    return f"number {turn} {trait} {system}"


def _picture(lesson: Lesson) -> str:
    return f"face {lesson.handed}"


def _whose(lesson: Lesson) -> str:
    return f"{mark(lesson.player)}, {lesson.session}, {lesson.club}"


def mark(name: str) -> str:
    """Return what stands for a player where the browser is told of a thing but shows nothing."""
    return hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:12]
