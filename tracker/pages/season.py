"""The season's page: what works, who did what, and the plan, drawn from their views."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from functools import partial
from typing import cast

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from tracker.charts.effect import effect_chart
from tracker.decisions.distance.gain import for_players
from tracker.decisions.distance.gain_answer import Gains
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.season.assignment import Capacity
from tracker.decisions.season.plan import SeasonPlan, season_plan
from tracker.decisions.season.programme import MOST_A_WEEK, season_retest
from tracker.decisions.season.what_works import TraitWorks, what_works
from tracker.decisions.verdict.retest import RetestPlan
from tracker.pages.season_view import (
    LEFT_COLUMNS,
    MORE_COLUMNS,
    PLAN_COLUMNS,
    WHO_COLUMNS,
    WORKS_COLUMNS,
    PlanView,
    WorksView,
    plan_view,
    works_view,
)
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.ahead import AHEAD, Work
from tracker.pages.shared.checks_view import unlike_model
from tracker.pages.shared.judging import limit_of
from tracker.pages.shared.long_table import paged_table
from tracker.pages.shared.once import once
from tracker.pages.shared.picture import picture
from tracker.pages.shared.waiting import waited
from tracker.plain import markdown

HOW_TO_READ_EFFECTS = (
    "One line a change: what it does by itself on average over players, 90 % sure; the dot is the "
    "best guess. Upright line: no effect. Grey band: smaller than what matters. Grey line: what a "
    "drill that nobody has tried may do."
)
CAPTION = "Lines: 90 % sure; upright: no effect; grey band: smaller than what matters."
KEPT = "kept season asked"
"""What was asked of the plan, so that it stands when the page is come back to."""
Asked = tuple[date, Capacity, int]
"""First day, what the squad has, and sessions a week of one player."""


def page() -> None:
    """Show the season's page for the stored fit."""
    here = opening.open_page(earlier=True)
    if here is None:
        return
    address.settle("Season")
    with st.spinner("Working out what each change did"):
        works = waited(lambda: works_of(here.key))
    view = works_view(here.fit, works, here.system)
    drawing.problems(view.problems)
    drawing.answer(view.headline, view.lead)
    if view.traits:
        drawing.unlike(unlike_model(here, view.traits))
    drawing.elsewhere(view.elsewhere)
    render(view)
    st.header("Plan of the season", anchor=False)
    asked = _asked()
    if asked is not None:
        plan = _plan(here, *asked)
        render_plan(plan_view(plan, here.system, datetime.now(UTC)))
    else:
        AHEAD.likely(likely_next(here.key))


def likely_next(key: context.FitKey) -> Iterator[Work]:
    """Yield what a plan asks of each player, at one session a week; none of a large squad."""
    names = [player.name for player in context.stored_fit(key).players]
    if len(names) <= context.WARMED:
        for name in names:
            yield partial(_asked_of_player, key, name, 1)


def work_out_ahead() -> None:
    """Work out ahead what works."""
    key = context.latest_key()
    if key is not None:
        works_of(key)


def render(view: WorksView) -> None:
    """Draw everything that works under the answer."""
    if view.problems or not view.rows:
        return
    for drawn in view.pictures:
        chart = effect_chart(drawn.rows, drawn.label, drawn.positive)
        picture(chart, f"effects {drawn.trait}", CAPTION, drawn.text, HOW_TO_READ_EFFECTS)
    drawing.table(WORKS_COLUMNS, view.rows, "", ranges=True)
    drawing.say(" ".join(view.notes))
    with st.expander("How far players differ, what it costs to choose it, what would settle it"):
        paged_table(MORE_COLUMNS, view.more, "", "more of what works", ranges=True)
    with st.expander("Who did what, with what result"):
        paged_table(WHO_COLUMNS, view.who, "", "who did what", ranges=True)
    left, right = st.columns(2)
    _download(left, "What works as CSV", view.works_csv, "what-works.csv")
    _download(right, "Who did what as CSV", view.who_csv, "who-did-what.csv")


