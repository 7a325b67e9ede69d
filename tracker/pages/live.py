"""The live page: shots in by click, number or file, and after each one what today says so far."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import cast

import streamlit as st

from models.traits import BALL, MODELLED, TRAITS
from tracker.charts.clickable import strike_at
from tracker.errors import TrackerError
from tracker.lesson.session import (
    FileState,
    Lesson,
    commit,
    follow,
    lesson_shots,
    lesson_today,
    stored_shots,
    take_growing,
    undo_last,
)
from tracker.pages.live_view import CAUTIONS, COLUMNS, TOE, UP, LiveView, live_view
from tracker.pages.photo import photo_entry
from tracker.pages.shared import context, drawing
from tracker.pages.shared.face_input import Place, picture_to_click
from tracker.pages.shared.phrases import counted, start_of_sentence, trait_label
from tracker.plain import markdown
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB, Handed, Shot
from tracker.store.loading import LoadReport
from tracker.store.store import Store
from tracker.units import System, trait_display

NEW_PLAYER = "Someone new"
NUMBERS = tuple(t.name for t in TRAITS.values() if t.group == "delivery")
WAYS = ("On the picture", "From a photograph", "From a file")
HOW_TO_READ = (
    "The face as the player looks at it, in millimetres from its centre. Dots: today's strikes, "
    "the last one ringed. Shaded: where the tendency lies, dark 50 % and light 90 % sure. A click "
    "stores a shot; arrow keys and Enter do the same."
)
FOLLOW_SECONDS = 2.0


def page() -> None:
    """Show the live page for the stored fit, or for entry alone where there is none."""
    opened = context.open_store()
    if opened is None:
        return
    url, store = opened
    latest = context.latest_fit(store)
    system = context.side_bar(url, store, latest)
    fit = context.readable_fit(context.FitKey(url, latest.id)) if latest else None
    heading, chooser = st.columns([3, 1], vertical_alignment="top")
    with chooser:
        lesson = _ask_lesson(store, fit)
        watched = drawing.kept_choice("Watch", MODELLED, "live watch", UP, trait_label)
    if lesson is None:
        with heading:
            drawing.answer("Whose lesson is it?", "Type the player's name; it needs nothing else.")
        return
    stored = stored_shots(store, lesson)
    shots = lesson_shots(stored, lesson)
    view = live_view(fit, lesson, shots, stored, store.changes(lesson.player), watched, system)
    with heading:
        _say_problem()
        render_answer(view)
    way = _ask_way()
    if way == WAYS[2]:
        _files(store)
        return
    left, right = st.columns([5, 2])
    numbers = {trait: f"number {len(shots)} {trait}" for trait in (*NUMBERS, *BALL)}
    with left:
        if way == WAYS[0]:
            click = _on_click(store, lesson, numbers)
            picture_to_click(view.picture, f"face {lesson.handed}", click)
            st.caption(HOW_TO_READ)
        else:
            photo_entry(store, lesson, _on_photo(store, lesson, numbers))
    with right:
        _undo(store, lesson, shots)
        _ask_numbers(len(shots) + 1, numbers, system)
        _buttons(store, lesson, numbers)
    render_detail(view)


def render_answer(view: LiveView) -> None:
    """Draw the answer and whether to trust it."""
    drawing.problems(view.problems)
    drawing.answer(view.headline, view.lead)
    if view.tendency:
        drawing.say(view.tendency)
    if view.trust:
        (drawing.quietly if view.trusted else drawing.warn)(view.trust)
    for note in view.notes:
        drawing.note(note)


def render_detail(view: LiveView) -> None:
    """Draw what was read today, trait by trait, and the cautions."""
    st.header("Everything read today", anchor=False)
    drawing.table(COLUMNS, view.rows, "Nothing that the model reads has been read today.")
    drawing.bullets(CAUTIONS)


# --- whose lesson ---


def _ask_lesson(store: Store, fit: Fit | None) -> Lesson | None:
    """Ask for player, club and methods; None until a player is named."""
    names = [p.name for p in store.players()]
    chosen = drawing.kept_choice("Player", [*names, NEW_PLAYER], "live player")
    hand: Handed = "right"
    if chosen == NEW_PLAYER:
        chosen = _kept_text("Name", "live name")
        hand = cast(Handed, st.segmented_control("Hits", ("right", "left"), default="right"))
        if not chosen.strip():
            return None
    known = shots_methods(store, chosen)
    with st.popover("Club and method", width="stretch"):
        club = _kept_text("Club", f"live club {chosen}", DEFAULT_CLUB)
        strike = _kept_word("Strike read by", "strike", chosen, known[0], fit)
        delivery = _kept_word("Angles and speed read by", "delivery", chosen, known[1], fit)
        st.caption("Free words, such as spray, photo or camera; the same word for the same way.")
    return lesson_today(
        store,
        chosen,
        today=date.today(),
        club=club,
        handed=hand or "right",
        strike_method=strike,
        delivery_method=delivery,
    )


def shots_methods(store: Store, player: str) -> tuple[str, str]:
    """Return how the player's latest strike and delivery were read; empty where never."""
    if player not in {p.name for p in store.players()}:
        return "", ""
    frame = store.shots_frame(player)
    found = []
    for column in ("strike_method", "delivery_method"):
        traits = [t for t in MODELLED if TRAITS[t].method_column == column]
        read = frame[frame[traits].notna().any(axis=1)]
        found.append(str(read[column].iloc[-1]) if len(read) else "")
    return found[0], found[1]


