"""Initials on a shared screen, in a real browser: no page lets a player's name through."""

from pathlib import Path
from urllib.parse import unquote

import pytest

from tests.browser.serving import PATIENCE_MS, ROOT, served, settled
from tests.pages import PAGES
from tests.tracker.pages.academy import fill
from tracker.store.store import Store

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
FIRST, SECOND = "Wilhelmina Quatermain", "Bartholomew Quince"
NAMES = ("wilhelmina", "quatermain", "bartholomew", "quince")


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('initials') / 'academy.db'}"
    with Store.open(url) as store:
        fill(
            store,
            with_balls=True,
            called={"Cedar": FIRST, "Alder": SECOND},
            source="wilhelmina_quatermain.csv",
            name=f"{FIRST} ladder",
            note=f"as {SECOND} does it",
        )
    with served(url) as found:
        yield found


class Received:
    """All that the server has sent to a browser over the page's connection."""

    def __init__(self, page):
        self._said = []
        page.on("websocket", lambda socket: socket.on("framereceived", self._keep))

    def _keep(self, payload):
        self._said.append(payload if isinstance(payload, bytes) else payload.encode())

    def named(self):
        """Return the players' names that were sent, and some of what stands around them."""
        said = b"\n".join(self._said)
        low = said.lower()
        places = [low.find(name.encode()) for name in NAMES]
        return [said[max(0, p - 60) : p + 60] for p in places if p >= 0]

    def has(self, text):
        """Return whether a text was sent."""
        return any(text.encode() in said for said in self._said)


def unfolded(page):
    """Wait for a page to stand, and open all that is folded away."""
    page.wait_for_selector("h1")
    settled(page)
    for folded in page.locator("[data-testid='stMain'] summary").all():
        folded.click()
    settled(page)


@pytest.mark.parametrize("name", [page.path for page in PAGES])
def test_no_name_reaches_the_browser_while_initials_are_on(chromium, address, name):
    reader = chromium.new_context(viewport={"width": 1400, "height": 1000})
    page = reader.new_page()
    page.set_default_timeout(PATIENCE_MS)
    received = Received(page)
    page.goto(f"{address}/{name}?player=WQ&initials=on")
    unfolded(page)
    OUT.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=OUT / f"{name}_initials.png", full_page=True)
    seen = page.evaluate("() => document.documentElement.outerHTML + document.title")
    told = f"{page.title()} {unquote(page.url)} {seen}".lower()
    assert [word for word in NAMES if word in told] == []
    assert received.named() == []
    if name not in ("physics", "trust", "load"):
        assert received.has("WQ")
    reader.close()


def test_switch_takes_every_name_off_the_screen_and_out_of_the_address(chromium, address):
    page = chromium.new_context(viewport={"width": 1400, "height": 1000}).new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{address}/player?player={FIRST}")
    page.wait_for_selector("h1")
    settled(page)
    assert FIRST in page.title()
    page.get_by_text("Initials instead of names").click()
    page.wait_for_url("**initials=on**")
    playwright.expect(page).to_have_title("Player: WQ", timeout=PATIENCE_MS)
    settled(page)
    for one in PAGES:
        page.get_by_role("link", name=one.title, exact=True).click()
        page.wait_for_url(f"**/{one.path}**")
        page.wait_for_selector("h1")
        settled(page)
        seen = page.evaluate("() => document.body.outerHTML")
        told = f"{page.title()} {unquote(page.url)} {seen}".lower()
        assert [word for word in NAMES if word in told] == [], one.path


def test_files_taken_away_name_nobody(chromium, address):
    reader = chromium.new_context(accept_downloads=True, viewport={"width": 1400, "height": 1000})
    page = reader.new_page()
    page.set_default_timeout(PATIENCE_MS)
    taken = 0
    for name in ("coach", "player", "squad", "season"):
        page.goto(f"{address}/{name}?player=WQ&initials=on")
        unfolded(page)
        for button in page.locator("[data-testid='stDownloadButton'] button:visible").all():
            if "PDF" in button.inner_text():
                continue
            with page.expect_download() as waiting:
                button.click()
            download = waiting.value
            held = Path(download.path()).read_bytes().decode("utf-8", "replace")
            said = f"{download.suggested_filename} {held}".lower()
            assert [word for word in NAMES if word in said] == [], download.suggested_filename
            taken += 1
    assert taken >= 5
    reader.close()
