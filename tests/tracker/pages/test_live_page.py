"""The live page stores what is entered, says today against the tendency, and takes shots back."""

import io
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from tests.fits import BROKEN, CLEAN, day, make_fit, with_info
from tests.pages import drawn_by
from tests.tracker.pages.academy import LEVELS, keep
from tracker.charts.clickable import clickable_face, clickable_photo, strike_at
from tracker.charts.outline import cloud_of
from tracker.lesson.session import commit, lesson_today, stored_shots
from tracker.lesson.session import lesson_shots as shots_in
from tracker.pages.live_view import NOT_TRUSTED, TRUSTED, live_view
from tracker.pages.photo import plain_jpeg
from tracker.records import Shot

LATER = day(28)


def show():
    from tracker.pages.live import page

    page()


def opened(**state):
    page = drawn_by(show)
    for key, value in state.items():
        page.session_state[key.replace("_", " ")] = value
    return page.run()


def view_of(store, fit, player="Cedar", *, today=LATER, watched="strike_up_mm", **lesson):
    now = lesson_today(store, player, today=today, **lesson)
    stored = stored_shots(store, now)
    return live_view(fit, now, shots_in(stored, now), stored, (), watched, "yards")


def hit(store, ups, player="Cedar", today=LATER, method="photo", **readings):
    lesson = lesson_today(store, player, today=today, strike_method=method)
    for up in ups:
        commit(store, lesson, {"strike_up_mm": up, "strike_toe_mm": 3.0, **readings})


# --- the sentences ---


def test_answer_says_how_much_which_way_and_how_sure(academy, fit):
    """Cedar's last level is -3.8 mm; 30 shots at -13.8 leave little doubt of the day."""
    hit(academy, [-13.8] * 30)
    view = view_of(academy, fit)
    assert view.headline.startswith("Cedar today: strike about ")
    assert "mm lower than the tendency so far (90 % sure between -" in view.headline
    assert view.headline.endswith("that it really is.")
    size = float(view.headline.split("about ")[1].split(" mm")[0])
    assert 5 <= size <= 10
    assert view.lead.startswith("That is after 30 shots. Days differ by about ")
    assert "90 % sure between" in view.lead
    assert "with nothing changed" in view.lead
    assert view.tendency.endswith("before, it was -3.8 mm.")
    assert (view.trust, view.trusted) == (TRUSTED, True)
    assert view.count == "30 shots stored today"
    assert view.rows[1][:2] == ("Strike height", "30")


def test_one_shot_near_the_tendency_is_no_news(academy, fit):
    hit(academy, [-3.8])
    view = view_of(academy, fit)
    assert view.headline == "Cedar: an ordinary day so far."
    assert "from the tendency" in view.lead


def test_a_day_far_off_is_not_ordinary_though_the_tendency_goes_with_it(academy):
    jumps = make_fit(
        LEVELS, session_sd={"strike_up_mm": 1.0}, jump_sd={"strike_up_mm": 9.0},
        jump_chance=0.7,
    )  # fmt: skip
    hit(academy, [14.0] * 16)
    view = view_of(academy, jumps)
    assert "mm higher than the tendency so far" in view.headline
    size = float(view.headline.split("about ")[1].split(" mm")[0])
    assert 14 <= size <= 20  # 14 less -3.8
    followed = float(view.tendency.split(" is ")[1].split(" mm")[0])
    assert followed > 5


def test_higher_is_said_of_a_higher_day_and_each_trait_has_its_own_words(academy, fit):
    hit(academy, [8.0] * 12, attack_deg=3.0)
    assert "mm higher than" in view_of(academy, fit).headline
    days_differ = make_fit(LEVELS, session_sd={"attack_deg": 2.0})
    attack = view_of(academy, days_differ, watched="attack_deg").headline
    assert attack.startswith("Cedar today: attack angle about ")
    assert "° more upward than" in attack


def test_before_the_first_shot_the_tendency_is_told(store, fit):
    store.add_shots([Shot("Cedar", datetime(2026, 1, 26), 1, {"strike_up_mm": -3.8})])
    view = view_of(store, fit)
    assert view.headline == "Cedar: no shots yet today."
    assert view.tendency.startswith("The tendency of strike height is taken as -3.8 mm (90 % sure")