def _kept_text(label: str, key: str, default: str = "") -> str:
    kept = f"kept {key}"
    value = str(
        st.text_input(markdown(label), st.session_state.get(kept, default), key=f"text {key}")
    )
    st.session_state[kept] = value
    return value


def _kept_word(label: str, kind: str, player: str, latest: str, fit: Fit | None) -> str:
    """Ask for a method, the known ones offered and a new word taken."""
    kept = f"kept live {kind} {player}"
    words = [st.session_state.get(kept, ""), latest]
    if fit is not None:
        for trait in fit.traits:
            words += fit.squad(trait).methods if TRAITS[trait].group == kind else ()
    options = [w for w in dict.fromkeys(words) if w] or ["unstated"]
    chosen = st.selectbox(markdown(label), options, key=f"word {kept}", accept_new_options=True)
    st.session_state[kept] = chosen or options[0]
    return str(chosen or options[0])


def _ask_way() -> str:
    kept = "kept live way"
    way = st.segmented_control(
        "Enter the strike",
        WAYS,
        default=st.session_state.get(kept, WAYS[0]),
        key="live way",
        label_visibility="collapsed",
    )
    chosen = str(way or WAYS[0])
    st.session_state[kept] = chosen
    return chosen


# --- shots in ---


def _ask_numbers(shot: int, keys: Mapping[str, str], system: System) -> None:
    """Ask for the other readings of the next shot; fresh fields for every shot."""
    drawing.say("Numbers first, if any, then the strike.", f"Shot {shot}.")
    for trait in NUMBERS:
        _ask_number(trait, keys[trait], system)
    with st.expander("What the ball did"):
        for trait in BALL:
            _ask_number(trait, keys[trait], system)


def _ask_number(trait: str, key: str, system: System) -> None:
    how, row = trait_display(trait, system), TRAITS[trait]
    st.number_input(
        markdown(f"{start_of_sentence(trait_label(trait))} ({how.unit})"),
        min_value=row.low * how.factor,
        max_value=row.high * how.factor,
        value=None,
        step=0.1 if how.decimals else 1.0,
        format=f"%.{how.decimals}f",
        key=key,
        placeholder=f"+ is {row.positive}",
    )


def _typed(keys: Mapping[str, str]) -> dict[str, float]:
    """Return the typed readings in stored units."""
    system: System = "metres" if st.session_state.get("kept units") == "metres" else "yards"
    typed = {trait: st.session_state.get(key) for trait, key in keys.items()}
    return {
        trait: float(value) / trait_display(trait, system).factor
        for trait, value in typed.items()
        if value is not None
    }


def _on_click(store: Store, lesson: Lesson, keys: Mapping[str, str]) -> Callable[[Place], None]:
    def stored(place: Place) -> None:
        toe, up = strike_at(place.x, place.y, lesson.handed)
        strike = {TOE: round(toe, 1), UP: round(up, 1)}
        _attempt(lambda: _keep(store, lesson, {**_typed(keys), **strike}))

    return stored


