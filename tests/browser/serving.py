"""The page's server for a database, and a browser that looks at it."""

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).parents[2]
CHROMIUM = os.environ.get("DRIVE_PROGRESS_CHROMIUM", "/usr/bin/chromium")
ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_MS = 120_000
"""How long the first page may take: the server loads everything and builds its tables."""


@contextmanager
def served(url: str) -> Iterator[str]:
    """Serve a database's pages as long as the block lasts; give their address."""
    with server_of(url) as (address, _):
        yield address


@contextmanager
def server_of(url: str) -> Iterator[tuple[str, int]]:
    """Serve a database's pages as long as the block lasts; give their address and the process."""
    if shutil.which(CHROMIUM) is None:
        pytest.skip(f"no Chromium at {CHROMIUM}: name another in DRIVE_PROGRESS_CHROMIUM")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "-m", "tracker.pages.serve", "--server.port", str(port)],
        cwd=ROOT,
        env={**os.environ, "DRIVE_PROGRESS_DB": url},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{port}"
    try:
        while not _answers(f"{address}/_stcore/health"):
            assert server.poll() is None, "the page's server ended by itself"
        yield address, server.pid
    finally:
        server.terminate()
        server.wait(timeout=20)


def _answers(address: str) -> bool:
    try:
        with urlopen(address, timeout=1):  # noqa: S310  (our own server)
            return True
    except (URLError, OSError):
        return False


def settled(page: Any) -> None:
    """Wait until the script has run to its end and the pictures have stopped moving."""
    page.wait_for_timeout(300)
    page.wait_for_selector("[data-testid='stApp'][data-test-script-state='notRunning']")
    page.wait_for_timeout(300)
