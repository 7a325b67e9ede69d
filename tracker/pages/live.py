"""The live page: whose lesson it is, shots in, and after each one what today says so far."""

import functools
from dataclasses import replace
from datetime import date
from typing import cast

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from models.traits import MODELLED, TRAITS
from tracker.errors import TrackerError
from tracker.lesson.session import (
    FileState,
    Lesson,
    follow,
    lesson_shots,
    lesson_today,
    player_of_today,
    stored_shots,
    take_growing,
)
from tracker.pages import live_entry
from tracker.pages.live_entry import Entry
from tracker.pages.live_view import CAUTIONS, COLUMNS, UP, LiveView, live_view
from tracker.pages.photo import photo_entry
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.callings import Callings
from tracker.pages.shared.phrases import counted, trait_label
from tracker.plain import line, markdown
from tracker.posterior import Fit
from tracker.records import DEFAULT_CLUB, Handed
from tracker.store.loading import LoadReport
from tracker.store.store import Store

NEW_PLAYER = "Someone new"
WHO = "Who is hitting?"
HANDS: tuple[Handed, ...] = ("right", "left")
WAYS = ("On the picture", "From a photograph", "From a file")
HOW_TO_READ = (
    "The face as the player looks at it, in millimetres from its centre. Dots: today's strikes, "
    "the last one ringed; dashed: one that is not stored. Shaded: where the tendency lies, dark "
    "50 % and light 90 % sure. A click stores a shot; arrow keys and Enter do the same."
)
FOLLOW_SECONDS = 2.0
OTHERS_SECONDS = 2.0
"""How often the page looks whether another device has stored or taken back a shot."""


def page() -> None:
    """Show the live page for the stored fit, or for entry alone where there is none."""
    opened = opening.open_store()
    if opened is None:
        return
    url, store = opened
    latest = context.latest_fit(store)
    system = opening.side_bar(url, store, latest)
    fit = context.readable_fit(context.FitKey(url, latest.id)) if latest else None
    called = context.callings(store, *(() if fit is None else (fit,)))
    # in the order of a phone, where columns stand below each other: the face comes first
    widths = [5, 2]
    heading, chooser = st.columns(widths, vertical_alignment="top")
    way = st.container()
    left, right = st.columns(widths)
    fields, settings = right.container(), right.container()
    lesson = _ask_lesson(store, fit, called, chooser, settings)
    with settings:
        watched = address.kept_choice("Watch", MODELLED, "trait", UP, trait_label)
    address.settle("Live", called.shown(lesson.player) if lesson else "")
    if lesson is None:
        with heading:
            drawing.answer(WHO, "Choose a player, or type a new one's name; then shots go in.")
        return
    entry = live_entry.entry_of(store, lesson, system, called)
    version = store.data_version()
    stored = stored_shots(store, lesson)
    shots, changes = lesson_shots(stored, lesson), store.changes(lesson.player)
    view = live_view(
        None if fit is None else called.fit(fit),
        replace(lesson, player=called.shown(lesson.player)),
        shots,
        stored,
        changes,
        watched,
        system,
        entry.waiting,
    )
    # as high with one line as with two: the face must not move under the next click
    with heading, st.container(key="live headline"):
        live_entry.say_problem(entry)
        render_headline(view)
    with way:
        chosen_way = _ask_way()
    with left:
        if chosen_way == WAYS[0]:
            live_entry.face(entry, view.picture)
        elif chosen_way == WAYS[1]:
            photo_entry(store, lesson, live_entry.by_photo(entry))
        else:
            _files(store, entry)
        render_words(view)
        if chosen_way == WAYS[0]:
            st.caption(HOW_TO_READ)
    if chosen_way != WAYS[2]:
        with fields:
            live_entry.buttons(entry, shots)
            live_entry.numbers(entry, len(shots) + 1)
    render_detail(view)
    st.fragment(functools.partial(_look, store, version), run_every=OTHERS_SECONDS)()


def _look(store: Store, version: int) -> None:
    """Draw the page anew once the store holds something else than was drawn."""
    if store.data_version() != version:
        st.rerun()


def render_headline(view: LiveView) -> None:
    """Draw what is wrong with the fit, if anything, and the answer."""
    drawing.problems(view.problems)
    drawing.title(view.headline)


def render_words(view: LiveView) -> None:
    """Draw how sure the answer is, and whether to trust it."""
    drawing.say(view.lead)
    if view.tendency:
        drawing.say(view.tendency)
    if view.trust:
        (drawing.quietly if view.trusted else drawing.warn)(view.trust)
    for note in view.notes:
        drawing.note(note)


def render_detail(view: LiveView) -> None:
    """Draw what was read today, trait by trait, and the cautions."""
    st.header("Everything read today", anchor=False)
    drawing.table(
        COLUMNS, view.rows, "Nothing that the model reads has been read today.", ranges=True
    )
    drawing.bullets(CAUTIONS)


# --- whose lesson ---


