"""The coach's page: which lever first, drawn from its view, with efforts and plans to enter."""

import time
from collections.abc import Sequence
from datetime import date
from typing import cast

import streamlit as st

from models.traits import TARGETED
from tracker.charts.face_map import face_chart
from tracker.charts.gain import gain_chart
from tracker.charts.landing import landing_chart
from tracker.decisions.distance.cloud import DISTANCE_PARTS
from tracker.decisions.distance.levers import DEFAULT_EFFORT_SESSIONS
from tracker.decisions.distance.yardstick import YARDSTICKS, Yardstick, YardstickName
from tracker.decisions.promises.promise_words import without_sentences
from tracker.errors import TrackerError
from tracker.fits.kept_promises import logged_with_promises
from tracker.pages import distance, next_step, what_if
from tracker.pages.coach_ahead import likely_next
from tracker.pages.coach_view import (
    BESIDES_COLUMNS,
    CHANCE_COLUMNS,
    LEVER_COLUMNS,
    SQUAD_COLUMNS,
    WORTH_COLUMNS,
    CoachView,
    coach_view,
    squad_rows,
    squad_sentence,
)
from tracker.pages.drives import DrivesView, drives_of_player
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.ahead import AHEAD
from tracker.pages.shared.checks_view import unlike_model
from tracker.pages.shared.long_table import page_of
from tracker.pages.shared.phrases import Rows, trait_label
from tracker.pages.shared.picture import picture
from tracker.plain import markdown
from tracker.records import CHANGE_KINDS, Change, ChangeKind
from tracker.report.figures import face_of
from tracker.words import PRACTICE_CAUTIONS, cautions_for

HOW_TO_READ_GAINS = (
    "Each line is one lever, and under its name how often it is the best choice for the practice. "
    "Dot: best guess of what it is worth; thin line: "
    "90 % sure; thick line: 50 % sure; grey below: its trait all the way at the target. "
    "Right of zero is better."
)
SAY_EVERY_S = 0.2
"""How often it is said how far the squad's list has come: what is at hand needs no word."""
NOT_PROMISED = "not promised of the last change"
"""What is said once, after a change was logged of which nothing could be promised."""
YARDSTICK_NAMES: dict[str, str] = {
    "toward": "toward the target",
    "carry": "carry",
    "total": "carry and run",
    "inside": "staying inside 30 m",
}
HOW_TO_READ_FACE = (
    "The face as the player looks at it, to scale. Small dots: shots; coloured patches: where the "
    "true middle of the strikes is, 50 % and 90 % sure; dotted: 9 in 10 shots; dashed: target."
)
GAINS_CAPTION = "Thick: 50 % sure; thin: 90 % sure; grey: its trait all the way at the target."
FACE_CAPTION = (
    "Dots: shots; patch: their true middle, 50 % and 90 % sure; dotted: 9 in 10 shots; dashed: "
    "target."
)
HOW_TO_READ_DRIVES = (
    "The range from above, to scale, the line of aim straight up. Each mark is a drive as the "
    "model expects it next session, with all that is not known; a ring holds about 9 in 10. Grey "
    "column: the corridor. The aim is taken to be on the middle of the player's own directions."
)