def test_new_player_is_told_that_the_squad_serves(store, fit):
    hit(store, [-6.0] * 5, "Rowan")
    view = view_of(store, fit, "Rowan")
    assert view.headline.startswith("Rowan, first day: strike height -")
    assert "the squad's spread serves" in view.lead
    assert view.notes == ("Rowan is not in the fit yet: the squad's prior serves.",)


def test_untrusted_update_shows_no_number(store):
    fit = make_fit(LEVELS, level_sd=0.3, session_sd={"strike_up_mm": 0.1},
                   drift={"strike_up_mm": 0.01}, shot_sd={"strike_up_mm": 1.0})  # fmt: skip
    hit(store, [-30.0] * 20)
    view = view_of(store, fit)
    assert (view.trust, view.trusted) == (NOT_TRUSTED, False)
    assert view.headline == "Cedar: 20 shots stored today."
    assert "mm" not in view.lead + view.tendency
    assert "strike height" in view.notes[0]


def test_fit_with_problems_gives_no_number_but_shots_are_kept(store):
    hit(store, [-6.0])
    view = view_of(store, make_fit(LEVELS, report=BROKEN))
    assert view.problems
    assert view.headline == "Cedar: 1 shot stored today."
    assert view.rows == ()


def test_only_the_trait_whose_fit_has_problems_gives_no_number(store):
    hit(store, [-13.8] * 8, attack_deg=0.2)
    fit = make_fit(LEVELS, reports={"strike_up_mm": CLEAN, "attack_deg": BROKEN})
    view = view_of(store, fit)
    assert view.headline.startswith("Cedar today: strike about ")
    assert view.problems == ()
    assert view.notes == ("Not settled by the last fit: attack angle.",)
    assert [row[0] for row in view.rows] == ["Strike across the face", "Strike height"]
    other = view_of(store, fit, watched="attack_deg")
    assert other.problems
    assert other.headline == "Cedar: 8 shots stored today."
    assert "attack angle did not pass its checks" in other.lead


def test_another_club_is_stored_without_an_answer(store, fit):
    lesson = lesson_today(store, "Cedar", today=LATER, club="3 wood")
    commit(store, lesson, {"strike_up_mm": 2.0})
    view = view_of(store, fit, club="3 wood")
    assert "The fit is of the driver" in view.lead


# --- the picture ---


@pytest.mark.parametrize(("handed", "side"), [("right", -1), ("left", 1)])
def test_strike_is_drawn_and_clicked_at_the_same_place(handed, side):
    picture = clickable_face(handed, [(12.0, -5.0)], cloud_of((3.0, 1.0), np.eye(2)))
    strike = next(s for s in picture.shapes if s.style == "strike")
    assert (strike.numbers["cx"], strike.numbers["cy"]) == (side * 12.0, 5.0)
    assert strike_at(strike.numbers["cx"], strike.numbers["cy"], handed) == (12.0, -5.0)
    toe = next(s for s in picture.shapes if s.text == "toe side")
    assert toe.numbers["x"] * side > 0
    assert {s.style for s in picture.shapes} >= {"likely", "likelier", "face", "grid", "last"}
    assert "+12 mm toe side, -5 mm up" in picture.label
    assert f"toe to the {'right' if side > 0 else 'left'}" in picture.label


def test_photograph_names_what_to_click_next():
    picture = clickable_photo("data:,", (800, 600), [("top toe", 10.0, 20.0)], "the next")
    assert picture.box == (0.0, 0.0, 800.0, 600.0)
    assert "Click the next" in picture.label
    assert [s.text for s in picture.shapes if s.tag == "text"] == ["top toe"]


def test_photograph_loses_place_and_time_before_it_is_used():
    photo = Image.new("RGB", (3200, 1600), (10, 200, 30))
    exif = photo.getexif()
    exif[0x0132] = "2026:02:09 10:00:00"  # date and time
    exif[0x0112] = 6  # taken with the camera on its side
    buffer = io.BytesIO()
    photo.save(buffer, "JPEG", exif=exif)
    content, size = plain_jpeg(buffer.getvalue())
    assert size == (800, 1600)
    with Image.open(io.BytesIO(content)) as plain:
        assert plain.size == size
        assert not plain.getexif()


