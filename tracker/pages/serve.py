"""The page's server, started warm: ``python -m tracker.pages.serve [options of the server]``.

What every first answer needs (the flight table, the latest fit, whom the coach sees first) is
worked out in a thread while the server starts, not while the first reader waits. Everything is
loaded before the thread that needs it, so that no module is loaded by two threads at once.
"""

import logging
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

from models.drive import Conditions
from models.drive_parameters import default_parameters
from models.flight_table import flight_table

APP_FILE = Path(__file__).parents[2] / "app.py"


def main(options: Sequence[str]) -> None:
    """Serve the page until it is stopped."""
    table = threading.Thread(target=build_table, daemon=True)
    table.start()
    from streamlit.web.cli import main as streamlit

    from tracker.pages import coach, load, physics, player, squad  # noqa: F401  (loaded, not used)

    threading.Thread(target=first_answer, args=(table,), daemon=True).start()
    streamlit(["run", str(APP_FILE), *options], prog_name="streamlit")


def build_table() -> None:
    """Build the flight table of ordinary air, which every answer looks up."""
    flight_table(Conditions().air, default_parameters().flight_constants())


def first_answer(after: threading.Thread) -> None:
    """Work out what the coach's page asks first; it fails quietly, the page says what is wrong."""
    from tracker.errors import TrackerError
    from tracker.pages import context

    after.join()
    try:
        context.work_out_first_answer()
    except TrackerError:
        logging.getLogger(__name__).info("nothing to work out ahead", exc_info=True)


if __name__ == "__main__":
    main(sys.argv[1:])
