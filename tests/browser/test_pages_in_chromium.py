"""The pages as a reader sees them: answer, picture, no error box, nothing asked of the network."""

import json
import re
import time
from urllib.parse import urlsplit

import pytest

from tests.browser.serving import PATIENCE_MS, ROOT, settled
from tests.pages import PAGES
from tracker.words import VERDICT_WORDS

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
YARDS = re.compile(r"\d yd")
PICTURE = "[data-testid='stVegaLiteChart'] svg.marks"

SHAPES = {
    "light": ("light", 1400, 1000),
    "dark": ("dark", 1400, 1000),
    "phone": ("light", 420, 900),
}
OPENING = {
    "coach": (("Cedar:",), "toward the target (90 % sure between"),
    "player": (
        ("Yes, this is real.", "Real, but how big is not settled."),
        "moved about",
    ),
    "squad": (("Strike height:",), "Tee it higher moves it 4.0 mm"),
    "physics": (("Carry is predicted to within",), "What the balls taught"),
}
"""How the headline may start, and words of what stands below it, where the picture is the point."""
LEAST_HEIGHT = {"squad": 75}
"""Least height of a first picture where it is not 200 px: one line a player, here of two."""


@pytest.fixture
def reader(chromium, request):
    scheme, width, height = SHAPES[getattr(request, "param", "light")]
    context = chromium.new_context(color_scheme=scheme, viewport={"width": width, "height": height})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    yield page
    context.close()


@pytest.mark.parametrize("name", [page.path for page in PAGES])
@pytest.mark.parametrize("reader", SHAPES, indirect=True, ids=list(SHAPES))
def test_page_opens_with_its_answer_and_its_picture(reader, address, name, request):
    begun = time.monotonic()
    reader.goto(f"{address}/{name}")
    reader.wait_for_selector("h1")
    answer_s = time.monotonic() - begun
    if name in OPENING:
        reader.wait_for_selector(PICTURE)
    picture_s = time.monotonic() - begun
    settled(reader)
    shape = request.node.callspec.params["reader"]
    OUT.mkdir(parents=True, exist_ok=True)
    reader.screenshot(path=OUT / f"{name}_{shape}.png")
    note = {"answer_s": round(answer_s, 2), "picture_s": round(picture_s, 2)}
    (OUT / f"{name}_{shape}.json").write_text(json.dumps(note))

    assert reader.locator("[data-testid='stException']").count() == 0
    if name not in OPENING:
        assert reader.locator("h1").inner_text().strip()
        return
    starts, words = OPENING[name]
    assert reader.locator("h1").inner_text().startswith(starts)
    assert words in reader.locator("[data-testid='stMain']").inner_text()
    picture = reader.locator(PICTURE).first.bounding_box()
    assert picture["width"] > 250
    assert picture["height"] > LEAST_HEIGHT.get(name, 200)


def test_player_reads_what_the_change_is_worth_with_its_range(reader, address):
    reader.goto(f"{address}/player?player=Cedar&trait=strike_up_mm")
    main = reader.locator("[data-testid='stMain']")
    worth = main.locator("p", has_text="What it is worth.")
    playwright.expect(worth).to_contain_text("yd toward the target (90 % sure between")


JARGON = re.compile(
    r"\b(posterior|credible|prior|SD|threshold|P\(|sigma|standard error|quantile|logit)\b"
)


@pytest.mark.parametrize("reader", SHAPES, indirect=True, ids=list(SHAPES))
def test_player_reads_verdict_and_scatter_without_statistics(reader, address):
    reader.goto(f"{address}/player")
    reader.wait_for_selector(PICTURE)
    reader.wait_for_selector("text=Where the noise comes from")
    settled(reader)
    main = reader.locator("[data-testid='stMain']")
    said = main.inner_text()
    assert reader.locator("h1").inner_text() in {f"{words}." for words in VERDICT_WORDS.values()}
    assert JARGON.search(said) is None
    asked = reader.locator("h2", has_text="Are single shots closer together?")
    assert asked.count() == 1
    scatter = main.locator("p", has_text="Two shots in three now lie within").inner_text()
    assert scatter.startswith("Too early to say.")
    assert len(re.findall("90 % sure between", scatter)) == 3
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")  # nothing is cut off sideways
    assert reader.locator("text=imagined seasons").count() == 0 or not (
        reader.locator("text=imagined seasons").first.is_visible()
    )
    reader.locator("summary", has_text="How sure is sure enough, and why").click()
    reader.locator("text=imagined seasons").first.wait_for(state="visible")
    assert reader.locator("text=A change is called real here when").first.is_visible()


def test_trust_page_opens_what_it_rests_on(reader, address):
    reader.goto(f"{address}/trust")
    reader.wait_for_selector("text=Does the model look like your shots?")
    settled(reader)
    reader.locator("summary", has_text="Every comparison").click()
    table = reader.locator("[data-testid='stTable']", has_text="Looks alike?")
    table.wait_for(state="visible")
    assert table.locator("tr").count() > 10


def test_picture_has_a_text_alternative(reader, address):
    reader.goto(f"{address}/player")
    reader.wait_for_selector(PICTURE)
    labelled = reader.locator(
        "[data-testid='stVegaLiteChart'][aria-label*='the tendency, 50 % and 90 % sure']"
    )
    assert labelled.count() >= 1


def test_toe_is_drawn_left_of_the_heel_for_a_right_hander(reader, address):
    reader.goto(address)
    reader.wait_for_selector("svg.marks text:has-text('toe side')")
    said = reader.locator("svg.marks text", has_text="toe side").first.text_content()
    assert said.index("toe side") < said.index("heel side")


