"""The live page in a real browser: a click is a stored shot, undone, and there after a reload."""

import io
import re
import time
from datetime import date

import pytest
from PIL import Image, ImageDraw

from tests.browser.serving import PATIENCE_MS, ROOT, served, settled
from tests.tracker.pages.academy import fill
from tracker.store.store import Store

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
VIEW_WIDTH_MM, VIEW_HEIGHT_MM = 128.0, 80.0


@pytest.fixture(scope="module")
def database(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('live') / 'academy.db'}"
    with Store.open(url) as store:
        fill(store)
        yield url, store


@pytest.fixture(scope="module")
def address(database):
    with served(database[0]) as found:
        yield f"{found}/live"


SHAPES = {
    "light": ("light", 1400, 1100),
    "dark": ("dark", 1400, 1100),
    "phone": ("light", 420, 900),
}


def visit(chromium, address, player, shape="light", **context):
    scheme, width, height = SHAPES[shape]
    page = chromium.new_context(
        color_scheme=scheme, viewport={"width": width, "height": height}, **context
    ).new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{address}?player={player}")
    page.wait_for_selector("svg[role=application] .face", state="attached")
    settled(page)
    return page


def click_mm(page, x, y, tap=False):
    """Click the picture at millimetres right and down of its middle."""
    svg = page.locator("svg[role=application]")
    svg.scroll_into_view_if_needed()
    box = svg.bounding_box()
    place = (
        box["x"] + box["width"] * (0.5 + x / VIEW_WIDTH_MM),
        box["y"] + box["height"] * (0.5 + y / VIEW_HEIGHT_MM),
    )
    (page.touchscreen.tap if tap else page.mouse.click)(*place)


def today(store, player):
    frame = store.shots_frame(player)
    return frame[frame["session"].dt.date == date.today()]


def wait_for_count(page, count):
    words = f"{count} shot{'' if count == 1 else 's'} stored today"
    page.get_by_text(words, exact=True).wait_for()


def picture(page, name):
    OUT.mkdir(parents=True, exist_ok=True)
    page.wait_for_timeout(500)
    page.screenshot(path=OUT / f"{name}.png", full_page=True)


def test_clicks_are_stored_undone_and_there_after_reopening(chromium, address, database):
    store = database[1]
    page = visit(chromium, address, "Cedar")
    wait_for_count(page, 0)
    click_mm(page, -10.0, 12.0)
    wait_for_count(page, 1)
    begun = time.monotonic()
    click_mm(page, 4.0, 9.0)
    wait_for_count(page, 2)
    answer_s = time.monotonic() - begun
    found = today(store, "Cedar")
    # Cedar is right-handed: the toe is drawn to the left
    assert found["strike_toe_mm"].to_list() == pytest.approx([10.0, -4.0], abs=0.3)
    assert found["strike_up_mm"].to_list() == pytest.approx([-12.0, -9.0], abs=0.3)
    assert page.locator("h1").inner_text().startswith("Cedar")
    playwright.expect(page.locator("svg[role=application] .strike")).to_have_count(2)
    print(f"click to answer {answer_s:.2f} s")
    picture(page, "live_light")

    page.get_by_role("button", name="Take shot 2 back").click()
    wait_for_count(page, 1)
    assert len(today(store, "Cedar")) == 1
    page.context.close()  # the browser closes without a word

    again = visit(chromium, address, "Cedar", "dark")
    wait_for_count(again, 1)
    playwright.expect(again.locator("svg[role=application] .strike")).to_have_count(1)
    picture(again, "live_dark")
    again.context.close()


def test_arrow_keys_and_enter_store_a_strike(chromium, address, database):
    page = visit(chromium, address, "Alder")
    svg = page.locator("svg[role=application]")
    assert "Club face of a right-hander" in svg.get_attribute("aria-label")
    svg.focus()
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowUp", "ArrowUp", "ArrowLeft"):
        page.keyboard.press(key)
    said = page.locator("[role=status].place")
    playwright.expect(said).to_have_text("1 mm toward the heel, 6 mm up")
    page.keyboard.press("Enter")
    wait_for_count(page, 1)
    found = today(database[1], "Alder")
    assert found[["strike_toe_mm", "strike_up_mm"]].to_numpy().tolist() == [[-1.0, 6.0]]
    page.keyboard.press("Enter")  # the picture keeps its focus for the next shot
    wait_for_count(page, 2)
    page.context.close()


def test_tap_on_a_phone_is_a_shot(chromium, address, database):
    page = visit(chromium, address, "Alder", "phone", has_touch=True, is_mobile=True)
    before = len(today(database[1], "Alder"))
    click_mm(page, -20.0, -5.0, tap=True)
    wait_for_count(page, before + 1)
    last = today(database[1], "Alder").iloc[-1]
    assert (last["strike_toe_mm"], last["strike_up_mm"]) == pytest.approx((20.0, 5.0), abs=0.6)
    picture(page, "live_phone")
    assert page.evaluate("document.documentElement.scrollWidth") <= 420
    page.context.close()


def marked_photo():
    """A square-on photograph, 10 px a mm: the corners of a 40 x 20 mm rectangle and a mark."""
    photo = Image.new("RGB", (1200, 800), (150, 150, 155))
    draw = ImageDraw.Draw(photo)
    for x, y in ((400, 300), (800, 300), (800, 500), (400, 500)):
        draw.ellipse((x - 6, y - 6, x + 6, y + 6), fill=(20, 20, 20))
    draw.ellipse((480, 420, 520, 460), fill=(240, 240, 230))
    buffer = io.BytesIO()
    photo.save(buffer, "JPEG")
    return buffer.getvalue()


