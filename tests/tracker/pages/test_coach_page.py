"""The coach's answer reads as a sentence with units, ties are named, problems come first."""

import pytest

from tests.pages import drawn_by
from tests.tracker.pages.academy import NEW_ATTACK, gains, lever, metres
from tracker.charts.face_map import FaceMap
from tracker.decisions.distance.gain_answer import Measure
from tracker.pages.coach_view import coach_view, squad_rows, squad_sentence
from tracker.pages.shared.long_table import PAGE
from tracker.records import Change
from tracker.store.rows import LoggedChange

FACE = FaceMap("right", ((3.0, -7.0),), None, None, None, (2.0, 8.0))


def view(one=None, *, face=FACE, plans=(), system="yards"):
    return coach_view(one or gains(), face, plans, system)


def draw(view):
    from tracker.pages.coach import render

    render(view)


def text_of(page):
    return " ".join([*(m.value for m in page.markdown), *(c.value for c in page.caption)])


def test_headline_is_the_lever_and_the_lead_the_answer_without_saying_it_again():
    shown = view(gains(measure_next="Of readings, one more."))
    assert shown.headline == "Cedar: tee ladder for strike height first."
    assert shown.lead == "The sentence. Of readings, one more."


def test_measure_first_is_the_headline_when_it_beats_acting():
    measured = gains(measure=Measure("attack_deg", 3.0, True, True))
    assert view(measured).headline == "Cedar: read attack angle first."
    assert view(measured).lead == "Cedar: the sentence."  # the headline names no lever
    acting = gains(measure=Measure("attack_deg", 3.0, True, False))
    assert view(acting).headline == "Cedar: tee ladder for strike height first."


def test_nothing_worthwhile_is_an_answer():
    shown = view(gains(first=None, first_lever=None, clear=False, tied=(), tied_levers=()))
    assert shown.headline == "Cedar: nothing is worth changing first."
    assert shown.cautions == ()


def test_a_lever_that_hangs_on_luck_is_no_answer():
    none = {"first": None, "first_lever": None, "clear": False, "tied": (), "tied_levers": ()}
    shown = view(gains(unsure=True, **none))
    assert shown.headline == "Cedar: nothing is worth acting on yet."


def test_unread_traits_stand_in_the_table_and_nowhere_else():
    shown = coach_view(gains(unread=("loft_deg", "club_speed_mps")), None, (), "yards")
    assert ("delivered loft", "not read", "", "", "", "", "") in shown.worth
    assert "club speed" not in {row[0] for row in shown.worth}  # no target in any case
    assert not any("delivered loft" in row[0] for row in shown.levers)


def test_nothing_read_names_no_lever_and_says_what_to_read():
    made = gains(fixes=(), levers=(), first=None, clear=False, tied=(), measure_next="Read it.")
    shown = coach_view(made, None, (), "yards")
    assert shown.headline == "Cedar: no lever can be named yet."
    assert shown.lead.endswith("Read it.")
    assert squad_rows([made], "yards") == (("Cedar", "not read", "", "", "", ""),)


def test_problem_fit_gives_no_number_and_no_table():
    broken = gains(
        problems=("chains disagree (R-hat 1.200, limit 1.01).",), first=None, levers=(), fixes=()
    )
    shown = view(broken)
    assert shown.headline == "Cedar: no answer from this fit."
    assert not any(c.isdigit() for c in shown.headline + shown.lead)
    page = drawn_by(draw, kwargs={"view": shown}).run()
    assert not page.exception
    assert not page.table
    assert text_of(page).strip() == ""


def test_swing_change_comes_with_a_caution():
    attack = gains(first="attack_deg", levers=(NEW_ATTACK,))
    assert any("lower back" in caution for caution in view(attack).cautions)
    page = drawn_by(draw, kwargs={"view": view(attack)}).run()
    assert "Take care" in text_of(page)


def test_picture_rows_are_in_the_shown_unit_and_hold_no_yardstick():
    # 6.4008 m = 7 yd, 11.8872 m = 13 yd (1 yd = .9144 m)
    rows = view().gain_rows
    assert [row.label for row in rows] == [
        "tee ladder for strike height", "a new drill for attack angle",
    ]  # fmt: skip
    assert (rows[0].gain.unit, round(rows[0].gain.median, 6)) == ("yd", 7.0)
    assert round(rows[0].gain.high90, 6) == 13.0
    assert [round(end, 4) for end in rows[0].half] == [round(5.4008 / 0.9144, 4), 8.0936]


def test_chance_of_being_the_best_choice_is_said_beside_each_lever():
    assert [row.chance for row in view().gain_rows] == ["about 8 in 10", "about 2 in 10"]
    assert (
        "tee ladder for strike height +7 yd toward the target (90 % sure between +2 and +13 yd), "
        "best choice in about 8 in 10"
    ) in view().gain_text


