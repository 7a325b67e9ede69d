"""The board on the squad's page: lead first, tables with units, files safe for a spreadsheet."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from tests.fits import BROKEN, day, make_fit, with_info
from tests.pages import draw, drawn_by
from tracker.decisions.board.changed import who_changed
from tracker.decisions.board.look import Look
from tracker.decisions.board.start_now import squad_start_now
from tracker.decisions.board.unclaimed import unclaimed
from tracker.decisions.distance.gain import squad_levers
from tracker.decisions.distance.yardstick import TOWARD
from tracker.fits.kept_fits import keep_fit
from tracker.interval import Interval
from tracker.pages import squad as squad_module
from tracker.pages.board_view import changed_view, look_view, start_view, unclaimed_view
from tracker.pages.shared import opening
from tracker.records import Change, Labels
from tracker.store.store import Store

UP = "strike_up_mm"
ODD = "=cmd|' /C calc'!A1"


def still(*levels, samples=40):
    return np.tile(np.asarray(levels, dtype=float), (samples, 1))


@pytest.fixture
def squad():
    return make_fit(
        {ODD: {UP: still(-8, -8, -4, -4)}, "Bo": {UP: still(1, 1, 1, 1)}},
        samples=40,
        changes=[Change(ODD, day(10), "drill", "*ladder*", UP)],
        change_effect={0: {UP: 4.0}},
    )


def rows_of(content):
    return list(csv.DictReader(io.StringIO(content.decode())))


def starts(squad, worth=None, problems=()):
    rows = squad_start_now(squad, (ODD, "Bo"), UP)
    return start_view(rows, rows, worth or {}, problems, "yards")


def test_a_step_is_said_as_a_step_and_never_a_month(squad):
    view = starts(squad)
    assert view.lead == (
        "From the first third to the latest 1 of 2 players moved for sure (90 %). A move at one "
        "moment is settled for 1, a creep for nobody."
    )
    assert view.rows[0][4] == "+4.0 mm (+4.0 to +4.0) at once: *ladder*, 15 Jan 2026"
    assert view.rows[1][4] == "no step and no creep is settled"
    assert not any("a month" in cell for row in view.rows for cell in row)


def test_worth_has_its_unit_and_interval_and_a_doubt_hides_it_alone(squad):
    worth = {ODD: Interval(9.144, 4.572, 13.716, "m")}
    assert starts(squad, worth).rows[0][5] == "+10 yd (+5 to +15)"
    doubted = starts(squad, worth, ("Physics: 7 divergent draws",))
    assert doubted.rows[0][5] == "not said"
    assert doubted.rows[0][3].startswith("+4.0 mm")
    assert rows_of(doubted.csv)[0]["worth_at_like_speed"] == ""


def test_files_hold_plain_numbers_and_no_formula(squad):
    first = rows_of(starts(squad).csv)[0]
    assert first["player"] == f"'{ODD}"
    assert (first["change"], first["unit"]) == ("4", "mm")
    flags = changed_view(who_changed(squad, (UP,), lambda *_: 0.9), "yards")
    (row,) = rows_of(flags.csv)
    assert row["player"] == f"'{ODD}"
    assert row["logged"] == "*ladder*"


def test_nobody_yet_says_what_to_do():
    view = start_view((), (), {}, (), "yards")
    assert view.lead == "Nobody has readings on two days yet: measure another session."
    one_day = make_fit({"Ann": {}}, days=(0,))
    assert "Measure on." in changed_view(who_changed(one_day, (UP,), lambda *_: 0.9), "yards").lead


def test_a_method_that_others_make_up_for_needs_no_look():
    found = (
        Look("Ann", "unseen", last=day(0), days=90),
        Look("Bo", "method", UP, methods=("photo", "spray")),
        Look("Cy", "method", UP, methods=("photo", "spray"), linked=False),
    )
    view = look_view(found, 5, "yards")
    assert view.lead == "2 of 5 players."
    assert [row[0] for row in view.rows] == ["Ann", "Cy"]
    assert [row[0] for row in view.allowed] == ["Bo"]
    assert len(rows_of(view.csv)) == 3


def test_what_is_unclaimed_is_said_in_the_readers_units_with_every_player():
    fit = make_fit({"Ann": {UP: -12.0, "attack_deg": -4.0}, "Bo": {}}, level_sd=1.0)
    view = unclaimed_view(unclaimed(squad_levers(fit)), TOWARD, "metres")
    assert " m (" in view.lead
    assert "toward the target is left unclaimed" in view.lead
    assert {row[0] for row in view.rows} == {"Ann", "Bo"}
    doubt = unclaimed_view(
        unclaimed(squad_levers(make_fit({"Ann": {}}, report=BROKEN))), TOWARD, "yards"
    )
    assert doubt.problems
    assert doubt.rows == ()
    assert "No number" in doubt.lead


def squad_page():
    from tracker.pages.squad import page

    page()


def run_page():
    page = drawn_by(squad_page).run()
    assert not page.exception
    return page


def headers(page):
    return [h.value for h in page.header]


def test_the_page_shows_every_part_of_the_board(academy):
    page = run_page()
    assert [h for h in headers(page) if h != "Promised and found"] == [
        "The season, player by player",
        "Which drill works",
        "Who changed",
        "Who needs a look",
        "Left unclaimed",
    ]


def test_filters_leave_the_group_that_is_asked_for(academy):
    academy.set_labels("Alder", {"group": "seniors"})
    page = run_page()
    group = next(box for box in page.selectbox if box.label == "Group")
    assert group.options == ["everybody", "seniors"]
    group.set_value("seniors").run()
    assert "only Alder has readings" in page.title[0].value
    assert page.query_params["group"] == "seniors"


def keep_labels(page, players, group="", coach="", none=False):
    page.multiselect[0].set_value(players)
    for field, word in zip(page.text_input, (group, coach), strict=True):
        field.set_value(word)
    page.checkbox[0].set_value(none)
    next(b for b in page.button if b.label == "Keep").click().run()
    assert not page.exception


def test_group_and_coach_are_said_on_the_page_and_filter_it(academy):
    page = run_page()
    keep_labels(page, ["Alder", "Cedar"], " [A] team ", "Kim")
    assert academy.labels("Alder")["Alder"] == Labels("[A] team", "Kim")
    keep_labels(page, ["Cedar"], "", "=Lee")
    assert academy.labels("Cedar")["Cedar"] == Labels("[A] team", "=Lee")
    coach = next(box for box in page.selectbox if box.label == "Coach")
    assert coach.options == ["everybody", "=Lee", "Kim"]
    keep_labels(page, ["Cedar"], none=True)
    assert academy.labels("Cedar")["Cedar"] == Labels(None, None)
    keep_labels(page, [], "B team")
    assert page.error[0].value.startswith("Nothing was kept: choose players")


def test_since_leaves_out_who_has_not_been_seen_and_nobody_left_is_said(academy):
    page = run_page()
    since = page.date_input[0]
    assert since.value == day(0)
    since.set_value(day(14)).run()
    assert not page.exception
    assert page.query_params["since"] == day(14).isoformat()


def test_only_the_trait_in_doubt_is_held_back(store: Store, academy):
    from tests.tracker.pages.academy import small_fit

    fit = small_fit()
    doubtful = with_info(fit, replace(fit.info, reports={"face_deg": BROKEN}))
    keep_fit(store, doubtful, store.shots_frame(), sessions=8, shots=120)
    page = run_page()
    assert "Left unclaimed" in headers(page)
    assert any("did not pass their checks" in m.value for m in page.markdown)
    assert "The season, player by player" in headers(page)


def test_what_the_page_shows_first_is_worked_out_ahead(academy, monkeypatch):
    def asked_again(*asked, **how):
        raise AssertionError("worked out while the reader waits")

    opening.work_out_counts()
    squad_module.work_out_ahead()
    for name in ("who_changed", "who_needs_a_look", "squad_start_now", "moves_of", "unclaimed"):
        monkeypatch.setattr(f"tracker.pages.board.{name}", asked_again)
    monkeypatch.setattr("tracker.pages.shared.freshness._look", asked_again)
    shown = [heading.value for heading in draw("squad").header]
    assert {"Who changed", "Who needs a look", "Left unclaimed"} <= set(shown)
