"""The browser that looks at the pages."""

import shutil

import pytest

from tests.browser.serving import ARGUMENTS, CHROMIUM


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
