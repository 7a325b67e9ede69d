"""Every page for every eye: no finding of axe, nothing cut off, and a picture of it kept."""

from importlib.resources import files

import pytest

from tests.browser.serving import PATIENCE_MS, ROOT, settled
from tests.pages import PAGES

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
axe = pytest.importorskip("axe_playwright_python", reason="axe is not installed")

OUT = ROOT / "out" / "screenshots"
OPENED_AT = {
    "coach": "coach?player=Cedar",
    "player": "player?player=Cedar&trait=strike_up_mm",
    "live": "live?player=Cedar",
}
"""The address at which a page shows most, where that is not its bare one."""
SHAPES = {
    "desktop": ("light", 1400, 1000),
    "dark": ("dark", 1400, 1000),
    "phone": ("light", 390, 844),
    "phone_dark": ("dark", 390, 844),
}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]
TALLEST_PX = 9000


@pytest.fixture
def reader(chromium, request):
    scheme, width, height = SHAPES[request.param]
    context = chromium.new_context(color_scheme=scheme, viewport={"width": width, "height": height})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    yield page
    context.close()


def opened(page, address):
    """Open a page in a window as tall as the page."""
    page.goto(address)
    page.wait_for_selector("h1")
    settled(page)
    page.locator("[data-testid=stSkeleton]").first.wait_for(state="detached")
    height = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    width = page.viewport_size["width"]
    page.set_viewport_size({"width": width, "height": min(height + 40, TALLEST_PX)})
    settled(page)


def findings(page):
    """Return what axe finds, rule by rule, with the first element and why."""
    page.evaluate(files(axe).joinpath("axe.min.js").read_text(encoding="utf-8"))
    found = page.evaluate("rules => axe.run(document, {runOnly: rules})", RULES)
    return [
        (rule["id"], len(rule["nodes"]), rule["nodes"][0]["html"][:200], node_reason(rule))
        for rule in found["violations"]
    ]


def node_reason(rule):
    node = rule["nodes"][0]
    checks = [*node["any"], *node["all"], *node["none"]]
    return checks[0]["message"] if checks else ""


@pytest.mark.parametrize("name", [page.path for page in PAGES])
@pytest.mark.parametrize("reader", SHAPES, indirect=True)
def test_page_is_readable_for_every_eye(reader, address, name, request):
    opened(reader, f"{address}/{OPENED_AT.get(name, name)}")
    OUT.mkdir(parents=True, exist_ok=True)
    shape = request.node.callspec.params["reader"]
    reader.screenshot(path=OUT / f"{name}_{shape}_whole.png")
    assert findings(reader) == []
    main = reader.locator("[data-testid='stMain']")
    assert main.evaluate("e => e.scrollWidth <= e.clientWidth")


@pytest.mark.parametrize("reader", ["phone"], indirect=True)
def test_table_is_cards_with_named_lines_on_a_phone(reader, address):
    opened(reader, f"{address}/{OPENED_AT['coach']}")
    table = reader.locator("[data-testid='stTable']").first
    assert table.evaluate("e => e.scrollWidth <= e.clientWidth")
    assert not table.locator("thead").is_visible()
    cells = table.locator("tbody tr").first.locator("td")
    named = [cell.evaluate("e => getComputedStyle(e, '::before').content") for cell in cells.all()]
    assert named[:3] == ['"Lever"', '"Gain"', '"A session"']
    assert cells.first.is_visible()


@pytest.mark.parametrize("reader", ["desktop"], indirect=True)
def test_table_stays_a_table_on_a_desk(reader, address):
    opened(reader, f"{address}/{OPENED_AT['coach']}")
    table = reader.locator("[data-testid='stTable']").first
    assert table.locator("thead").is_visible()
    assert table.locator("td").first.evaluate("e => getComputedStyle(e).display") == "table-cell"
