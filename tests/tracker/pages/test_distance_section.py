"""Where the distance goes: what can be compared, the sentence, the parts in the reader's units."""

from datetime import date, datetime

import pytest

from tests.fits import day, make_fit
from tests.pages import drawn_by
from tracker.decisions.distance.ends import Moment
from tracker.decisions.distance.explain import Explanation, explain
from tracker.interval import Interval
from tracker.pages.distance_view import distance_view, ends_to_choose
from tracker.player_trait import Window

YARD_M = 0.9144


def yards(median, low, high):
    return Interval(median * YARD_M, low * YARD_M, high * YARD_M, "m")


def made(*, whole=(6.0, 1.0, 11.0), measured=False, notes=(), more=None, **parts):
    given = {
        "club_speed": (0.2, -1.0, 1.4), "strike_up": (8.0, 5.0, 11.0),
        "strike_toe": (0.0, -0.5, 0.5), "attack": (-3.0, -6.0, -1.0),
        "loft": (0.5, -2.0, 3.0), "path_face": (0.1, -1.0, 1.0), "unexplained": (0.0, 0.0, 0.0),
    } | parts  # fmt: skip
    return Explanation(
        player="Cedar",
        to_player="Cedar",
        start=Window(date(2026, 1, 5), date(2026, 1, 12)),
        end=Window(date(2026, 1, 19), date(2026, 1, 26)),
        carry_difference_m=yards(*whole),
        parts={name: yards(*part) for name, part in given.items()},
        start_level={"strike_up_mm": Interval(-8.0, -9.0, -7.0, "mm")},
        end_level={"strike_up_mm": Interval(-4.0, -5.0, -3.0, "mm")},
        measured=measured,
        problems=(),
        notes=notes,
        **(more or {}),
    )


def fit(days=(0, 7, 14, 21, 28, 35)):
    return make_fit({"Cedar": {}, "Alder": {}}, days=days)


def view(found, system="yards"):
    starts, ends = ends_to_choose(fit(), "Cedar")
    return distance_view(found, starts[0], ends[0], system)


def test_suggested_is_the_first_third_against_the_latest():
    starts, ends = ends_to_choose(fit(), "Cedar")
    # six sessions a week apart from 5 January 2026: two in each third
    assert starts[0].when == Window(day(0), day(7))
    assert ends[0].when == Window(day(28), day(35))
    assert starts[0].label == "first third (05 Jan to 12 Jan 2026)"
    assert ends[0].label == "latest third (02 Feb to 09 Feb 2026)"


def test_sessions_and_other_players_can_be_picked():
    starts, ends = ends_to_choose(fit(), "Cedar")
    assert Moment(datetime(2026, 1, 19)) in [end.when for end in ends]
    assert [s.label for s in starts if s.player == "Alder"] == ["Alder, latest third"]
    assert all(end.player == "Cedar" for end in ends)


def test_one_session_leaves_only_other_players_to_compare_with():
    starts, ends = ends_to_choose(fit(days=(0,)), "Cedar")
    assert [s.player for s in starts] == ["Alder", "Cedar"]
    assert [e.when for e in ends] == [Moment(datetime(2026, 1, 5))]


def test_difference_is_a_sentence_with_its_range():
    shown = view(made())
    assert shown.headline == (
        "Latest third (02 Feb to 09 Feb 2026) against first third (05 Jan to 12 Jan 2026): by the "
        "model, carry is about 6 yd longer (90 % sure between 1 and 11 yd)."
    )
    assert "strike height +8 yd (90 % sure between 5 and 11 yd)" in shown.lead
    assert "attack with the loft it takes along -3 yd" in shown.lead
    assert "delivered loft" not in shown.lead  # its range holds zero


def test_difference_that_may_be_nothing_says_so():
    shown = view(made(whole=(1.0, -4.0, 6.0)))
    assert (
        "perhaps 1.0 yd longer, but which way is not settled "
        "(90 % sure between -4 and 6 yd, + longer)"
    ) in shown.headline