def page() -> None:
    """Show the coach's page for the stored fit."""
    here = opening.open_page(earlier=True)
    if here is None:
        return
    efforts = _kept_efforts()
    names = [player.name for player in here.fit.players]
    heading, chooser = st.columns([3, 1], vertical_alignment="top")
    with chooser:
        default = None
        if address.kept("player") is None:
            with st.spinner("Looking for who has most to gain"):
                default = context.likely_first(here.key)
        player = address.kept_choice("Player", names, "player", default)
        name = address.kept_choice(
            "What counts", YARDSTICKS, "yardstick", shown=YARDSTICK_NAMES.__getitem__
        )
        yardstick = Yardstick(cast(YardstickName, name))
    address.settle("Coach", player)
    with heading, st.spinner("Working out what each lever is worth"):
        gains = context.gains_of(here.key, player, efforts, yardstick, here.system)
    face = (
        None if gains.problems else face_of(here.fit, player, gains, context.strikes(here, player))
    )
    plans = context.logged_changes(here, player)
    view = coach_view(gains, face, plans, here.system, context.promises(here, player))
    with heading:
        drawing.problems(view.problems)
        drawing.answer(view.headline, "" if next_step.says_the_answer(gains) else view.lead)
        if gains.first and view.usable:
            drawing.unlike(unlike_model(here, (gains.first,)))
        drawing.elsewhere(here.fit.problems_elsewhere(*DISTANCE_PARTS))
    later = next_step.section(here, gains)
    render(view)
    parts, questions = st.container(), st.container()
    _plan(view, here)
    _efforts(dict(view.efforts))
    if view.usable:
        with questions:
            what_if.section(here, player)
        with parts:
            render_drives(drives_of_player(here, gains))
            distance.section(here, player)
        first_levers(here, names, efforts, yardstick)
    later()
    AHEAD.likely(likely_next(here.key, player, efforts, yardstick, here.system))


def render(view: CoachView) -> None:
    """Draw everything under the answer."""
    if view.usable:
        _pictures(view)
        _details(view)


def _pictures(view: CoachView) -> None:
    left, right = st.columns([1, 1.15], gap="medium")
    with left:
        if view.gain_rows:
            chart = gain_chart(view.gain_rows)
            picture(chart, "gains", GAINS_CAPTION, view.gain_text, HOW_TO_READ_GAINS)
    with right:
        if view.face is not None:
            chart = face_chart(view.face)
            picture(chart, "face", FACE_CAPTION, view.face_text, HOW_TO_READ_FACE)


def render_drives(view: DrivesView) -> None:
    """Draw where the drives land, now and after the first lever."""
    st.header("Where the drives land", anchor=False)
    st.markdown(markdown(view.sentence))
    chart = landing_chart(view.drives)
    picture(chart, "landing", view.caption, view.sentence, HOW_TO_READ_DRIVES)


def _details(view: CoachView) -> None:
    if view.cautions:
        drawing.say(" ".join(view.cautions), "Take care.")
    drawing.table(LEVER_COLUMNS, view.levers, "There is nothing to rank.", ranges=True)
    with st.expander("Why: where each trait stands and how sure the order is"):
        st.markdown("**Where each trait stands, and what it is worth**")
        drawing.table(WORTH_COLUMNS, view.worth, "No trait was read.", ranges=True)
        st.markdown("**What else the best lever changes** (+ lands toward the open-face side)")
        drawing.table(BESIDES_COLUMNS, view.besides, "", ranges=True)
        st.markdown("**How sure the order is**")
        drawing.table(CHANCE_COLUMNS, view.chances, "")
        if view.remarks:
            drawing.bullets(view.remarks)


def first_levers(
    here: context.Here, names: Sequence[str], efforts: context.Efforts, yardstick: Yardstick
) -> None:
    """List everybody's first lever; worked out last, so that the answer above never waits.

    Of a large squad those of one page are worked out, and which lever is common is not said.
    """
    st.header("The squad", anchor=False)
    shown = [names[place] for place in page_of(names, "first levers")]
    place = st.empty()
    found = []
    said_at = time.monotonic()
    for done, name in enumerate(shown):
        if time.monotonic() - said_at > SAY_EVERY_S:
            said_at = time.monotonic()
            place.progress(done / len(shown), text=markdown(f"Working out what {name} has to gain"))
        found.append(context.gains_of(here.key, name, efforts, yardstick, here.system))
    place.empty()
    everybody = len(shown) == len(names)
    render_squad(squad_rows(found, here.system), squad_sentence(found) if everybody else "")


