"""The page's server, started warm: ``python -m tracker.pages.serve [options of the server]``.

What every first answer needs (the compiled flight, the latest fit, whom the coach sees first) is
worked out in a thread while the server starts, not while the first reader waits. Everything is
loaded before the thread that needs it, so that no module is loaded by two threads at once.
"""

import importlib
import logging
import pkgutil
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from models.drive.drive import Delivery, drive_cloud

APP_FILE = Path(__file__).parents[2] / "app.py"
QUIET = ("--client.showErrorLinks", "false")
"""An error box offers no link that would send its text to somebody else's site."""


def main(options: Sequence[str]) -> None:
    """Serve the page until it is stopped."""
    ready = threading.Thread(target=load_flight, daemon=True)
    ready.start()
    from streamlit.web.cli import main as streamlit

    for page in pkgutil.iter_modules([str(Path(__file__).parent)]):
        importlib.import_module(f"tracker.pages.{page.name}")
    threading.Thread(target=first_answer, args=(ready,), daemon=True).start()
    streamlit(["run", str(APP_FILE), *QUIET, *options], prog_name="streamlit")


def load_flight() -> None:
    """Load the compiled impact and flight, which every answer needs."""
    drive_cloud(Delivery(club_speed_mps=np.full(2, 45.0), attack_deg=0.0, loft_deg=13.0))


def first_answer(after: threading.Thread) -> None:
    """Work out what the coach's page asks first; it fails quietly, the page says what is wrong."""
    from tracker.errors import TrackerError
    from tracker.pages.shared import context, judging

    after.join()
    try:
        context.work_out_first_answer()
        judging.work_out_first_limit()
    except TrackerError as error:
        # the kind alone: a message may hold a player's name, and logs are kept and sent about
        logging.getLogger(__name__).info("nothing to work out ahead: %s", type(error).__name__)


if __name__ == "__main__":
    main(sys.argv[1:])
