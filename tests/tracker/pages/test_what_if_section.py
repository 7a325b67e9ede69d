"""What if: sliders in the reader's units ask for stored changes, the answer opens as a sentence."""

from datetime import datetime

import pytest
from streamlit.testing.v1 import AppTest

from tracker.decisions.distance.target import Target
from tracker.decisions.distance.what_if import LIMITS, Aim, WhatIf, WhatIfAnswer
from tracker.interval import Interval
from tracker.pages.what_if_view import change_of, sliders, what_if_view

YARD_M = 0.9144
CARRY = Interval(2 * YARD_M, -1 * YARD_M, 5 * YARD_M, "m")


def answer(after=(1.0, 7.0)):
    return WhatIfAnswer(
        player="Cedar",
        as_of=datetime(2026, 3, 1),
        change=WhatIf(loft_deg=1.0),
        carry_now_m=Interval(190, 184, 196, "m"),
        carry_m=CARRY,
        total_m=CARRY,
        ball_speed_mps=Interval(-0.44704, -0.89408, 0.0, "m/s"),
        spin_rpm=Interval(220.0, 150.0, 300.0, "rpm"),
        launch_deg=Interval(0.8, 0.7, 0.9, "deg"),
        strike_fix_gain_m=CARRY,
        aims=(
            Aim(
                "strike_up_mm",
                Target("strike_up_mm", 5.0, (2.0, 8.0), 190.0, 5.0, False),
                Target("strike_up_mm", 4.0, after, 190.0, 4.0, False),
            ),
        ),
        sentence="Cedar: more loft changes carry by +2.0 yd (90 % sure between -1.0 and +5.0 yd).",
        notes=("Delivered loft is taken to change as much as the head's; players adapt.",),
        problems=(),
    )


@pytest.mark.parametrize("system", ["yards", "metres"])
def test_sliders_at_rest_ask_for_nothing(system):
    assert change_of({}, system).asked == ()
    assert change_of({s.field: s.rest for s in sliders(system)}, system) == WhatIf()


@pytest.mark.parametrize("system", ["yards", "metres"])
def test_no_slider_reaches_past_what_may_be_asked(system):
    for slider in sliders(system):
        low, high = LIMITS[slider.field]
        assert low <= slider.stored(slider.low) < slider.stored(slider.high) <= high


def test_shown_units_become_stored_changes():
    # 5 mph = 2.2352 m/s, 5000 ft = 1524 m, 50 F is 10 C: ten colder than the ordinary 20 C
    asked = change_of({"club_speed_mps": 5.0, "altitude_m": 5000.0, "temperature_c": 50.0}, "yards")
    assert asked.club_speed_mps == pytest.approx(2.2352)
    assert asked.altitude_m == pytest.approx(1524.0)
    assert asked.temperature_c == pytest.approx(-10.0)
    metric = change_of(
        {"club_speed_mps": 9.0, "altitude_m": 1500.0, "temperature_c": 10.0}, "metres"
    )
    # 9 km/h = 2.5 m/s
    assert (metric.club_speed_mps, metric.altitude_m, metric.temperature_c) == (
        pytest.approx(2.5),
        1500.0,
        -10.0,
    )


def test_sliders_name_their_unit():
    for system, units in (("yards", ("mph", "(ft)", "°F")), ("metres", ("km/h", "(m)", "°C"))):
        labels = " ".join(s.label for s in sliders(system))
        assert all(unit in labels for unit in units)


def test_shift_of_the_best_window_is_said():
    view = what_if_view(answer(), "yards")
    assert view.shift == (
        "The best window of strike height moves to +1.0 to +7.0 mm (now +2.0 to +8.0 mm)."
    )
    stays = what_if_view(answer(after=(2.0, 8.0)), "yards")
    assert stays.shift == "The best window of strike height stays at +2.0 to +8.0 mm."


def test_effects_have_units_and_ranges():
    rows = dict(what_if_view(answer(), "yards").effects)
    assert rows["Carry"] == "+2 yd (-1 to +5)"
    assert rows["Ball speed"] == "-1.0 mph (-2.0 to 0.0)"
    assert rows["Spin"] == "+220 rpm (+150 to +300)"
    metric = dict(what_if_view(answer(), "metres").effects)
    assert metric["Ball speed"] == "-1.6 km/h (-3.2 to 0.0)"  # .44704 m/s = 1.609 km/h


def test_section_opens_with_the_sentence():
    def draw(view):
        from tracker.pages.what_if import render

        render(view)

    view = what_if_view(answer(), "yards")
    page = AppTest.from_function(draw, kwargs={"view": view}).run()
    assert not page.exception
    assert page.markdown[0].value.startswith("**Cedar: more loft changes carry by +2.0 yd")
    assert "players adapt" in " ".join(m.value for m in page.markdown)


def test_what_was_asked_in_other_units_stands_until_its_slider_is_moved():
    asked = change_of({"club_speed_mps": 5.0, "temperature_c": 50.0}, "yards")
    by_field = {s.field: s for s in sliders("metres")}
    places = {name: s.shown(getattr(asked, name)) for name, s in by_field.items()}
    assert places["club_speed_mps"] == pytest.approx(8.04672)  # 5 mph in km/h
    assert places["temperature_c"] == 10.0
    assert change_of(places, "metres", asked) == asked
    moved = change_of(places | {"temperature_c": 12.0}, "metres", asked)
    assert (moved.club_speed_mps, moved.temperature_c) == (asked.club_speed_mps, -8.0)


def test_change_past_a_sliders_end_stands_at_the_end_and_is_kept():
    most = change_of({"club_speed_mps": 13.0}, "metres")  # 8.1 mph; that slider ends at 8
    slider = next(s for s in sliders("yards") if s.field == "club_speed_mps")
    assert slider.shown(most.club_speed_mps) == slider.high == 8.0
    assert change_of({"club_speed_mps": 8.0}, "yards", most) == most
