"""The next step on the coach's page: one sentence from here to yards, and the practice card."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import streamlit as st

from tracker.decisions.distance.gain_answer import Gains
from tracker.pages.shared import context, drawing
from tracker.pages.shared.judging import limit_of
from tracker.pages.shared.once import once
from tracker.pages.shared.waiting import waited
from tracker.plain import line
from tracker.report.next_goal import NextGoal, Retest, next_goal, next_retest
from tracker.units import System
from tracker.words import PRACTICE_CAUTIONS, cautions_for

CARD = "Practice card"
WORKING = "When we will know: working it out."


@dataclass(frozen=True, slots=True)
class NextStepView:
    """The sentence and the card; ``card`` is its text to take along, empty until it is whole."""

    sentence: str
    doubt: str
    """How sure it is that this comes first, and what to read next."""
    lines: tuple[str, ...]
    card: str = ""


def next_step_view(
    gains: Gains, system: System, retest: Retest | None, today: date
) -> NextStepView | None:
    """Return the next step of a player; None where no lever comes first."""
    goal = None if gains.problems else next_goal(gains, system, retest)
    if goal is None:
        return None
    doubt = f"{gains.doubt} {gains.measure_next}".strip()
    if retest is None:
        return NextStepView(goal.sentence, doubt, (*goal.lines, WORKING))
    return NextStepView(goal.sentence, doubt, goal.lines, _card(gains, goal, today))


def says_the_answer(gains: Gains) -> bool:
    """Return whether the next step says all that the page's answer would say under its headline."""
    reads_first = gains.measure is not None and gains.measure.beats_acting
    return not gains.problems and gains.best is not None and not reads_first


def _card(gains: Gains, goal: NextGoal, today: date) -> str:
    """Return the card as a text to print or to send."""
    cautions = (*cautions_for(gains.first or ""), *PRACTICE_CAUTIONS) if gains.first else ()
    lines = (f"{CARD}: {gains.player}, {today:%d %B %Y}", "", *goal.lines, "", *cautions)
    return "\n".join(line(text) for text in lines) + "\n"


def section(here: context.Here, gains: Gains) -> Callable[[], None]:
    """Draw the next step as far as it is known; what is returned adds when we will know.

    That takes seconds, so it is called when everything else has been drawn.
    """
    place = st.empty()
    today = date.today()
    first = next_step_view(gains, here.system, None, today)
    best = gains.best
    if first is None or best is None or best.trait is None:
        return lambda: None
    with place.container():
        render(first)
    trait, practice = best.trait, best.effort_sessions or 1.0

    def whole() -> None:
        asked = here.key.by_name, here.called.stored(gains.player), trait, practice
        found = waited(lambda: retest_of(*asked, today))
        said = Retest(here.called.in_text(found.takes), here.called.in_text(found.known_by))
        view = next_step_view(gains, here.system, said, today)
        if view is not None:
            with place.container():
                render(view)

    return whole


def ahead(key: context.FitKey, gains: Gains) -> None:
    """Work out ahead when we will know of a player's next step."""
    best = gains.best
    if best is not None and best.trait is not None:
        practice = best.effort_sessions or 1.0
        player = key.called.stored(gains.player)
        retest_of(key.by_name, player, best.trait, practice, date.today())


@once(256)
def retest_of(key: context.FitKey, player: str, trait: str, practice: float, today: date) -> Retest:
    """Return what a retest of a player's next change takes, in sessions, shots and days."""
    limit = limit_of(key, trait, logged=True).value
    fit = context.stored_fit(key)
    return next_retest(fit, player, trait, practice, limit, today=today)


def render(view: NextStepView) -> None:
    """Draw the sentence, and the card beside it."""
    left, right = st.columns([1, 1.15], gap="medium")
    with left:
        drawing.say(view.sentence)
        if view.doubt:
            drawing.say(view.doubt)
    with right, st.container(border=True):
        drawing.say("", f"{CARD}.")
        drawing.bullets(view.lines)
        if view.card:
            st.download_button(
                "Take the card along (text)",
                view.card,
                file_name="practice-card.txt",
                mime="text/plain",
                on_click="ignore",
                key="card as txt",
            )