def test_strike_from_a_photograph(chromium, address, database):
    page = visit(chromium, address, "Cedar")
    before = len(today(database[1], "Cedar"))
    page.get_by_text("From a photograph", exact=True).click()
    page.locator("input[type=file]").set_input_files(
        {"name": "face.jpg", "mimeType": "image/jpeg", "buffer": marked_photo()}
    )
    names = ("top toe corner", "top heel corner", "bottom heel corner", "bottom toe corner")
    places = ((400, 300), (800, 300), (800, 500), (400, 500), (500, 440))
    for name, (x, y) in zip((*names, "the mark of the ball"), places, strict=True):
        page.get_by_text(f"Click {name}.", exact=True).wait_for()
        settled(page)
        svg = page.locator("svg[role=application]")
        svg.scroll_into_view_if_needed()
        box = svg.bounding_box()
        page.mouse.click(box["x"] + box["width"] * x / 1200, box["y"] + box["height"] * y / 800)
    result = page.get_by_text(re.compile(r"Strike: \+1\d\.\d mm"))
    result.wait_for()
    assert "90 % sure between" in result.inner_text()
    picture(page, "live_photo")
    page.get_by_role("button", name="Store this strike").click()
    wait_for_count(page, before + 1)
    last = today(database[1], "Cedar").iloc[-1]
    assert (last["strike_toe_mm"], last["strike_up_mm"]) == pytest.approx((10.0, -4.0), abs=0.5)
    assert last["strike_method"] == "photo"
    page.context.close()


def ups(store, player):
    return today(store, player)["strike_up_mm"].to_list()


def test_sixteen_quick_clicks_are_sixteen_shots_in_their_order(chromium, address, database):
    store, page = database[1], visit(chromium, address, "Cedar")
    before = len(today(store, "Cedar"))
    svg = page.locator("svg[role=application]")
    svg.scroll_into_view_if_needed()
    box = svg.bounding_box()
    clicked = [-15.0 + 2 * n for n in range(16)]
    for up in clicked:
        place = box["y"] + box["height"] * (0.5 - up / VIEW_HEIGHT_MM)
        page.mouse.click(box["x"] + box["width"] / 2, place)
    wait_for_count(page, before + 16)
    assert ups(store, "Cedar")[before:] == pytest.approx(clicked, abs=0.3)
    page.context.close()


def test_two_browsers_see_each_others_shots_and_take_back_what_they_show(
    chromium, address, database
):
    store = database[1]
    one, two = (visit(chromium, address, "Alder") for _ in range(2))
    before = len(today(store, "Alder"))
    click_mm(one, 0.0, -7.0)
    wait_for_count(one, before + 1)
    wait_for_count(two, before + 1)  # nobody has touched it
    assert two.locator("svg[role=application] .strike").count() == before + 1
    typed = two.get_by_label("Club speed (mph)")
    typed.fill("9")  # half typed, when the other stores the next one
    click_mm(one, 0.0, 3.0)
    wait_for_count(two, before + 2)
    playwright.expect(typed).to_have_value("9")
    typed.fill("")
    two.get_by_role("button", name=f"Take shot {before + 2} back").click()
    wait_for_count(one, before + 1)
    assert ups(store, "Alder")[-1] == pytest.approx(7.0, abs=0.3)
    for page in (one, two):
        page.context.close()


def test_number_that_cannot_be_used_holds_the_strike_on_the_picture(chromium, address, database):
    store, page = database[1], visit(chromium, address, "Cedar")
    before = len(today(store, "Cedar"))
    speed = page.get_by_label("Club speed (mph)")
    speed.fill("10-")
    click_mm(page, 0.0, -5.0)
    page.get_by_text("The strike stays on the picture.").wait_for()
    assert page.locator("svg[role=application] .waiting").count() == 1
    assert len(today(store, "Cedar")) == before
    playwright.expect(speed).to_have_value("10-")
    picture(page, "live_refused")
    speed.fill("101")
    page.get_by_role("button", name="Store the strike on the picture").click()
    wait_for_count(page, before + 1)
    last = today(store, "Cedar").iloc[-1]
    assert last["club_speed_mps"] == pytest.approx(101 * 0.44704)
    assert last["strike_up_mm"] == pytest.approx(5.0, abs=0.3)
    playwright.expect(page.locator("svg[role=application] .waiting")).to_have_count(0)
    page.context.close()


def test_typed_number_follows_the_units(chromium, address, database):
    store, page = database[1], visit(chromium, address, "Cedar")
    before = len(today(store, "Cedar"))
    page.get_by_label("Club speed (mph)").fill("100")
    page.locator("[data-testid='stSidebar'] [data-testid='stSelectbox'] input").click()
    page.get_by_role("option", name="metres and km/h").click()
    playwright.expect(page.get_by_label("Club speed (km/h)")).to_have_value("160.9")
    click_mm(page, 0.0, -5.0)
    wait_for_count(page, before + 1)
    last = today(store, "Cedar").iloc[-1]
    assert last["club_speed_mps"] == pytest.approx(160.9 / 3.6)
    page.context.close()


def test_a_click_right_after_typing_takes_the_number_with_it(chromium, address, database):
    store, page = database[1], visit(chromium, address, "Cedar")
    before = len(today(store, "Cedar"))
    page.get_by_label("Club speed (mph)").fill("99")
    click_mm(page, 4.0, -5.0)
    click_mm(page, 9.0, -5.0)
    wait_for_count(page, before + 2)
    speeds = today(store, "Cedar")["club_speed_mps"].to_list()[before:]
    assert speeds[0] == pytest.approx(99 * 0.44704)
    assert speeds[1] != speeds[1]  # the number was the first shot's
    page.context.close()