def test_page_shows_captions_and_tables_with_units():
    page = drawn_by(draw, kwargs={"view": view()}).run()
    assert not page.exception
    assert "90 % sure" in text_of(page)
    levers, worth, besides, chances = (t.value for t in page.table)
    assert list(levers["Lever"]) == [
        "tee ladder for strike height", "a new drill for attack angle",
        "1 mph more club speed (yardstick)",
    ]  # fmt: skip
    assert levers.loc[0, "Gain"] == "+7 yd (+2 to +13)"
    assert levers.loc[0, "A session"] == "+7 yd (+2 to +13)"
    assert levers.loc[0, "Stays inside"] == "-2 in 100 (-5 to +1)"
    assert levers.loc[0, "Particular to this player"] == "+2 yd (-3 to +8)"  # 1.8288 m
    assert levers.loc[0, "Moves it by"] == "+4.0 mm (+1.0 to +7.0)"
    assert levers.loc[0, "Effort"] == "1 session"
    assert worth.loc[0, "Now"] == "-8.0 mm (-9.5 to -6.5)"
    assert worth.loc[0, "Best window"] == "+2.0 to +8.0 mm"
    assert worth.loc[0, "In words"] == "strike too low"
    assert besides.loc[0, "Ball speed"] == "+1.0 mph (0.0 to +2.0)"  # .44704 m/s = 1 mph
    assert besides.loc[0, "Spin"] == "-300 rpm (-500 to -100)"
    assert chances.loc[2, "Best choice"] == "yardstick, not ranked"
    assert "In brackets: 90 % sure to be in this range." in text_of(page)


def test_squad_lists_most_to_gain_a_session_first_and_names_ties():
    toe = lever("towel", "drill", "strike_toe_mm", (9.0, 3.0, 15.0))
    alder = gains(
        "Alder", levers=(toe, NEW_ATTACK), first="strike_toe_mm", first_lever="towel", clear=False,
        tied=("strike_toe_mm", "attack_deg"),
        tied_levers=("towel", "a new drill for attack angle"),
    )  # fmt: skip
    lines = squad_rows([gains(), alder], "yards")
    assert [line[0] for line in lines] == ["Alder", "Cedar"]
    assert lines[1][2:] == (
        "+7 yd (+2 to +13)", "+7 yd (+2 to +13)", "+2 yd (-3 to +8)", "about 8 in 10",
    )  # fmt: skip
    assert lines[0][1] == (
        "towel for strike across the face (too close to call with a new drill for attack angle)"
    )


def test_a_common_lever_is_said_above_the_squad():
    squad = [gains(name) for name in ("Cedar", "Alder", "Elm")]
    assert squad_sentence(squad).startswith(
        "Tee ladder for strike height is first for 3 of 3: a common lever of this squad."
    )
    assert squad_sentence([gains()]) == ""


def test_player_without_a_first_lever_is_listed_as_such():
    lines = squad_rows([gains(first=None, clear=False, tied=())], "yards")
    assert lines == (("Cedar", "nothing worth changing", "", "", "", ""),)
    read = Measure("attack_deg", 0.9144, True, False)
    lines = squad_rows([gains(first=None, clear=False, unsure=True, measure=read)], "yards")
    assert lines[0][1] == (
        "nothing worth acting on yet; meanwhile read attack angle once more, worth +1.0 yd"
    )


def test_plan_reads_as_a_line():
    from datetime import date

    change = Change("Cedar", date(2026, 3, 4), "drill", "tee it higher", "strike_up_mm", 4)
    (plan,) = view(plans=(LoggedChange(7, change),)).plans
    assert plan.change_id == 7
    assert plan.text == ("04 Mar 2026: tee it higher (drill) for strike height, 4 sessions planned")


def test_remarks_give_carry_with_its_interval():
    remarks = " ".join(view(gains(carry_m=metres(182.88, 173.736, 192.024))).remarks)
    # 182.88 m = 200 yd, 173.736 m = 190 yd, 192.024 m = 210 yd
    assert "Carry now: 200 yd (90 % sure between 190 and 210 yd)." in remarks


@pytest.mark.parametrize(("players", "worked_out"), [(3, 3), (400, PAGE)])
def test_of_a_large_squad_one_page_of_first_levers_is_worked_out(players, worked_out):
    def draw(players):
        from types import SimpleNamespace

        import streamlit as st

        from tests.tracker.pages.academy import gains
        from tracker.decisions.distance.yardstick import TOWARD
        from tracker.pages import coach
        from tracker.pages.shared import context

        asked = []
        was = context.gains_of
        context.gains_of = lambda key, name, *_: asked.append(name) or gains(name)
        try:
            here = SimpleNamespace(key=None, system="yards")
            coach.first_levers(here, [f"Player {i:03d}" for i in range(players)], (), TOWARD)
        finally:
            context.gains_of = was
        st.session_state["asked"] = asked

    page = drawn_by(draw, kwargs={"players": players}).run()
    assert not page.exception
    assert page.session_state["asked"] == [f"Player {i:03d}" for i in range(worked_out)]
    common = "a common lever of this squad"
    assert any(common in m.value for m in page.markdown) == (worked_out == players)
