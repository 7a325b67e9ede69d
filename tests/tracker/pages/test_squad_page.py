"""The squad's page says who leads or who cannot be told apart, never a bare rank."""

from dataclasses import replace

import pytest

from tests.fits import BROKEN, with_info
from tests.pages import drawn_by
from tracker.decisions.squad import DrillRow, SquadRow
from tracker.interval import Interval
from tracker.pages.squad_view import squad_view

TREND = Interval(1.2, 0.4, 2.0, "mm per month")
FLAT = Interval(0.1, -0.5, 0.7, "mm per month")


def row(player, median, rank90=(1, 2), tied=(), trend=FLAT):
    level = Interval(median, median - 1, median + 1, "mm")
    return SquadRow(player, level, trend, sum(rank90) / 2, rank90, 0.9, tied)


LEADS = (row("Alder", 2.0, (1, 1)), row("Cedar", -4.0, (2, 2), trend=TREND))
DRILL = DrillRow("tee it higher", "drill", "strike_up_mm", Interval(3.1, 1.9, 4.2, "mm"), 0.999, 4)


def view(fit, table=LEADS, drills=(DRILL,), system="yards"):
    return squad_view(fit, "strike_up_mm", table, drills, system)


def draw(view):
    from tracker.pages.squad import render, render_drills

    render(view)
    render_drills(view)


def test_clear_leader_is_named(fit):
    assert view(fit).headline.startswith(
        "Strike height: Alder clearly leads, at +2.0 mm (90 % sure"
    )


def test_ahead_of_each_other_player_is_not_yet_ahead_of_all(fit):
    table = (row("Alder", 2.0, (1, 2)), row("Cedar", -4.0, (1, 4)))
    assert view(fit, table).headline == (
        "Strike height: Alder is probably at the top, 90 % sure among the first 2."
    )


def test_nobody_apart_is_said(fit):
    tied = (row("Alder", 2.0, tied=("Cedar",)), row("Cedar", 1.8, tied=("Alder",)))
    assert view(fit, tied).headline == "Strike height: nobody can be told apart yet."


def test_tied_top_is_counted(fit):
    table = (row("Alder", 2, tied=("Cedar",)), row("Cedar", 2, tied=("Alder",)), row("Cedar", 9))
    assert view(fit, table).headline == "Strike height: 2 of 3 cannot be told apart at the top."


def test_working_drill_is_named_with_its_effect(fit):
    assert view(fit).lead == (
        "Tee it higher moves it 3.1 mm toward the crown "
        "(90 % sure between +1.9 and +4.2 mm), tried by 4 players."
    )


def test_unsettled_drill_is_not_praised(fit):
    unsure = replace(DRILL, effect=Interval(1.0, -2.0, 4.0, "mm"), p_positive=0.7)
    assert "settled effect yet" in view(fit, drills=(unsure,)).lead


def test_drill_for_another_trait_does_not_count_here(fit):
    assert "No drill is logged" in view(fit, drills=(replace(DRILL, trait="attack_deg"),)).lead


def test_places_are_always_intervals(fit):
    shown = view(fit)
    assert shown.levels[0][2] == "place 1"
    wide = view(fit, (row("Alder", 2.0, (1, 2)), row("Cedar", 1.0, (1, 2))))
    assert wide.levels[0][2] == "place 1 to 2"


def test_only_settled_trends_are_worth_a_look(fit):
    moving = view(fit).moving
    assert "Cedar +1.2 mm (90 % sure between +0.4 and +2.0 mm) a month" in moving
    assert "Alder" not in moving


def test_page_shows_levels_and_drills_with_units(fit):
    page = drawn_by(draw, kwargs={"view": view(fit)}).run()
    assert not page.exception
    levels, drills = (t.value for t in page.table)
    assert levels.loc[1, "Level"] == "-4.0 mm (-5.0 to -3.0)"
    assert drills.loc[0, "Effect"] == "+3.1 mm (+1.9 to +4.2)"
    assert drills.loc[0, "Direction"] == "nearly certain toward the crown"


def test_picture_takes_the_50_percent_ends_from_the_draws(fit):
    # level draws are normal with SD 0.4 about -3.8: quartiles at 0.6745 SD, about -4.07 and -3.53
    low, high = view(fit).rows[1].half
    assert (low, high) == pytest.approx((-4.07, -3.53), abs=0.06)


def test_doubt_about_another_trait_hides_only_its_drills(fit):
    doubtful = with_info(fit, replace(fit.info, reports={"attack_deg": BROKEN}))
    shown = view(doubtful, drills=(replace(DRILL, trait="attack_deg"), DRILL))
    assert shown.problems == ()
    assert [line[1] for line in shown.drills] == ["strike height"]
    other = squad_view(doubtful, "attack_deg", LEADS, (DRILL,), "yards")
    assert other.headline == "No ranking from this fit."
    assert len(other.problems) == 3


def test_broken_fit_compares_nobody(fit):
    broken = with_info(fit, replace(fit.info, report=BROKEN))
    shown = view(broken)
    assert shown.headline == "No ranking from this fit."
    page = drawn_by(draw, kwargs={"view": shown}).run()
    assert not page.exception
    assert not page.table
