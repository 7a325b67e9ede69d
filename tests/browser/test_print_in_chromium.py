"""A page as the browser prints it: no side bar, pictures whole and side by side, on white."""

import pytest

from tests.browser.serving import PATIENCE_MS, ROOT, settled

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
PAPER_PX = 688
"""Width between the margins of a sheet of A4."""
PICTURES = "[data-testid='stVegaLiteChart'] svg.marks"
LARGE_AND_NOT_WHITE = """() => [...document.querySelectorAll('*')].filter(e => {
    const size = e.getBoundingClientRect(), ground = getComputedStyle(e).backgroundColor;
    return size.width * size.height > 200000
        && !['rgba(0, 0, 0, 0)', 'rgb(255, 255, 255)'].includes(ground);
}).map(e => e.outerHTML.slice(0, 80))"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pictures_are_printed_whole_side_by_side_and_on_white(chromium, address, scheme):
    context = chromium.new_context(color_scheme=scheme, viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{address}/coach?player=Cedar")
    page.locator(PICTURES).nth(1).wait_for()
    settled(page)
    page.emulate_media(media="print", color_scheme=scheme)
    page.set_viewport_size({"width": PAPER_PX, "height": 900})
    settled(page)
    OUT.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=OUT / f"printed_{scheme}.png", full_page=True)
    assert not page.locator("[data-testid='stSidebar']").is_visible()
    assert not page.locator("[data-testid='stPageLink']").first.is_visible()
    first, second = (page.locator(PICTURES).nth(place).bounding_box() for place in (0, 1))
    assert second["y"] < first["y"] + first["height"]
    assert first["x"] + first["width"] <= second["x"]
    assert second["x"] + second["width"] <= PAPER_PX
    assert page.evaluate(LARGE_AND_NOT_WHITE) == []
    context.close()