# --- the page ---


def test_typed_reading_is_stored_in_si_and_taken_back(academy):
    page = opened(kept_player="Cedar")
    assert not page.exception
    assert page.title[0].value == "Cedar: no shots yet today."
    field(page, "Club speed (mph)").set_value("100").run()
    press(page, "Store without a strike")
    frame = academy.shots_frame("Cedar")
    today = frame[frame["session"].dt.date == date.today()]
    assert today["club_speed_mps"].to_list() == pytest.approx([44.704])
    assert "1 shot stored today" in " ".join(m.value for m in page.markdown)
    assert field(page, "Club speed (mph)").value == ""
    press(page, "Take shot 1 back")
    assert not (academy.shots_frame("Cedar")["session"].dt.date == date.today()).any()


def field(page, label):
    return next(t for t in page.text_input if t.label == label)


def press(page, label):
    next(b for b in page.button if b.label == label).click().run()
    assert not page.exception


def switch_units(page, units):
    next(box for box in page.selectbox if box.label == "Units").set_value(units).run()
    assert not page.exception


def test_a_typed_number_goes_along_when_the_units_are_switched(academy):
    page = opened(kept_player="Cedar")
    field(page, "Club speed (mph)").set_value("100").run()
    field(page, "Attack angle (°)").set_value("3").run()
    switch_units(page, "metres")
    assert field(page, "Club speed (km/h)").value == "160.9"
    assert field(page, "Attack angle (°)").value == "3"
    switch_units(page, "yards")
    assert field(page, "Club speed (mph)").value == "100"  # as it was typed, not 100.0
    switch_units(page, "metres")
    field(page, "Club speed (km/h)").set_value("150").run()
    switch_units(page, "yards")
    assert field(page, "Club speed (mph)").value == "93.2"  # 150 / 1.609344 = 93.206
    press(page, "Store without a strike")
    frame = academy.shots_frame("Cedar")
    today = frame[frame["session"].dt.date == date.today()]
    assert today["club_speed_mps"].to_list() == pytest.approx([93.2 * 0.44704])
    assert today["attack_deg"].to_list() == [3.0]


def test_a_half_typed_number_stays_as_it_was_when_the_units_are_switched(academy):
    page = opened(kept_player="Cedar")
    field(page, "Club speed (mph)").set_value("1-").run()
    switch_units(page, "metres")
    assert field(page, "Club speed (km/h)").value == "1-"
    assert any("Club speed: wanted a number" in error.value for error in page.error)


def test_shots_are_there_when_the_page_is_opened_again(academy):
    hit(academy, [-6.0, -7.0], today=date.today())
    page = opened(kept_player="Cedar")
    assert "2 shots stored today" in " ".join(m.value for m in page.markdown)
    assert page.title[0].value == "Cedar: an ordinary day so far."


def test_nothing_typed_is_refused_in_words(academy):
    page = opened(kept_player="Cedar")
    press(page, "Store without a strike")
    assert "no reading; give one" in page.error[0].value
    assert academy.rows_by_table()["shot"] == 24


def test_missed_face_is_stored_as_such(academy):
    page = opened(kept_player="Cedar")
    press(page, "Struck, but cannot be read")
    frame = academy.shots_frame("Cedar")
    assert frame[frame["session"].dt.date == date.today()]["missed_face"].to_list() == [True]


def test_first_player_of_an_empty_store_can_be_entered(store):
    page = opened()
    assert page.title[0].value == "Who is hitting?"
    page.text_input[0].set_value("Elm").run()
    field(page, "Attack angle (°)").set_value("-2").run()
    press(page, "Store without a strike")
    assert [p.name for p in store.players()] == ["Elm"]
    assert next(b for b in page.selectbox if b.label == "Player").value == "Elm"
    assert "Nothing has been fitted yet" in " ".join(m.value for m in page.markdown)


