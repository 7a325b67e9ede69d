"""A newcomer's way in a real browser: empty database to practice card, every click counted."""

import csv
import json
import re
import time

import pytest

from tests.browser.serving import ARGUMENTS, CHROMIUM, PATIENCE_MS, ROOT, served, settled
from tracker.store.store import Store

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")

OUT = ROOT / "out" / "screenshots"
MOST_CLICKS = 10
FIT_MS = 540_000
"""How long the example's fit may take on a busy machine."""


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('newcomer') / 'academy.db'}"
    Store.open(url).close()
    with served(url) as found:
        yield found


def players_in(log):
    """The names in the example file."""
    with log.open(encoding="utf-8", newline="") as lines:
        return sorted({row["player"] for row in csv.DictReader(lines)})


def test_newcomer_reaches_the_first_card_in_ten_clicks(address, tmp_path):
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        page = browser.new_context(viewport={"width": 1400, "height": 1000}).new_page()
        page.set_default_timeout(PATIENCE_MS)
        clicks, begun, reached = 0, time.monotonic(), {}

        def click(place):
            nonlocal clicks
            clicks += 1
            place.click()

        def note(step):
            reached[step] = {"clicks": clicks, "seconds": round(time.monotonic() - begun, 1)}

        page.goto(address)
        page.wait_for_selector("h1:has-text('No shots yet.')")
        note("empty")
        settled(page)
        click(page.locator("[data-testid='stPageLink'] a", has_text="Load"))
        page.wait_for_selector("h1:has-text('Load a shot log.')")
        settled(page)
        with page.expect_download() as example:
            click(page.get_by_role("button", name="Take the example file"))
        log = tmp_path / example.value.suggested_filename
        example.value.save_as(log)
        with page.expect_file_chooser() as chooser:
            click(page.get_by_test_id("stFileUploaderDropzone").locator("button"))
        chooser.value.set_files(log)
        page.wait_for_selector(f"text={log.name}")
        settled(page)
        click(page.get_by_role("button", name="Load", exact=True))
        page.wait_for_selector("h1:has-text('new shots stored.')")
        note("loaded")
        settled(page)
        click(page.get_by_role("button", name="Fit these shots"))
        page.wait_for_selector("text=The fit is under way")
        page.wait_for_selector("text=The Coach page answers from the latest fit.", timeout=FIT_MS)
        note("fitted")
        settled(page)
        click(page.locator("[data-testid='stPageLink'] a", has_text="Coach"))
        answer = re.compile(rf"^({'|'.join(players_in(log))}): ")  # who has most to gain
        page.locator("h1", has_text=answer).wait_for(state="visible")
        note("first answer")
        take = page.get_by_role("button", name="Take the card along")
        take.wait_for(state="visible")
        settled(page)
        with page.expect_download() as card:
            click(take)
        text = tmp_path / "card.txt"
        card.value.save_as(text)
        note("first card")
        OUT.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=OUT / "newcomer.png", full_page=True)
        (OUT / "newcomer.json").write_text(json.dumps(reached, indent=1))
        browser.close()
    said = text.read_text(encoding="utf-8")
    assert said.startswith("Practice card: ")
    assert [row.split(":")[0] for row in said.splitlines()[2:6]] == [
        "Goal",
        "Drill",
        "Promised",
        "Retest",
    ]
    assert clicks <= MOST_CLICKS