def test_waterfall_redraws_for_the_ends_that_are_picked(reader, address):
    reader.goto(address)
    reader.wait_for_selector("text=against first third")
    settled(reader)
    bars = reader.locator("[data-testid='stVegaLiteChart'][aria-label^='Solid: longer']")
    playwright.expect(bars).to_contain_text("strike height")
    playwright.expect(bars).to_contain_text("not explained")
    start = reader.locator("[data-testid='stSelectbox']", has_text="From").locator("input")
    start.scroll_into_view_if_needed()  # a list that opens while the page scrolls shuts again
    settled(reader)
    start.click()
    reader.get_by_role("option", name="Alder, latest third").click()
    reader.wait_for_selector("text=against Alder, latest third")
    assert reader.locator("[data-testid='stException']").count() == 0


def test_what_if_answers_when_a_slider_moves(reader, address):
    reader.goto(address)
    reader.wait_for_selector("text=Move a slider to see")
    settled(reader)
    slider = reader.get_by_role("slider").first
    slider.focus()
    for _ in range(2):
        slider.press("ArrowRight")
    said = reader.wait_for_selector("text=more loft changes carry by").inner_text()
    assert "90 % sure between" in said
    assert "best window of strike height" in reader.locator("[data-testid='stMain']").inner_text()


def test_what_if_keeps_what_was_asked_when_units_or_page_change(reader, address):
    reader.goto(address)
    reader.wait_for_selector("text=Move a slider to see")
    settled(reader)
    main = reader.locator("[data-testid='stMain']")
    answer = main.locator("p", has_text="more club speed changes carry by").first
    speed = reader.get_by_role("slider", name="Club speed")
    speed.focus()
    for _ in range(5):
        speed.press("ArrowRight")
    playwright.expect(speed).to_have_value("5")
    answer.wait_for()
    settled(reader)
    said = answer.inner_text()
    units = reader.locator("[data-testid='stSidebar'] [data-testid='stSelectbox'] input")
    units.click()
    reader.get_by_role("option", name="metres and km/h").click()
    playwright.expect(main).to_contain_text("Club speed (km/h", timeout=PATIENCE_MS)
    settled(reader)
    speed = reader.get_by_role("slider", name="Club speed")
    assert float(speed.input_value()) == 8.0  # 8.05 km/h, of which the handle shows the step
    metric = answer.inner_text()
    assert " m (90 % sure between" in metric
    reader.get_by_role("link", name="Player", exact=True).click()
    reader.wait_for_url("**/player**")
    settled(reader)
    reader.get_by_role("link", name="Coach", exact=True).click()
    answer.wait_for()
    settled(reader)
    assert answer.inner_text() == metric
    units.click()
    reader.get_by_role("option", name="yards and mph").click()
    playwright.expect(main).to_contain_text("Club speed (mph", timeout=PATIENCE_MS)
    settled(reader)
    assert float(speed.input_value()) == pytest.approx(5.0)
    assert answer.inner_text() == said


def test_physics_page_draws_one_picture_a_quantity(reader, address):
    reader.goto(f"{address}/physics")
    reader.wait_for_selector("text=predicted carry (yd)")
    settled(reader)
    assert reader.locator("[data-testid='stVegaLiteChart']").count() == 2
    assert reader.locator("text=read ball speed (mph)").count() == 1


def test_units_switch_the_answer(reader, address):
    reader.goto(address)
    reader.wait_for_selector("h1")
    settled(reader)
    main = reader.locator("[data-testid='stMain']")
    playwright.expect(main).to_contain_text(YARDS)
    reader.locator("[data-testid='stSidebar'] [data-testid='stSelectbox'] input").click()
    reader.get_by_role("option", name="metres and km/h").click()
    playwright.expect(main).to_contain_text("gained (m)", timeout=PATIENCE_MS)
    playwright.expect(main).not_to_contain_text(YARDS, timeout=PATIENCE_MS)


def test_file_is_loaded_and_taken_back(reader, address):
    reader.goto(f"{address}/load")
    reader.wait_for_selector("h1")
    log = b"player,session,shot,strike_up_mm\nElm,2026-02-01,1,3.5\n"
    reader.locator("input[type=file]").set_input_files(
        {"name": "elm.csv", "mimeType": "text/csv", "buffer": log}
    )
    reader.wait_for_selector("text=elm.csv")
    reader.get_by_role("button", name="Load", exact=True).click()
    reader.wait_for_selector("h1:has-text('1 new shot stored.')")
    reader.wait_for_selector("text=1 shot was loaded after this fit: fit again.")
    settled(reader)
    reader.get_by_role("button", name="Take the last load back").click()
    reader.get_by_role("button", name="Remove them").wait_for(state="visible")
    settled(reader)
    reader.get_by_role("button", name="Remove them").click()
    reader.wait_for_selector("text=1 shot was loaded after this fit", state="detached")


def test_nothing_is_asked_of_the_network(reader, address):
    asked = []
    reader.on("request", lambda request: asked.append(request.url))
    for page in PAGES:
        reader.goto(f"{address}/{page.path}")
        reader.wait_for_selector("h1")
        if page.module in OPENING:
            reader.wait_for_selector(PICTURE)
        settled(reader)
    web = [url for url in asked if urlsplit(url).scheme in ("http", "https", "ws", "wss")]
    assert web
    assert {urlsplit(url).hostname for url in web} == {"127.0.0.1"}
