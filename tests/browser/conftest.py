"""The browser that looks at the pages, and the pages it looks at."""

import shutil

import pytest

from tests.browser.serving import ARGUMENTS, CHROMIUM, served
from tests.tracker.pages.academy import fill
from tracker.store.store import Store


@pytest.fixture(scope="module")
def chromium():
    if shutil.which(CHROMIUM) is None:
        pytest.skip(
            f"no Chromium at {CHROMIUM}: install the chromium package, or name another in "
            "DRIVE_PROGRESS_CHROMIUM"
        )
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """Return where the invented academy with ball data is served."""
    url = f"sqlite:///{tmp_path_factory.mktemp('browser') / 'academy.db'}"
    with Store.open(url) as store:
        fill(store, with_balls=True)
    with served(url) as found:
        yield found
