"""A page as an earlier fit had it: said so, without what came later, and nothing to store."""

from datetime import datetime

import pytest

from tests.fits import day, make_fit
from tests.pages import page_alone
from tests.tracker.pages.academy import CHANGES, LEVELS, keep
from tracker.fits.kept_promises import logged_with_promises
from tracker.pages.shared import address, context
from tracker.pages.shared.context import FitKey
from tracker.pages.shared.judging import limit_of
from tracker.records import Change, Shot

UP = "strike_up_mm"
LATER = Change("Cedar", day(40), "equipment", "higher tee pegs", UP, 2)
NEW_SESSION = datetime(2026, 2, 9)
SAID = "As believed by fit 1 of"


@pytest.fixture
def two_beliefs(academy):
    """Fit 1 as the academy has it; then a session, a change, and fit 2 that has Cedar at +9 mm."""
    academy.add_shots([Shot("Cedar", NEW_SESSION, n, {UP: 9.0}) for n in (1, 2, 3)])
    logged_with_promises(academy, lambda: academy.add_changes([LATER]))
    levels = {**LEVELS, "Cedar": {UP: [-8.0, -8.2, -4.0, -3.8, 9.0], "strike_toe_mm": 3.0}}
    days = {"Cedar": (0, 7, 14, 21, 35), "Alder": (0, 7, 14, 21)}
    keep(academy, make_fit(levels, days=days, changes=(*CHANGES, LATER)))
    return academy


def drawn(name, fit=""):
    page = page_alone(name)
    page.session_state["kept player"], page.session_state["kept trait"] = "Cedar", UP
    if fit:
        page.session_state["kept fit"] = fit
    page.run()
    assert not page.exception
    return page


def said(page):
    parts = (page.title, page.markdown, page.caption, page.warning, page.text)
    return "\n".join(one.value for part in parts for one in part)


@pytest.mark.parametrize("name", ["coach", "player", "squad", "season"])
def test_an_earlier_belief_is_announced_stands_in_the_address_and_leads_back(two_beliefs, name):
    page = drawn(name, "1")
    assert any(SAID in one.value for one in page.warning)
    assert page.query_params["fit"] == "1"
    back = next(button for button in page.button if button.label == "Back to now")
    back.click().run()
    assert SAID not in said(page)
    assert "fit" not in page.query_params


@pytest.mark.parametrize("name", ["trust", "physics", "live", "load"])
def test_other_pages_are_of_now_whatever_is_chosen(two_beliefs, name):
    page = drawn(name, "1")
    assert SAID not in said(page)
    assert "fit" not in page.query_params


def test_nothing_can_be_stored_from_an_earlier_belief(two_beliefs):
    def labels(page):
        return {button.label for button in page.button}

    assert {"Log this change", "Remove"} <= labels(drawn("coach"))
    assert not {"Log this change", "Remove"} & labels(drawn("coach", "1"))
    assert "Keep" in labels(drawn("squad"))  # group and coach
    assert "Keep" not in labels(drawn("squad", "1"))


def test_what_was_logged_and_promised_later_is_no_part_of_it(two_beliefs):
    assert "higher tee pegs" in said(drawn("coach"))
    now = drawn("coach", "1")
    assert "higher tee pegs" not in said(now)
    assert "tee it higher" in said(now)


def test_shots_of_later_sessions_are_no_part_of_it(two_beliefs, url):
    version = two_beliefs.data_version()
    then, now = FitKey(url, 1, earlier=True), FitKey(url, 2)
    assert NEW_SESSION in {s.session for s in context.shots_of_player(now, version, "Cedar")}
    seen = context.shots_of_player(then, version, "Cedar")
    assert {s.session for s in seen} == {datetime(2026, 1, 5 + 7 * n) for n in range(4)}
    assert len(context.squad_shots(now, version)) == len(context.squad_shots(then, version)) + 3


def test_promises_of_an_earlier_belief_are_those_made_by_it_or_before(two_beliefs, url):
    assert len(context.promises_known(FitKey(url, 1, earlier=True))) == 1  # of the later pegs
    two_beliefs.add_changes([Change("Alder", day(50), "drill", "towel", UP, 2)])
    logged_with_promises(
        two_beliefs,
        lambda: two_beliefs.add_changes([Change("Alder", day(60), "drill", "gate", UP)]),
    )
    assert len(context.promises_known(FitKey(url, 2))) == 2
    assert len(context.promises_known(FitKey(url, 1, earlier=True))) == 1


def test_the_limit_of_an_earlier_belief_leaves_the_latest_fits_in_place(two_beliefs, url):
    limit_of(FitKey(url, 2), UP, logged=True)
    kept = two_beliefs.setting(f"threshold.{UP}.change")
    assert kept is not None
    limit_of(FitKey(url, 1, earlier=True), UP, logged=True)
    assert two_beliefs.setting(f"threshold.{UP}.change") == kept


def test_a_fit_that_is_not_there_is_said_and_now_is_shown(two_beliefs):
    page = drawn("player", "77")
    assert "found '77' in the address, which is not here; now is shown." in said(page)
    assert SAID not in said(page)


def test_one_fit_alone_offers_no_earlier_belief(academy):
    assert "As believed on" not in {box.label for box in drawn("coach").selectbox}


def test_the_pages_that_offer_it_are_those_that_the_address_names():
    assert address.BY_A_FIT == ("Coach", "Player", "Squad", "Season")