def test_nobody_is_hitting_until_chosen_though_another_page_had_to_show_somebody(academy):
    page = opened()
    assert page.title[0].value == "Who is hitting?"
    assert [b.label for b in page.button] == ["Fit again"]
    page = opened(kept_player="Cedar", address_guessed={"player"})
    assert page.title[0].value == "Who is hitting?"
    assert page.selectbox(key="box live player").value is None
    page.selectbox(key="box live player").set_value("Alder").run()
    assert page.title[0].value == "Alder: no shots yet today."
    press(page, "Struck, but cannot be read")
    assert set(academy.players_on(date.today())) == {"Alder"}


def test_the_only_lesson_of_the_day_goes_on_unasked(academy):
    hit(academy, [-6.0], "Alder", today=date.today())
    page = opened(kept_player="Cedar", address_guessed={"player"})
    assert page.title[0].value.startswith("Alder")
    hit(academy, [-6.0], "Cedar", today=date.today())
    assert opened().title[0].value == "Who is hitting?"


def test_a_player_nobody_knows_is_said_and_asked_for_again(academy):
    page = opened(kept_player="Zed")
    assert page.title[0].value == "Who is hitting?"
    assert [t.value for t in page.text] == [
        "Player: found 'Zed' in the address, who is not stored here."
    ]


@pytest.mark.parametrize("typed", ["-5-", "12.", "fast", "900"])
def test_a_number_that_cannot_be_used_holds_the_shot_back_and_says_what_it_wants(academy, typed):
    page = opened(kept_player="Cedar")
    field(page, "Club speed (mph)").set_value(typed).run()
    wants = "Club speed: wanted a number from 33.6 to 156.5 mph"  # 15 and 70 m/s
    assert [e.value for e in page.error] == [f"{wants}."]
    press(page, "Struck, but cannot be read")
    assert f"Nothing was stored: {wants}" in [e.value for e in page.error]
    assert academy.rows_by_table()["shot"] == 24
    assert field(page, "Club speed (mph)").value == typed
    field(page, "Club speed (mph)").set_value("100").run()
    assert [e.value for e in page.error] == [f"Nothing was stored: {wants}"]
    press(page, "Struck, but cannot be read")
    assert not page.error
    last = academy.shots_frame("Cedar").iloc[-1]
    assert last["club_speed_mps"] == pytest.approx(44.704)


def test_a_shot_stored_elsewhere_leaves_what_is_typed_and_the_button_takes_its_own_back(academy):
    page = opened(kept_player="Cedar")
    press(page, "Struck, but cannot be read")
    field(page, "Club speed (mph)").set_value("101").run()
    hit(academy, [-6.0], today=date.today())  # another device
    press(page, "Take shot 1 back")  # drawn before
    frame = academy.shots_frame("Cedar")
    left = frame[frame["session"].dt.date == date.today()]
    assert left[["number", "strike_up_mm"]].to_numpy().tolist() == [[2, -6.0]]
    assert field(page, "Club speed (mph)").value == "101"
    assert "Take shot 2 back" in [b.label for b in page.button]


def test_pasted_rows_are_stored_once(academy):
    page = opened(kept_player="Cedar", kept_live_way="From a file")
    day_text = (date.today() - timedelta(days=1)).isoformat()
    page.text_area[0].set_value(f"player,session,strike_up_mm\nCedar,{day_text},-4\n").run()
    press(page, "Store the new rows")
    assert "1 new shot stored" in page.success[0].value
    press(page, "Store the new rows")
    assert "0 new shots stored, 1 stored before" in page.success[0].value


def test_cautions_are_on_the_page(academy):
    page = opened(kept_player="Cedar")
    text = " ".join(m.value for m in page.markdown)
    assert "Clear the area" in text
    assert "Stop when something hurts" in text


def test_fit_with_problems_warns_before_any_number(store):
    hit(store, [-6.0], today=date.today())
    keep(store, with_info(make_fit(LEVELS, report=BROKEN), make_fit(LEVELS, report=BROKEN).info))
    page = opened(kept_player="Cedar")
    assert "did not pass its checks" in page.warning[0].value
    assert page.title[0].value == "Cedar: 1 shot stored today."