def _ask_lesson(
    store: Store,
    fit: Fit | None,
    called: Callings,
    chooser: DeltaGenerator,
    settings: DeltaGenerator,
) -> Lesson | None:
    """Ask for player, and in ``settings`` for club and methods; None until a player is named."""
    with chooser:
        chosen, hand = _ask_named(store, called)
    if not chosen.strip():
        return None
    known = shots_methods(store, chosen)
    with settings, st.popover("Club and method", width="stretch"):
        club = _kept_text("Club", f"live club {live_entry.mark(chosen)}", DEFAULT_CLUB)
        strike = _kept_word("Strike read by", "strike", chosen, known[0], fit)
        delivery = _kept_word("Angles and speed read by", "delivery", chosen, known[1], fit)
        st.caption("Free words, such as spray, photo or camera; the same word for the same way.")
    return lesson_today(
        store,
        chosen,
        today=date.today(),
        club=club,
        handed=hand,
        strike_method=strike,
        delivery_method=delivery,
    )


def _ask_named(store: Store, called: Callings) -> tuple[str, Handed]:
    """Ask who is hitting, and of somebody new the name and the hand; the name may be empty."""
    chosen, hand = called.stored(_ask_player(store, called)), HANDS[0]
    if chosen == NEW_PLAYER:
        chosen = _kept_text("Name", live_entry.NAME)
        kept_hand = address.kept("live hand") or HANDS[0]
        hits = st.segmented_control("Hits", HANDS, **address.bound("live hand", kept_hand))
        hand = cast(Handed, hits or HANDS[0])
    return chosen, hand


def _ask_player(store: Store, called: Callings) -> str:
    """Ask who is hitting: nobody is taken for it unasked, but for the day's only lesson.

    Returns what the player is called: empty until somebody is chosen, ``NEW_PLAYER`` for one who is
    not stored yet.
    """
    names = [called.shown(p.name) for p in store.players()]
    picked = address.picked("live player")
    if picked is not None:
        st.session_state[live_entry.NEW] = picked == NEW_PLAYER
        if picked != NEW_PLAYER:
            address.choose("player", picked)
    asked = address.chosen("player")
    if not names or st.session_state.get(live_entry.NEW):
        standing: str | None = NEW_PLAYER
    elif asked is None:
        today = player_of_today(store, date.today())
        standing = None if today is None else called.shown(today)
        if standing is not None:
            address.keep("player", standing)
    else:
        standing = asked if asked in names else None
    box = address.bound("live player", standing)
    st.selectbox(
        "Player", [*names, NEW_PLAYER], index=None, format_func=line, placeholder=WHO, **box
    )
    if asked and standing is None:
        st.text(f"Player: found {asked!r} in the address, who is not stored here.")
    return standing or ""


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
    kept = address.kept(key)
    return str(
        st.text_input(markdown(label), **address.bound(key, default if kept is None else kept))
    )


def _kept_word(label: str, kind: str, player: str, latest: str, fit: Fit | None) -> str:
    """Ask for a method, the known ones offered and a new word taken."""
    key = f"live {kind} {live_entry.mark(player)}"
    words = [address.kept(key) or "", latest]
    if fit is not None:
        for trait in fit.traits:
            words += fit.squad(trait).methods if TRAITS[trait].group == kind else ()
    options = [w for w in dict.fromkeys(words) if w] or ["unstated"]
    bound = address.bound(key, options[0])
    return str(
        st.selectbox(markdown(label), options, accept_new_options=True, **bound) or options[0]
    )


def _ask_way() -> str:
    kept = address.kept("live way")
    way = st.segmented_control(
        "Enter the strike",
        WAYS,
        label_visibility="collapsed",
        **address.bound("live way", kept if kept in WAYS else WAYS[0]),
    )
    return str(way or WAYS[0])


# --- a file as it grows ---


def _files(store: Store, entry: Entry) -> None:
    st.markdown(
        "A shot log, one row a shot, with its header. Rows stored before are passed over, so the "
        "same file may come again as it grows."
    )
    text = st.text_area("Paste it here", key="live paste", height=180)
    if st.button("Store the new rows", type="primary"):
        content = text.encode()
        report = entry.attempt(
            lambda: take_growing(store, content, today=date.today(), finished=True)
        )
        if report is not None:
            st.session_state["live report"] = entry.called.in_text(_report_text(report))
        st.rerun()
    said = st.session_state.pop("live report", None)
    if said:
        drawing.done(said)
    path = _kept_text("Or follow a file on this computer (its path)", "live path")
    if path and st.toggle("Follow it", key="live follow"):
        st.fragment(lambda: _follow(store, path, entry.called), run_every=FOLLOW_SECONDS)()


def _follow(store: Store, path: str, called: Callings) -> None:
    key = f"followed {path}"
    last = cast(FileState | None, st.session_state.get(key))
    try:
        state, report = follow(store, path, last, today=date.today())
    except TrackerError as error:
        drawing.refused(called.in_text(str(error)))
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
