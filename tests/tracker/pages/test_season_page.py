"""The season's page answers first, shows who did what, and plans only when asked."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from tests.fits import BROKEN, make_fit, with_info
from tests.pages import drawn_by
from tests.tracker.decisions.season.plans import design, plan_of, retest
from tests.tracker.pages.academy import LEVELS, keep, shots
from tracker.decisions.season.what_works import what_works
from tracker.pages.season_view import PLAN_COLUMNS, plan_view, works_view
from tracker.pages.shared.long_table import PAGE

WHEN = datetime(2026, 9, 1, 8, tzinfo=UTC)


def view(fit, system="yards"):
    return works_view(fit, what_works(fit), system)


def draw(view):
    from tracker.pages.season import render

    render(view)


def draw_plan(view):
    from tracker.pages.season import render_plan

    render_plan(view)


def season():
    from tracker.pages.season import page

    page()


def text_of(page):
    return " ".join(m.value for m in [*page.markdown, *page.caption])


def downloads_of(page):
    return {button.label for button in page.get("download_button")}


def columns_of(page):
    return [tuple(t.value.columns) for t in page.table]


def planned(**gains):
    return plan_of(gains, {name: retest(name, design(6, 0.85)) for name in gains})


def test_what_works_is_answered_first_with_its_doubt(fit):
    shown = view(fit)
    assert shown.headline == "Tee it higher works for strike height."
    assert "+4.0 mm (90 % sure between +3.2 and +4.8 mm)" in shown.lead


def test_page_shows_effects_then_who_did_what_with_units(fit):
    page = drawn_by(draw, kwargs={"view": view(fit)}).run()
    assert not page.exception
    works, more, who = (t.value for t in page.table)
    assert works.loc[0, "Effect"] == "+4.0 mm (+3.2 to +4.8)"
    assert works.loc[0, "So far"] == "Works; how much is open"
    assert works.loc[1, "Change"] == "a new drill for strike height"
    assert more.loc[0, "Spread between players"] == "one player only"
    assert who.loc[0, "Player"] == "Cedar"
    assert re.fullmatch(r"-8\.2 mm \(-\d\.\d to -\d\.\d\)", who.loc[0, "Stood at"])
    assert who.loc[0, "Result"] == "Helped; how much is open"
    assert "kept apart" in text_of(page)
    assert {"What works as CSV", "Who did what as CSV"} <= downloads_of(page)


def test_units_follow_the_reader():
    fit = make_fit(
        {"Cedar": {"club_speed_mps": 44.0}}, changes=(speed_change(),),
        change_effect={0: {"club_speed_mps": 0.44704}},
        drill_effect={"step drill": {"club_speed_mps": 0.44704}},
    )  # fmt: skip
    assert view(fit).rows[0][2] == "+1.0 mph (+1.0 to +1.0)"
    assert view(fit, "metres").rows[0][2] == "+1.6 km/h (+1.6 to +1.6)"


def speed_change():
    from tests.fits import day
    from tracker.records import Change

    return Change("Cedar", day(10), "drill", "step drill", "club_speed_mps")


def test_without_changes_it_says_what_to_do_and_shows_no_table():
    shown = view(make_fit(LEVELS))
    assert shown.headline.startswith("No change is logged yet")
    assert "Coach page" in shown.lead
    page = drawn_by(draw, kwargs={"view": shown}).run()
    assert not page.table


def test_a_fit_in_doubt_shows_problems_and_no_table(fit):
    shown = view(with_info(fit, replace(fit.info, reports={"strike_up_mm": BROKEN})))
    assert len(shown.problems) == 3
    assert shown.rows == ()
    page = drawn_by(draw, kwargs={"view": shown}).run()
    assert not page.table


def test_tables_for_spreadsheets_are_safe_and_hold_the_numbers(fit):
    lines = view(fit).who_csv.decode().splitlines()
    assert lines[0].startswith("player,change,trait,unit,begun,stood_at,target,effect")
    assert lines[1].startswith("Cedar,tee it higher,strike_up_mm,mm,2026-01-15,-8.2,")
    odd = plan_view(planned(**{"=cmd": 5.0}), "yards", WHEN)
    assert "\n'=cmd,tee ladder for strike height" in odd.plan_csv.decode()


def test_a_plan_is_shown_with_dates_doubt_and_cautions():
    made = plan_view(planned(Ann=5.2, Cy=0.1), "yards", WHEN)
    page = drawn_by(draw_plan, kwargs={"view": made}).run()
    assert not page.exception
    plan, left = (t.value for t in page.table)
    assert plan.loc[0, "From"] == "7 Sep"
    assert plan.loc[0, "Gain"] == "+6 yd (+4 to +7)"
    assert plan.loc[0, "Retest"].startswith(
        "21 Sep: 6 sessions of 15 shots, shows it with a chance of about"
    )
    assert left.loc[0, "Why not"] == "No lever is expected to pay"
    assert "A coach decides" in text_of(page)
    assert downloads_of(page) == {"Plan as CSV", "Plan for a calendar"}


def test_nobody_planned_offers_no_calendar():
    made = plan_view(planned(Cy=0.1), "yards", WHEN)
    page = drawn_by(draw_plan, kwargs={"view": made}).run()
    assert downloads_of(page) == {"Plan as CSV"}


def test_a_plan_from_a_doubtful_fit_gives_no_number():
    made = plan_view(replace(planned(Ann=5.0), problems=("Physics: off.",)), "yards", WHEN)
    page = drawn_by(draw_plan, kwargs={"view": made}).run()
    assert not page.table
    assert page.subheader[0].value == "No plan from this fit."


def test_whole_page_plans_when_asked_and_keeps_what_was_asked(academy):
    page = drawn_by(season).run()
    assert not page.exception
    assert page.title[0].value == "Tee it higher works for strike height."
    assert PLAN_COLUMNS not in columns_of(page)
    page.number_input[0].set_value(8)
    page.button(key="FormSubmitter:season-Plan the season").click().run()
    assert not page.exception
    assert "8 weeks" in page.subheader[0].value
    assert PLAN_COLUMNS in columns_of(page)
    assert page.session_state["kept season asked"][1].weeks == 8


def test_a_squad_of_two_columns_without_changes_is_told_what_to_do(store):
    store.add_shots(shots())
    keep(store, make_fit(LEVELS))
    page = drawn_by(season).run()
    assert not page.exception
    assert page.title[0].value.startswith("No change is logged yet")
    assert page.header[0].value == "Plan of the season"


@pytest.mark.parametrize("day", [date(2026, 9, 7)])
def test_the_calendar_holds_each_block(day):
    made = plan_view(planned(Ann=5.0), "yards", WHEN)
    assert made.calendar.count(b"BEGIN:VEVENT") == 2
    assert f"DTSTART;VALUE=DATE:{day:%Y%m%d}".encode() in made.calendar


def test_who_did_what_is_shown_in_pages_and_found_by_name(fit):
    shown = view(fit)
    many = replace(shown, who=tuple((f"P{i:03d}", *shown.who[0][1:]) for i in range(60)))
    page = drawn_by(draw, kwargs={"view": many}).run()
    who = next(t.value for t in page.table if "Stood at" in t.value.columns)
    assert len(who) == PAGE
    page.text_input(key="find who did what").set_value("p042").run()
    who = next(t.value for t in page.table if "Stood at" in t.value.columns)
    assert list(who["Player"]) == ["P042"]