def test_shorter_is_said_without_a_minus():
    shown = view(made(whole=(-6.0, -11.0, -1.0), measured=True))
    assert "about 6 yd shorter (90 % sure between 1 and 11 yd)" in shown.headline


def test_what_stays_unexplained_is_said_and_drawn():
    shown = view(made(measured=True, unexplained=(-5.0, -8.0, -2.0)))
    assert "Left unexplained: -5 yd" in shown.lead
    last = shown.picture.steps[-1]
    assert (last.label, last.explained) == ("not explained by the delivery", False)
    assert round(last.part.median, 6) == -5.0


def test_biggest_part_comes_first_in_the_shown_unit():
    steps = view(made()).picture.steps
    assert [s.label for s in steps[:2]] == ["strike height", "attack with the loft it takes along"]
    assert (steps[0].part.unit, round(steps[0].part.median, 6)) == ("yd", 8.0)
    metric = view(made(), "metres")
    assert round(metric.picture.steps[0].part.median, 4) == 7.3152  # 8 x .9144
    assert " yd" not in metric.headline + metric.lead + metric.picture_text


def test_small_parts_are_one_line_before_the_unexplained_and_the_whole_is_last():
    small = ("club_speed", "strike_toe", "path_face")
    folded = made(more={"small": small, "small_sum": yards(0.3, -1.5, 2.0)})
    shown = view(folded)
    assert [s.label for s in shown.picture.steps] == [
        "strike height", "attack with the loft it takes along", "other delivered loft",
        "3 small parts", "not explained by the delivery",
    ]  # fmt: skip
    assert shown.picture.whole.label == "difference"
    assert shown.picture.steps[3].part.median == pytest.approx(0.3)
    assert shown.notes == ("Small parts: club speed, strike across the face, path and face.",)


def test_the_attack_part_in_two_is_said_where_it_was_asked_for():
    split = {"attack_alone": yards(-4.0, -6.0, -2.0), "loft_along": yards(1.0, 0.4, 1.6)}
    assert view(made()).split == ""
    assert view(made(more={"attack_split": split})).split == (
        "Of the attack part: attack alone -4.0 yd (90 % sure between -6.0 and -2.0 yd), the "
        "loft it takes along +1.0 yd (90 % sure between +0.4 and +1.6 yd)."
    )


def test_section_draws_the_sentence_the_picture_and_both_deliveries():
    def draw(view):
        from tracker.pages.distance import render

        render(view)

    notes = ("Carry was not read at both ends.",)
    page = drawn_by(draw, kwargs={"view": view(made(notes=notes))}).run()
    assert not page.exception
    text = " ".join([*(m.value for m in page.markdown), *(c.value for c in page.caption)])
    assert "dashed one is what delivery and physics do not explain" in text
    table = page.table[0].value
    assert table.columns.tolist()[0] == "Delivery"
    assert table.iloc[0].tolist() == [
        "Strike height", "-8.0 mm (-9.0 to -7.0)", "-4.0 mm (-5.0 to -3.0)",
    ]  # fmt: skip
    assert notes[0] in text


def test_faster_club_is_named_as_the_reason():
    faster = make_fit(
        {"Cedar": {"club_speed_mps": [42.0, 42.0, 42.0, 46.0, 46.0, 46.0]}},
        days=(0, 7, 14, 21, 28, 35),
        level_sd=0.2,
    )
    starts, ends = ends_to_choose(faster, "Cedar")
    found = explain(faster, "Cedar", starts[0].when, ends[0].when)
    shown = distance_view(found, starts[0], ends[0], "yards")
    assert shown.lead.startswith("What is settled: club speed +")
    # 4 m/s = 8.95 mph at 2.5 to 3.5 yd a mph (common practice, no source)
    gained = found.parts["club_speed"].median / YARD_M
    assert 8.95 * 2.5 <= gained <= 8.95 * 3.5
