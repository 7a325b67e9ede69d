"""The player's page: is my change real, drawn from its view, with windows to pick."""

from datetime import date
from typing import cast

import streamlit as st

from tracker.charts.change import change_chart
from tracker.charts.trend import trend_chart
from tracker.decisions.distance.yardstick import TOWARD
from tracker.decisions.verdict.verdict import default_windows, offered_windows
from tracker.errors import TrackerError
from tracker.fits.beliefs import belief_words
from tracker.pages import promises
from tracker.pages.player_view import Beside, PlayerView, ScatterText, modelled_traits, player_view
from tracker.pages.shared import address, context, drawing, opening
from tracker.pages.shared.checks_view import unlike_model
from tracker.pages.shared.hand_over import paper_buttons
from tracker.pages.shared.judging import WORKING, Judged, judged, limit_of, limit_words
from tracker.pages.shared.phrases import trait_label
from tracker.pages.shared.picture import picture
from tracker.pages.shared.waiting import waited
from tracker.pages.shared.yardsticks import kept_yardstick
from tracker.player_trait import Window
from tracker.report.paper import Paper, with_about
from tracker.report.player_paper import player_paper

HOW_TO_READ_TREND = (
    "Line: the tendency, that is, where shots land on average once day-to-day noise is taken out; "
    "dark band: 50 % sure, light band: 90 % sure. Dots: what was read each session, with a line "
    "for the luck of few shots (90 % sure). Dashed: logged changes; dotted frame: where a change "
    "lies that nobody logged, where one is likelier than not. Grey columns: the dates compared. "
    "Dashed frame across: the target, where this trait does best for this player's own drives."
)
TREND_CAPTION = (
    "Line and bands: the tendency, 50 % and 90 % sure; dots: what was read, 90 % sure; dashed "
    "across: the target."
)
CHANGE_CAPTION = "Above: before and after; below: the change, and grey what is too small to matter."
HOW_TO_READ_CHANGE = (
    "Top: where the tendency was before and is after; the less they overlap, the surer the "
    "change. Bottom: the change itself; the part inside the grey zone is too small to matter."
)


def page() -> None:
    """Show the player's page for the stored fit."""
    here = opening.open_page(earlier=True)
    if here is None:
        return
    fit = here.fit
    heading, chooser = st.columns([3, 1], vertical_alignment="top")
    with chooser:
        names = [p.name for p in fit.players]
        somebody, _ = context.telling_of(here.key)
        player = address.kept_choice("Player", names, "player", somebody)
        traits = [t for t in modelled_traits(fit) if fit.of(player, t).is_read]
        if not traits:
            address.settle("Player", player)
            with heading:
                drawing.answer("Nothing to judge yet.", f"No reading of {player} is in the fit.")
            return
        _, telling = context.telling_of(here.key, player)
        trait = address.kept_choice("What", traits, "trait", telling, trait_label)
    address.settle("Player", player)
    try:
        windows = address.kept_windows(player, trait) or default_windows(fit, player, trait)
        yardstick = kept_yardstick()
        with heading, st.spinner(WORKING):
            found = waited(lambda: judged(here, player, trait, windows, yardstick))
            view = player_view(fit, found.verdict, here.system, _beside(here, trait, found))
    except TrackerError as error:
        with heading:
            drawing.problems(fit.problems_of(trait))
            drawing.answer("Too early to say.", str(error))
        return
    with heading:
        drawing.problems(view.problems)
        drawing.answer(view.headline, view.lead)
        if view.worth:
            drawing.say(view.worth, "What it is worth.")
        drawing.unlike(view.unlike)
        if view.settle:
            drawing.say(view.settle, "What next." if view.next_step else "What would settle it.")
        if view.unlogged:
            _unlogged(view.unlogged, player, trait, windows, offered_windows(fit, player, trait))
        drawing.elsewhere(fit.problems_elsewhere(trait))
    render(view)
    promises.player_section(here, player)
    _windows(player, trait, windows)
    paper_buttons(lambda: _paper(here, player), "player-report")


def _paper(here: context.Here, player: str) -> Paper:
    """Return the player's page for paper, on the latest change and the first lever."""
    gains = context.gains_of(here.key, player, (), TOWARD, here.system)

    def limit(trait: str, logged: bool) -> float:
        return limit_of(here.key, trait, logged).value

    strikes, today = context.strikes(here, player), date.today()
    paper = player_paper(here.fit, gains, strikes, limit, printed=today, system=here.system)
    return with_about(paper, belief_words(here.fit)) if here.key.earlier else paper


def _unlogged(
    sentence: str,
    player: str,
    trait: str,
    now: tuple[Window, Window],
    offered: tuple[Window, Window] | None,
) -> None:
    """Say that something changed which nobody logged, and offer to judge it."""
    drawing.say(sentence, "Not logged.")
    if offered is None:
        st.caption("Two sessions on either side of it are needed before it can be judged.")
    elif offered == now:
        st.caption("The dates compared are those before and after it.")
    elif st.button("Compare before and after it"):
        address.keep_windows(player, trait, offered)
        st.rerun()


def _beside(here: context.Here, trait: str, found: Judged) -> Beside:
    return Beside(
        levels=found.levels,
        limit=limit_words(found.limit, logged=found.logged, offered=found.offered),
        scatter=found.scatter,
        scatter_why_not=found.scatter_why_not,
        unlike=unlike_model(here, (trait,)),
        worth=found.worth,
    )


def render(view: PlayerView) -> None:
    """Draw everything under the answer."""
    if view.problems:
        return
    chart = trend_chart(view.trend)
    picture(chart, "trend", TREND_CAPTION, view.trend_text, HOW_TO_READ_TREND)
    for guard in view.guards:
        drawing.note(guard)
    if view.change is not None:
        st.header("How sure is that?", anchor=False)
        chart = change_chart(view.change)
        picture(chart, "change", CHANGE_CAPTION, view.change_text, HOW_TO_READ_CHANGE)
        drawing.say(view.change_text)
    if view.scatter.words:
        st.header("Are single shots closer together?", anchor=False)
        _render_scatter(view.scatter)
    st.header("Where the noise comes from", anchor=False)
    drawing.bullets(view.noise)
    with st.expander("Why: the numbers behind the verdict"):
        drawing.bullets(view.why)
    if view.limit:
        with st.expander("How sure is sure enough, and why"):
            drawing.bullets(view.limit)


def _render_scatter(text: ScatterText) -> None:
    if not text.sentence:
        drawing.say(text.words)
        return
    drawing.say(text.sentence, text.words)
    for guard in text.guards:
        drawing.note(guard)
    drawing.say(text.settle)


def _windows(player: str, trait: str, now: tuple[Window, Window]) -> None:
    with st.expander("Compare other dates"), st.form("windows", border=False):
        left, right = st.columns(2)
        before = left.date_input("Before", (now[0].start, now[0].end))
        after = right.date_input("After", (now[1].start, now[1].end))
        if st.form_submit_button("Compare these"):
            picked = _window(before), _window(after)
            if picked[0] is None or picked[1] is None:
                st.error("Dates: found one date, wanted a first and a last day for each window.")
                return
            address.keep_windows(player, trait, (picked[0], picked[1]))
            st.rerun()
    if address.kept_windows(player, trait) and st.button("Back to the suggested dates"):
        address.keep_windows(player, trait, None)
        st.rerun()


def _window(picked: object) -> Window | None:
    days = cast(tuple[date, ...], picked if isinstance(picked, tuple) else (picked,))
    return Window(days[0], days[1]) if len(days) == 2 else None