def render_squad(rows: Rows, common: str = "") -> None:
    """Draw the list of everybody's first lever, and which one is common."""
    if common:
        drawing.say(common)
    drawing.table(SQUAD_COLUMNS, rows, "No player is in the fit.", ranges=True)


def _kept_efforts() -> tuple[tuple[str, float], ...]:
    kept = st.session_state.get("kept efforts", {})
    return tuple((trait, float(kept[trait])) for trait in TARGETED if trait in kept)


def _efforts(logged: dict[str, float]) -> None:
    """Ask for the practice each trait takes; ``logged`` is what stands without an answer."""
    with (
        st.expander("Effort: how much practice each trait takes"),
        st.form("efforts", border=False),
    ):
        st.markdown("The order is by gain for each session of practice.")
        kept = dict(_kept_efforts())
        columns = st.columns(3)
        before = {t: kept.get(t, logged.get(t, DEFAULT_EFFORT_SESSIONS)) for t in TARGETED}
        asked = {
            trait: columns[place % 3].number_input(
                markdown(f"{trait_label(trait)} (sessions)"), 0.5, 200.0, sessions, 0.5
            )
            for place, (trait, sessions) in enumerate(before.items())
        }
        if st.form_submit_button("Rank again"):
            st.session_state["kept efforts"] = kept | {
                t: e for t, e in asked.items() if e != before[t]
            }
            st.rerun()


def _plan(view: CoachView, here: context.Here) -> None:
    drawing.heading(f"Plan for {view.player}")
    if here.may_store:
        _agree(view, here)
    for sentence in st.session_state.pop(NOT_PROMISED, ()):
        st.text(sentence)
    if not view.plans:
        st.markdown("Nothing is logged yet.")
    for plan in view.plans:
        text, button = st.columns([5, 1], vertical_alignment="center")
        with text:
            drawing.say(plan.text)
            if plan.promised:
                drawing.quietly(plan.promised)
        if here.may_store and button.button("Remove", key=f"remove change {plan.change_id}"):
            here.store.delete_change(plan.change_id)
            st.rerun()


def _agree(view: CoachView, here: context.Here) -> None:
    """Ask for a change that was agreed, and log it."""
    labels = dict(view.traits)
    with st.expander("Agree a change and log it"):
        trait = st.selectbox("Trait to work on", list(labels), format_func=labels.__getitem__)
        drawing.bullets((*cautions_for(str(trait)), *PRACTICE_CAUTIONS))
        with st.form("plan", border=False):
            left, right = st.columns(2)
            name = left.text_input("Name of the drill or change", max_chars=80)
            kind = right.selectbox("Kind", CHANGE_KINDS)
            start = left.date_input("Starts on", date.today())
            effort = right.number_input("Practice (sessions)", 0.5, 200.0, 4.0, 0.5)
            note = st.text_input("Note (optional)", max_chars=200)
            if st.form_submit_button("Log this change", type="primary"):
                player = here.called.stored(view.player)
                _log(_change(player, str(trait), name, kind, start, effort, note), here)


def _change(
    player: str, trait: str, name: str, kind: str, start: object, effort: float, note: str
) -> Change:
    return Change(
        player=player,
        start=cast(date, start),
        kind=cast(ChangeKind, kind),
        name=name.strip(),
        trait=trait,
        effort_sessions=float(effort),
        note=note.strip() or None,
    )


def _log(change: Change, here: context.Here) -> None:
    if not change.name:
        st.error("Name of the drill: found nothing, wanted a few words such as 'tee it higher'.")
        return
    try:
        _, promised = logged_with_promises(here.store, lambda: here.store.add_changes([change]))
    except TrackerError as error:
        drawing.refused(here.called.in_text(str(error)))
        return
    without = without_sentences(promised.without)
    st.session_state[NOT_PROMISED] = tuple(here.called.in_text(said) for said in without)
    st.rerun()
