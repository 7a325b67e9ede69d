"""Hostile names in a real browser: shown as typed, nothing fetched, no rule of the page broken."""

import re
import socket
import threading
from datetime import datetime

import pytest

from tests.browser.serving import ROOT, served
from tests.fits import day, make_fit, noise
from tests.pages import PAGES
from tests.tracker.pages.academy import BALLS, keep
from tracker.plain import JOINER, line
from tracker.records import Change, Shot
from tracker.store.store import Store

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
FIRST_MS = 240_000
OTHER = (
    "Ben [coach] $x$ :red[a] :material/home: :smile: www.example.org a@b.co a -> b <img src=x> "
    "**x** `v` &amp; ~~w~~ a|b"
)


class Listener:
    """A place that a hostile name points to; it counts who comes."""

    def __init__(self):
        self.asked = 0
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.port = self._socket.getsockname()[1]
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        while True:
            try:
                line, _ = self._socket.accept()
            except OSError:
                return
            self.asked += 1
            line.close()

    def close(self):
        self._socket.close()


@pytest.fixture(scope="module")
def listener():
    found = Listener()
    yield found
    found.close()


def fill(store, player):
    drill = f"![d](http://127.0.0.1:{player.rpartition(':')[2].partition('/')[0]}/d.png)"
    levels = {
        player: {"strike_up_mm": [-8.0, -8.2, -4.0, -3.8], "strike_toe_mm": 3.0},
        OTHER: {"strike_up_mm": 2.0, "strike_toe_mm": -2.0},
    }
    changes = (Change(player, day(10), "drill", drill, "strike_up_mm", 4, note=drill),)
    renamed = {"Cedar": player, "Alder": OTHER}
    fit = make_fit(
        levels,
        physics={"drag_factor": 0.98 + 0.005 * noise(400, seed=9)},
        ball_check=tuple((trait, renamed[who], *rest) for trait, who, *rest in BALLS),
        changes=changes,
        level_sd={"strike_up_mm": 0.4},
        change_effect={0: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=5)}},
        drill_effect={drill: {"strike_up_mm": 4.0 + 0.5 * noise(400, seed=2)}},
    )
    shots = [
        Shot(name, datetime(2026, 1, 5 + 7 * s), n, {"strike_up_mm": 2.0 - n, "strike_toe_mm": 3.0})
        for name in (player, OTHER)
        for s in range(4)
        for n in (1, 2, 3)
    ]
    store.add_shots(shots, source=drill)
    store.add_changes(changes)
    keep(store, fit)
    return drill


@pytest.fixture(scope="module")
def hostile(tmp_path_factory, listener):
    player = f"![t](http://127.0.0.1:{listener.port}/x.png)"
    url = f"sqlite:///{tmp_path_factory.mktemp('hostile') / 'academy.db'}"
    with Store.open(url) as store:
        drill = fill(store, player)
    with served(url) as address:
        yield address, player, drill


def test_every_page_shows_hostile_names_and_fetches_nothing(chromium, hostile, listener):
    address, player, drill = hostile
    page = chromium.new_context(viewport={"width": 1400, "height": 1000}).new_page()
    page.set_default_timeout(FIRST_MS)
    said, asked = [], []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(f"page error: {error}"))
    page.on("request", lambda request: asked.append(request.url))
    OUT.mkdir(parents=True, exist_ok=True)
    shown = {}
    for name in (one.path for one in PAGES):
        page.goto(f"{address}/{name}")
        page.wait_for_selector("h1")
        page.wait_for_selector("[data-testid='stApp'][data-test-script-state='notRunning']")
        page.wait_for_timeout(2500)  # pictures that come after the text
        for closed in page.locator("[data-testid='stMain'] summary").all():
            closed.click()
        page.wait_for_timeout(400)
        main = page.locator("[data-testid='stApp']")
        shown[name] = main.inner_text().replace(JOINER, "")
        links = page.locator("[data-testid='stMain'] a[href]").count()
        assert links == page.locator("[data-testid='stPageLink'] a[href]").count(), name
        assert page.locator("[data-testid='stMain'] .katex").count() == 0, name
        assert page.locator("[data-testid='stException']").count() == 0, name
        page.screenshot(path=OUT / f"hostile_{name}.png", full_page=True)
    for name in ("coach", "player", "squad"):
        assert player in shown[name], name
    for name in ("coach", "squad"):
        assert line(OTHER) in " ".join(shown[name].split()), name
    assert drill in shown["squad"]
    assert drill in shown["load"]

    page.goto(f"{address}/live")
    page.wait_for_selector("[data-testid='stApp'][data-test-script-state='notRunning']")
    box = page.locator("[data-testid='stMain'] [data-testid='stSelectbox']").first
    box.locator("input").click()
    options = page.get_by_role("option").all_inner_texts()
    assert {player, OTHER} <= set(options)
    page.get_by_role("option", name=OTHER, exact=True).click()
    page.wait_for_timeout(3000)

    assert listener.asked == 0
    own = re.compile(rf"^({re.escape(address)}/|data:|blob:|ws://127\.0\.0\.1)")
    assert [url for url in asked if not own.match(url)] == []
    broken = [text for text in said if "Content Security Policy" in text or "page error" in text]
    assert broken == []
    page.context.close()


def test_a_page_elsewhere_cannot_frame_or_read_the_pages(chromium, hostile):
    address = hostile[0]
    port = address.rpartition(":")[2]
    page = chromium.new_context().new_page()
    page.set_default_timeout(FIRST_MS)
    page.goto("data:text/html,<title>elsewhere</title>")
    opened = page.evaluate(
        """port => new Promise(done => {
            const line = new WebSocket(`ws://127.0.0.1:${port}/_stcore/stream`, ['streamlit']);
            line.onopen = () => done('opened');
            line.onerror = () => done('refused');
        })""",
        port,
    )
    assert opened == "refused"
    read = page.evaluate(
        "a => fetch(a).then(answer => answer.text(), () => 'refused')",
        f"{address}/_stcore/host-config",
    )
    assert read in {"refused", ""} or "answers its own pages only" in read
    page.set_content(f"<iframe src='{address}/'></iframe>")
    page.wait_for_timeout(3000)
    assert all("Drive Progress" not in f.title() for f in page.frames[1:])
    assert all(f.locator("#root").count() == 0 for f in page.frames[1:])
    page.context.close()