def _on_photo(
    store: Store, lesson: Lesson, keys: Mapping[str, str]
) -> Callable[[float, float], Shot | None]:
    def stored(toe_mm: float, up_mm: float) -> Shot | None:
        strike = {TOE: round(toe_mm, 2), UP: round(up_mm, 2)}
        word = lesson.strike_method
        by_photo = replace(lesson, strike_method=word if "photo" in word else "photo")
        return _attempt(lambda: _keep(store, by_photo, {**_typed(keys), **strike}))

    return stored


def _keep(
    store: Store, lesson: Lesson, readings: Mapping[str, float], *, missed_face: bool = False
) -> Shot:
    shot = commit(store, lesson, readings, missed_face=missed_face)
    st.session_state["kept live player"] = lesson.player
    st.session_state.pop("box live player", None)
    return shot


def _undo(store: Store, lesson: Lesson, shots: tuple[Shot, ...]) -> None:
    drawing.say("", f"{counted(len(shots), 'shot')} stored today")
    if shots:
        st.button(
            markdown(f"Take shot {shots[-1].number} back"),
            width="stretch",
            on_click=_press(lambda: undo_last(store, lesson)),
        )


def _buttons(store: Store, lesson: Lesson, keys: Mapping[str, str]) -> None:
    st.button(
        "Store without a strike",
        width="stretch",
        on_click=_press(lambda: _keep(store, lesson, _typed(keys))),
    )
    st.button(
        "Struck, but cannot be read",
        width="stretch",
        help="The mark is off the readable face. The model counts it as such, not as missing.",
        on_click=_press(lambda: _keep(store, lesson, _typed(keys), missed_face=True)),
    )


def _press(work: Callable[[], object]) -> Callable[[], None]:
    """Return what a button does: the work, a refusal kept for the next drawing of the page."""

    def pressed() -> None:
        _attempt(work)

    return pressed


def _attempt[R](work: Callable[[], R]) -> R | None:
    """Do one thing with the store; a refusal is kept for the next drawing of the page."""
    try:
        return work()
    except TrackerError as error:
        st.session_state["live problem"] = str(error)
        return None


def _say_problem() -> None:
    problem = st.session_state.pop("live problem", None)
    if problem:
        drawing.refused(f"Nothing was stored: {problem}")


# --- a file as it grows ---


def _files(store: Store) -> None:
    st.markdown(
        "A shot log, one row a shot, with its header. Rows stored before are passed over, so the "
        "same file may come again as it grows."
    )
    text = st.text_area("Paste it here", key="live paste", height=180)
    if st.button("Store the new rows", type="primary"):
        content = text.encode()
        report = _attempt(lambda: take_growing(store, content, today=date.today(), finished=True))
        if report is not None:
            st.session_state["live report"] = _report_text(report)
        st.rerun()
    said = st.session_state.pop("live report", None)
    if said:
        drawing.done(said)
    path = _kept_text("Or follow a file on this computer (its path)", "live path")
    if path and st.toggle("Follow it", key="live follow"):
        st.fragment(lambda: _follow(store, path), run_every=FOLLOW_SECONDS)()


def _follow(store: Store, path: str) -> None:
    key = f"followed {path}"
    last = cast(FileState | None, st.session_state.get(key))
    try:
        state, report = follow(store, path, last, today=date.today())
    except TrackerError as error:
        drawing.refused(str(error))
        return
    st.session_state[key] = state
    if report is not None and report.stored:
        st.rerun()
    left_out = f", {counted(state.rejected, 'bad row')} left out" if state.rejected else ""
    drawing.say(
        f"Following: {counted(state.rows, 'row')} read, {state.stored} stored so far{left_out}."
    )


def _report_text(report: LoadReport) -> str:
    text = f"{counted(report.stored, 'new shot')} stored, {report.already_stored} stored before"
    lines = {problem.line for problem in report.rejected}
    bad = f"; {counted(len(lines), 'bad row')} left out ({report.rejected[0]})" if lines else ""
    return f"{text}{bad}."
