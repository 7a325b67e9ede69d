"""The page's server as a process: what it says, whom it answers, and how it ends."""

import base64
import os
import re
import signal
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from tracker.pages.guard import content_policy, own_hosts, own_scripts, refusal
from tracker.pages.serve import options_of

ROOT = Path(__file__).parents[3]
PAGE = "from tracker.cli.main import main; main()"
GIVE_UP_S = 240
"""After so long a hanging server is a failure; nothing here is judged by how fast it is."""


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def start(folder, port):
    return subprocess.Popen(
        [sys.executable, "-c", PAGE, "page", "--port", str(port), "--db", str(folder / "shots.db")],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )


def line_of(process, words):
    """Return the first line with some words that a process says; fail when it ends without."""
    giving_up = threading.Timer(GIVE_UP_S, process.kill)
    giving_up.start()
    try:
        for line in process.stderr:
            if words in line:
                return line
    finally:
        giving_up.cancel()
    pytest.fail(f"the server ended with code {process.wait()} and never said {words!r}")


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    port = free_port()
    process = start(tmp_path_factory.mktemp("served"), port)
    try:
        said = line_of(process, "The page: ")
        first = ask(port)  # the address is said once it answers, so this one answers
        yield port, said, first
    finally:
        process.terminate()
        process.communicate(timeout=GIVE_UP_S)


def ask(port, path="/", **headers):
    """Send one request as written; return status, headers and body."""
    asked = {"Host": f"127.0.0.1:{port}", "Connection": "close", **headers}
    lines = [
        f"GET {path} HTTP/1.1",
        *(f"{k.replace('_', '-')}: {v}" for k, v in asked.items() if v),
    ]
    with socket.create_connection(("127.0.0.1", port), GIVE_UP_S) as line:
        line.sendall("\r\n".join([*lines, "", ""]).encode())
        answer = b""
        while b"\r\n\r\n" not in answer or not headers.get("Upgrade"):
            got = line.recv(65536)
            if not got:
                break
            answer += got
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    return int(first.split()[1]), dict(r.lower().split(": ", 1) for r in rest), body


def open_socket(port, **headers):
    key = base64.b64encode(b"sixteen octets..").decode()
    wanted = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec_WebSocket_Version": "13",
        "Sec_WebSocket_Key": key,
        "Sec_WebSocket_Protocol": "streamlit",
    }
    return ask(port, "/_stcore/stream", **wanted, **headers)[0]


def test_the_address_is_said_when_it_answers(served):
    port, said, (status, _, body) = served
    assert said == f"The page: http://127.0.0.1:{port} (stop with Ctrl+C)\n"
    assert status == 200
    assert b'<div id="root">' in body


def test_its_own_names_are_answered(served):
    port = served[0]
    for name in ("127.0.0.1", "localhost", "LOCALHOST", "[::1]"):
        assert ask(port, "/_stcore/health", Host=f"{name}:{port}")[0] == 200


@pytest.mark.parametrize(
    "host", ["evil.example:{port}", "127.0.0.1", "localhost:1", "127.0.0.1.evil.example:{port}", ""]
)
def test_other_names_are_refused(served, host):
    port = served[0]
    foreign = host.format(port=port)
    for path in ("/", "/_stcore/health", "/_stcore/host-config", "/static/index.html"):
        status, headers, body = ask(port, path, Host=foreign)
        assert 400 <= status < 500
        assert b"<script" not in body
        assert "access-control-allow-origin" not in headers
    assert 400 <= open_socket(port, Host=foreign, Origin=f"http://{foreign}") < 500


def test_the_connection_is_opened_for_its_own_pages_only(served):
    port = served[0]
    assert open_socket(port, Origin=f"http://127.0.0.1:{port}") == 101
    assert open_socket(port, Host=f"localhost:{port}", Origin=f"http://localhost:{port}") == 101
    foreign = ("http://evil.example", f"http://evil.example:{port}", "null", "http://localhost", "")
    for origin in foreign:
        assert open_socket(port, Origin=origin) == 403, origin
    assert ask(port, "/_stcore/health", Origin="http://evil.example")[0] == 421


def test_every_answer_forbids_framing_and_anything_from_outside(served):
    port = served[0]
    for path in ("/", "/player", "/_stcore/health", "/favicon.png", "/_stcore/host-config"):
        status, headers, _ = ask(port, path)
        assert status == 200
        assert headers["x-frame-options"] == "deny"
        assert headers["x-content-type-options"] == "nosniff"
        rules = dict(rule.split(" ", 1) for rule in headers["content-security-policy"].split("; "))
        assert rules["default-src"] == "'self'"
        assert rules["frame-ancestors"] == "'none'"
        assert rules["connect-src"] == f"'self' ws://127.0.0.1:{port}"
        for sources in rules.values():
            for source in sources.split():
                quoted = source.startswith("'") and source.endswith("'")
                assert quoted or source in {"data:", "blob:", f"ws://127.0.0.1:{port}"}
        assert "'unsafe" not in rules["script-src"]


@pytest.mark.slow
def test_a_taken_port_is_said_with_the_remedy(served, tmp_path):
    port = served[0]
    second = start(tmp_path, port)
    said = second.communicate(timeout=GIVE_UP_S)[1]
    assert second.returncode == 1
    assert f"Port {port} is taken" in said
    assert f"--port {port + 1}" in said
    assert "The page:" not in said
    assert ask(port, "/_stcore/health")[0] == 200


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_the_server_too(tmp_path, number):
    port = free_port()
    process = start(tmp_path, port)
    line_of(process, "The page: ")
    process.send_signal(number)
    said = process.communicate(timeout=GIVE_UP_S)[1]  # ends only when nobody holds the stream
    assert process.returncode == 0
    assert said.splitlines()[-1] == "Stopped."
    assert "Traceback" not in said
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), 5)


def test_an_address_that_others_reach_is_a_name_besides():
    assert own_hosts("127.0.0.1", 8501) == {"127.0.0.1:8501", "localhost:8501", "[::1]:8501"}
    assert own_hosts("192.0.2.7", 8501) - own_hosts("127.0.0.1", 8501) == {"192.0.2.7:8501"}
    assert "[2001:db8::1]:90" in own_hosts("2001:DB8::1", 90)
    assert "academy.example:90" in own_hosts("Academy.example", 90)
    for every in ("0.0.0.0", "::"):  # noqa: S104  (a name, nothing is bound)
        assert own_hosts(every, 90) == own_hosts("127.0.0.1", 90)
    assert "localhost" in own_hosts("127.0.0.1", 80)
    assert "localhost" not in own_hosts("127.0.0.1", 8080)


def test_a_request_with_two_names_is_refused():
    hosts = own_hosts("127.0.0.1", 90)
    twice = [(b"host", b"localhost:90"), (b"host", b"evil.example")]
    assert refusal({"type": "http", "headers": twice}, hosts) is not None
    assert refusal({"type": "http", "headers": twice[:1]}, hosts) is None


def test_the_script_of_the_first_page_is_named_by_its_digest():
    digests = own_scripts()
    assert digests
    for digest in digests:
        assert re.fullmatch(r"[A-Za-z0-9+/]{43}=", digest)
        assert f"'sha256-{digest}'" in content_policy(digests)


def test_options_are_read_as_they_are_typed():
    found = options_of(["--server.port", "90", "--server.headless", "true"])
    assert found["server.port"] == 90
    assert found["server.headless"] is True
    assert found["server.address"] == "127.0.0.1"
