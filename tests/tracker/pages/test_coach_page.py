"""The coach's answer reads as a sentence with units, ties are named, problems come first."""

from streamlit.testing.v1 import AppTest

from tests.tracker.pages.academy import fix, gains, metres
from tracker.charts.face_map import FaceMap
from tracker.pages.coach_view import coach_view, squad_rows
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


def test_clear_first_fault_is_one_sentence_with_yards():
    # 6.4008 m = 7 yd, 1.8288 m = 2 yd, 11.8872 m = 13 yd (1 yd = 0.9144 m)
    shown = view()
    assert shown.headline == "Cedar: fix strike height first."
    assert shown.lead == (
        "Strike too low. Worth about 7 yd of carry (90 % sure between 2 and 13 yd), "
        "best bet in about 8 in 10 cases."
    )


def test_same_answer_in_metres():
    assert "about 6 m of carry (90 % sure between 2 and 12 m)" in view(system="metres").lead


def test_small_gains_keep_a_decimal():
    small = gains(fixes=(fix("strike_up_mm", (0.9144, 0.4572, 1.8288)),))
    assert "about 1.0 yd of carry (90 % sure between 0.5 and 2.0 yd)" in view(small).lead


def test_tie_is_said_and_what_would_separate_it():
    tie = gains(
        clear=False,
        tied=("strike_up_mm", "attack_deg"),
        measure_next="To separate them, read attack angle in one more session.",
    )
    shown = view(tie)
    assert shown.headline == "Cedar: strike height and attack angle are too close to call."
    assert "Slight edge to strike height" in shown.lead
    assert shown.lead.endswith("To separate them, read attack angle in one more session.")


def test_no_worthwhile_fault_is_an_answer():
    none = gains(first=None, clear=False, tied=(), measure_next="Look again later.")
    shown = view(none)
    assert shown.headline == "Cedar: no fault is worth fixing first."
    assert shown.lead.endswith("Look again later.")
    assert shown.cautions == ()


def test_unread_traits_stand_in_the_table_and_nowhere_else():
    view = coach_view(gains(unread=("loft_deg", "path_deg")), None, (), "yards")
    assert ("delivered loft", "not read", "", "", "", "", "") in view.worth
    assert "club path" not in {row[0] for row in view.worth}  # no fault in any case
    assert "delivered loft" not in {row.label for row in view.gain_rows}
    assert "delivered loft" not in {row[0] for row in view.chances}


def test_nothing_read_names_no_fault_and_says_what_to_read():
    made = gains(fixes=(), first=None, clear=False, tied=(), measure_next="Read the strike.")
    view = coach_view(made, None, (), "yards")
    assert view.headline == "Cedar: no fault can be named yet."
    assert view.lead.endswith("Read the strike.")
    assert squad_rows([made], "yards") == (("Cedar", "not read", "", "", ""),)


def test_the_only_fault_read_is_not_praised_as_the_best_of_many():
    view = coach_view(gains(fixes=gains().fixes[:1]), None, (), "yards")
    assert "the one fault to weigh, since no other was read" in view.lead
    assert "best bet" not in view.lead


def test_problem_fit_gives_no_number():
    broken = gains(problems=("chains disagree (R-hat 1.200, limit 1.01).",), first=None)
    shown = view(broken)
    assert shown.headline == "Cedar: no answer from this fit."
    assert not any(c.isdigit() for c in shown.headline + shown.lead)
    page = AppTest.from_function(draw, kwargs={"view": shown}).run()
    assert not page.exception
    assert not page.table
    assert text_of(page).strip() == ""


def test_swing_change_comes_with_a_caution():
    attack = gains(first="attack_deg", fixes=(fix("attack_deg", (5.0, 2.0, 8.0)),))
    assert any("lower back" in caution for caution in view(attack).cautions)
    page = AppTest.from_function(draw, kwargs={"view": view(attack)}).run()
    assert "Take care" in text_of(page)


def test_picture_rows_are_in_the_shown_unit():
    row = view().gain_rows[0]
    assert (row.gain.unit, round(row.gain.median, 6)) == ("yd", 7.0)
    assert round(row.gain.high90, 6) == 13.0
    assert [round(end, 4) for end in row.half] == [round(5.4008 / 0.9144, 4), 8.0936]


def test_chance_of_being_the_best_bet_is_said_beside_each_fault():
    rows = view().gain_rows
    assert [row.chance for row in rows] == ["about 8 in 10", "about 2 in 10"]
    assert "strike height 7 yd (90 % sure between 2 and 13 yd), best bet in about 8 in 10" in (
        view().gain_text
    )


def test_page_shows_captions_and_tables_with_units():
    page = AppTest.from_function(draw, kwargs={"view": view()}).run()
    assert not page.exception
    assert "90 % sure" in text_of(page)
    worth, besides, chances = (t.value for t in page.table)
    assert worth.loc[0, "Now"] == "-8.0 mm (-9.5 to -6.5)"
    assert worth.loc[0, "Best window"] == "+2.0 to +8.0 mm"
    assert worth.loc[0, "Planned fix"] == "7 yd (2 to 13)"
    assert besides.loc[0, "Ball speed"] == "+1.0 mph (0.0 to +2.0)"  # .44704 m/s = 1 mph
    assert besides.loc[0, "Spin"] == "-300 rpm (-500 to -100)"
    assert "A planned fix gets 40 % of the way (90 % sure between 12 and 72 %)" in text_of(page)
    assert chances.loc[0, "Effort (sessions)"] == "1"
    assert "In brackets: 90 % sure to be in this range." in text_of(page)


def test_squad_lists_most_to_gain_first_and_names_ties():
    alder = gains(
        "Alder",
        fixes=(fix("strike_toe_mm", (9.0, 3.0, 15.0)), fix("attack_deg", (8.0, 2.0, 14.0))),
        first="strike_toe_mm",
        clear=False,
        tied=("strike_toe_mm", "attack_deg"),
    )
    squad = [gains(), alder]
    lines = squad_rows(squad, "yards")
    assert [line[0] for line in lines] == ["Alder", "Cedar"]
    assert lines[1][2] == "7 yd (2 to 13)"
    assert lines[0][1] == "strike across the face (too close to call with attack angle)"


def test_player_without_a_first_fault_is_listed_as_such():
    lines = squad_rows([gains(first=None, clear=False, tied=())], "yards")
    assert lines == (("Cedar", "nothing worth changing", "", "", ""),)


def test_plan_reads_as_a_line():
    from datetime import date

    change = Change("Cedar", date(2026, 3, 4), "drill", "tee it higher", "strike_up_mm", 4)
    (plan,) = view(plans=(LoggedChange(7, change),)).plans
    assert plan.change_id == 7
    assert plan.text == ("04 Mar 2026: tee it higher (drill) for strike height, 4 sessions planned")


def test_remarks_give_carry_and_scatter_with_intervals():
    remarks = " ".join(view(gains(carry_m=metres(182.88, 173.736, 192.024))).remarks)
    # 182.88 m = 200 yd, 173.736 m = 190 yd, 192.024 m = 210 yd
    assert "Carry now: 200 yd (90 % sure between 190 and 210 yd)." in remarks
    assert "scatter a fifth smaller" in remarks