def render_plan(view: PlanView) -> None:
    """Draw a season's plan."""
    drawing.problems(view.problems)
    st.subheader(markdown(view.headline), anchor=False)
    st.markdown(markdown(view.lead))
    if view.problems:
        return
    paged_table(PLAN_COLUMNS, view.rows, "", "plan", ranges=True)
    if view.rows:
        drawing.say(view.load)
        st.markdown(f"**Take care.** {markdown(' '.join(view.cautions))}")
    with st.expander(markdown(f"Left out: {len(view.left_out)}")):
        paged_table(LEFT_COLUMNS, view.left_out, "Nobody.", "left out")
    left, right = st.columns(2)
    _download(left, "Plan as CSV", view.plan_csv, "plan.csv")
    if view.rows:
        _download(right, "Plan for a calendar", view.calendar, "plan.ics", "text/calendar")


@once(8)
def works_of(key: context.FitKey) -> tuple[TraitWorks, ...]:
    """Return what works in a stored fit."""
    return what_works(context.stored_fit(key))


@once(512)
def retest_of(key: context.FitKey, player: str, trait: str, a_week: int) -> RetestPlan | None:
    """Return what would show a player's change at so many sessions a week."""
    limit = limit_of(key, trait, logged=True).value
    return season_retest(context.stored_fit(key), player, trait, limit, a_week)


@once(32)
def plan_of(key: context.FitKey, start: date, capacity: Capacity, a_week: int) -> SeasonPlan:
    """Return the plan of a season from what is worked out of every player."""
    names = [player.name for player in context.stored_fit(key).players]
    levers = [context.levers_of(key, name, TOWARD) for name in names]
    gains = [gains_of(key, name) for name in names]

    def retest(player: str, trait: str) -> RetestPlan | None:
        return retest_of(key, player, trait, a_week)

    return season_plan(
        levers, retest, start=start, capacity=capacity, a_player_a_week=a_week, gains=gains
    )


def gains_of(key: context.FitKey, player: str) -> Gains:
    """Return a player's levers as they are ranked for a plan; no word of theirs is shown."""
    return context.gains_of(key, player, (), TOWARD, "yards")


def _asked() -> Asked | None:
    """Ask what the squad has; None until a plan is asked for."""
    kept = cast(Asked | None, st.session_state.get(KEPT))
    start, capacity, pace = kept or (date.today(), Capacity(12, 10, 1), 1)
    st.markdown(
        "Each player's next change, its practice and a retest of it, put into the weeks so that "
        "the squad is expected to gain most. It takes a few seconds for each who may find a place."
    )
    with st.form("season", border=False):
        columns = st.columns(5, vertical_alignment="bottom")
        first = columns[0].date_input("First day", start)
        weeks = columns[1].number_input("Weeks", 1, 52, capacity.weeks)
        sessions = columns[2].number_input(
            "Sessions a week", 1, 200, capacity.sessions_a_week,
            help="Sessions that the coach can give in a week, for the whole squad.",
        )  # fmt: skip
        devices = columns[3].number_input(
            "Devices", 1, 20, capacity.devices, help="Players who can be measured in one session."
        )
        a_week = columns[4].number_input(
            "A player a week", 1, MOST_A_WEEK, pace, help="Sessions of one player; rest between."
        )
        if st.form_submit_button("Plan the season", type="primary"):
            whole = Capacity(int(weeks), int(sessions), int(devices))
            kept = first, whole, int(a_week)
            st.session_state[KEPT] = kept
    return kept


def _plan(here: context.Here, start: date, capacity: Capacity, a_week: int) -> SeasonPlan:
    """Work out everybody's levers, telling how far it is, then retests and the plan."""
    place = st.empty()

    def tell(done: int, of: int) -> None:
        place.progress(done / of, text=markdown(f"Levers of player {done} of {of}"))

    names = [player.name for player in here.fit.players]
    for_players(names, lambda name: gains_of(here.key, name), tell)
    place.empty()
    with st.spinner("Working out the retest of each who may find a place, and the plan"):
        return waited(lambda: plan_of(here.key, start, capacity, a_week))


def _asked_of_player(key: context.FitKey, name: str, a_week: int) -> None:
    first = gains_of(key, name).first
    if first is not None:
        retest_of(key, name, first, a_week)


def _download(
    place: DeltaGenerator,
    label: str,
    content: bytes,
    name: str,
    kind: str = "text/csv",
) -> None:
    place.download_button(markdown(label), content, name, kind, on_click="ignore")
