"""How long a reader waits for each page: ``python -m tests.benchmarks.page_times DATABASE``.

In a real browser, for every page: the answer and the first picture when it is opened for the first
time and again, and how long after a control was moved the page says something else. Each is given
on the wall, which other work on the machine makes longer, and in processor seconds of the server,
which it hardly does; the load average stands beside them. The database is copied first, since
pages keep in it what they worked out.
"""

import argparse
import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.browser.serving import ARGUMENTS, CHROMIUM, PATIENCE_MS, server_of
from tests.pages import PAGES

PICTURE = "[data-testid='stVegaLiteChart'] svg.marks, iframe"
AT_REST = "[data-testid='stApp'][data-test-script-state='notRunning']"
WITHOUT_PICTURE = ("live", "trust", "load")
"""Pages that show no picture before something is chosen."""
UNITS = "Units"
CONTROLS = {
    "coach": ("Player", "What counts", UNITS),
    "player": ("Player", "What", UNITS),
    "squad": ("What", UNITS),
}
"""Which select boxes are moved on a page, by their labels; the units on every other one."""
SAYS_ELSE = """before => {
    const main = document.querySelector("[data-testid='stMain']");
    const busy = main.querySelector("[data-testid='stSpinner']");
    return main.innerText !== before && main.querySelector("h1") && !busy;
}"""
QUIET_S = 6.0
"""The server is taken for warm when it has used next to nothing for so long."""


@dataclass(frozen=True, slots=True)
class Wait:
    """One thing that was waited for."""

    page: str
    what: str
    wall_s: float
    processor_s: float
    """Of the server alone, all its threads."""
    load: float


class Watch:
    """A clock that starts when something is asked; ``process`` is the server's number."""

    def __init__(self, process: int, page: str) -> None:
        self._process, self._page = process, page
        self._begun, self._used = time.perf_counter(), processor_seconds(process)

    def waited(self, what: str) -> Wait:
        """Return what has been waited so far."""
        wall = time.perf_counter() - self._begun
        used = processor_seconds(self._process) - self._used
        return Wait(self._page, what, wall, used, os.getloadavg()[0])


def processor_seconds(process: int) -> float:
    """Return the processor seconds that a process has used (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rsplit(") ", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def wait_until_warm(process: int) -> float:
    """Wait until the server has nothing to work out; return its processor seconds."""
    while True:
        used = processor_seconds(process)
        time.sleep(QUIET_S)
        if processor_seconds(process) - used < 0.1 * QUIET_S:
            return used


def page_waits(browser: Any, address: str, process: int, name: str) -> Iterator[Wait]:
    """Yield the waits of one page: opened for the first time, again, and by each control."""
    for which in ("first", "again"):
        reader = browser.new_context(viewport={"width": 1400, "height": 1000})
        page = reader.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(f"{address}/load")  # a browser that has the program's own files
        page.wait_for_selector("h1")
        page.wait_for_selector(AT_REST)
        watch = Watch(process, name)
        page.goto(f"{address}/{name}")
        page.wait_for_selector("h1")
        yield watch.waited(f"answer, {which}")
        if name not in WITHOUT_PICTURE:
            page.wait_for_selector(PICTURE)
            yield watch.waited(f"picture, {which}")
        page.wait_for_selector(AT_REST)
        yield watch.waited(f"whole page, {which}")
        if which == "again":
            for control in CONTROLS.get(name, (UNITS,)):
                yield from _moved(page, process, name, control)
        reader.close()


def _moved(page: Any, process: int, name: str, control: str) -> Iterator[Wait]:
    page.wait_for_timeout(500)
    boxes = page.locator("[data-testid='stSelectbox']")
    box = boxes.filter(has=page.get_by_text(control, exact=True)).first.locator("input")
    box.click()
    option = page.get_by_role("option", selected=False).last
    option.wait_for()
    before = page.locator("[data-testid='stMain']").inner_text()
    watch = Watch(process, name)
    option.click()
    if name in CONTROLS:  # the others may say the same in other units
        page.wait_for_function(SAYS_ELSE, arg=before)
        yield watch.waited(f"{control} moved")
    page.wait_for_timeout(300)
    page.wait_for_selector(AT_REST)
    yield watch.waited(f"{control} moved, whole page")


def all_waits(database: Path, names: Sequence[str]) -> Iterator[Wait]:
    """Yield the waits of some pages on a copy of a database."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        copied = shutil.copy(database, folder)
        with server_of(f"sqlite:///{copied}") as (address, process), sync_playwright() as started:
            print(f"worked out ahead: {wait_until_warm(process):.1f} processor s")
            browser = started.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            for name in names:
                yield from page_waits(browser, address, process, name)
            browser.close()


def main() -> None:
    """Print the waits as a table."""
    parser = argparse.ArgumentParser(prog="tests.benchmarks.page_times")
    parser.add_argument("database", type=Path)
    parser.add_argument("pages", nargs="*", help="some pages by their name in the address")
    told = parser.parse_args()
    print(f"{'page':<8} {'what':<32} {'wall s':>7} {'processor s':>12} {'load':>6}")
    for wait in all_waits(told.database, told.pages or [page.path for page in PAGES]):
        print(
            f"{wait.page:<8} {wait.what:<32} {wait.wall_s:7.2f} {wait.processor_s:12.2f} "
            f"{wait.load:6.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
