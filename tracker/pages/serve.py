"""The page's server, started warm: ``python -m tracker.pages.serve [--section.option VALUE ...]``.

What every first answer needs (the compiled flight, the latest fit, whom the coach sees first) is
worked out in a thread while the server starts, not while the first reader waits; what readers are
likely to ask next follows. Everything is loaded before the thread that needs it, so that no module
is loaded by two threads at once. The address is said once it answers; a port that is taken is found
before anything is loaded.
"""

import argparse
import contextlib
import errno
import gc
import http.client
import importlib
import json
import logging
import os
import pkgutil
import socket
import sys
import threading
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import uvicorn

APP_FILE = Path(__file__).parents[2] / "app.py"
DEFAULTS: Mapping[str, Any] = {
    "server.address": "127.0.0.1",
    "server.port": 8501,
    "client.showErrorLinks": False,
}
"""An error box offers no link that would send its text to somebody else's site."""
_TAKEN = {errno.EADDRINUSE, errno.EACCES}
_BROWSER_SILENT_S = 30
"""From this long a silence on, a browser that answers no ping is taken for gone."""
_LAST_WORDS_S = 3
"""How long open connections are given to end when the server is stopped."""


def main(options: Sequence[str]) -> int:
    """Serve the page until it is stopped; return the exit code."""
    asked = options_of(options)
    address, port = str(asked["server.address"]), int(asked["server.port"])
    try:
        bound = bind(address, port)
    except OSError as error:
        if error.errno not in _TAKEN:
            raise
        sys.stderr.write(
            f"Port {port} is taken by another program, so the page is not served: "
            f"choose another with --port, such as --port {port + 1}.\n"
        )
        return 1
    importlib.import_module("models.drive.drive")
    ready = threading.Thread(target=load_flight, daemon=True)
    ready.start()
    server = server_of(bound, asked)
    for page in pkgutil.iter_modules([str(Path(__file__).parent)]):
        importlib.import_module(f"tracker.pages.{page.name}")
    set_apart()
    threading.Thread(target=first_answer, args=(ready,), daemon=True).start()
    threading.Thread(target=announce, args=(server, bound), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[bound])
    return 0 if server.started else 1


def options_of(words: Sequence[str]) -> Mapping[str, Any]:
    """Return the server's options by name; a number or a truth value is read as such."""
    parser = argparse.ArgumentParser(prog="tracker.pages.serve", allow_abbrev=False)
    names = [word.removeprefix("--") for word in words if word.startswith("--")]
    for name in {*DEFAULTS, *names}:
        parser.add_argument(f"--{name}", default=DEFAULTS.get(name), type=_value)
    return vars(parser.parse_args(words))


def _value(word: str) -> Any:
    try:
        return json.loads(word)
    except ValueError:
        return word


def bind(address: str, port: int) -> socket.socket:
    """Return a socket on an address; raise OSError where the port is taken."""
    bound = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET)
    try:
        if os.name != "nt":  # there it would share a port that is taken
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((address, port))
    except OSError:
        bound.close()
        raise
    return bound


def server_of(bound: socket.socket, options: Mapping[str, Any]) -> "uvicorn.Server":
    """Return the server of the page, behind its door, not yet running."""
    import uvicorn  # Streamlit's own server; it comes with it
    from streamlit import App
    from streamlit.web.bootstrap import load_config_options

    from tracker.pages.guard import Guard, own_hosts

    page = App(APP_FILE)
    port = bound.getsockname()[1]
    load_config_options({**options, "server.port": port})
    hosts = own_hosts(str(options["server.address"]), port)
    return uvicorn.Server(
        uvicorn.Config(
            Guard(page, hosts),
            ws="websockets-sansio",
            ws_ping_interval=_BROWSER_SILENT_S,
            ws_ping_timeout=_BROWSER_SILENT_S,
            ws_per_message_deflate=False,
            timeout_graceful_shutdown=_LAST_WORDS_S,
            access_log=False,
            log_level="warning",
            use_colors=False,
        )
    )


def announce(server: "uvicorn.Server", bound: socket.socket) -> None:
    """Say the address once the page answers there."""
    address, port = bound.getsockname()[:2]
    while not (server.started and _answers(address, port)):
        if server.should_exit:
            return
        time.sleep(0.05)
    host = f"[{address}]" if ":" in address else address
    sys.stderr.write(f"The page: http://{host}:{port} (stop with Ctrl+C)\n")
    sys.stderr.flush()


def _answers(address: str, port: int) -> bool:
    asked = http.client.HTTPConnection(address, port, timeout=5)
    try:
        asked.request("GET", "/_stcore/health", headers={"Host": f"127.0.0.1:{port}"})
        return asked.getresponse().status == 200
    except OSError:
        return False
    finally:
        asked.close()


def load_flight() -> None:
    """Load the compiled impact and flight, which every answer needs."""
    import numpy as np

    from models.drive.drive import Delivery, drive_cloud

    drive_cloud(Delivery(club_speed_mps=np.full(2, 45.0), attack_deg=0.0, loft_deg=13.0))


def first_answer(after: threading.Thread) -> None:
    """Work out what the coach's page asks first; it fails quietly, the page says what is wrong."""
    from tracker.errors import TrackerError
    from tracker.pages import coach_ahead, season, squad
    from tracker.pages.shared import context, judging, opening
    from tracker.pages.shared.ahead import AHEAD

    after.join()
    try:
        opening.work_out_counts()
        context.work_out_first_answer()
        judging.work_out_first_verdict()
        coach_ahead.work_out_ahead()
        set_apart()
        season.work_out_ahead()
        squad.work_out_ahead()  # last, since it is long for a large squad
    except TrackerError as error:
        # the kind alone: a message may hold a player's name, and logs are kept and sent about
        logging.getLogger(__name__).info("nothing to work out ahead: %s", type(error).__name__)
    set_apart()
    AHEAD.start()


def set_apart() -> None:
    """Take what is loaded by now out of the search for garbage.

    The library searches everything whenever a page has been drawn, and nothing is sent meanwhile:
    some .15 s each time, in what stays for good.
    """
    gc.collect()
    gc.freeze()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
