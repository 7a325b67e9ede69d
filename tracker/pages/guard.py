"""The door of the page's server: who is answered, and that the browser may load nothing else.

A web page somewhere else can have its own name lead to this machine and then ask as if it were
served from here. Only requests to the server's own names are answered, therefore, and only those
that its own pages make.
"""

import base64
import hashlib
import ipaddress
import re
from collections.abc import Awaitable, Callable, Collection, Iterable, MutableMapping
from pathlib import Path
from typing import Any

import streamlit

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Message, Receive, Send], Awaitable[None]]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
"""What a browser on this machine calls it."""
_INLINE_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_OTHERS = (
    (b"x-frame-options", b"DENY"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
)


class Guard:
    """A server's application behind its door.

    ``hosts`` are the names that are answered, each with the port as a browser writes it.
    """

    def __init__(self, app: App, hosts: Collection[str]) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._policy = content_policy(own_scripts())

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it; ASGI as every server of this kind speaks it."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        why_not = refusal(scope, self._hosts)
        if why_not is not None:
            await _refuse(scope, why_not, receive, send)
            return
        (host,) = _values(scope, b"host")
        policy = self._policy.format(socket=f"ws://{host}").encode()

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _guarded(message.get("headers", ()), policy)
            await send(message)

        await self._app(scope, receive, send_guarded)


def own_hosts(address: str, port: int) -> frozenset[str]:
    """Return the names under which a server on an address is asked, with its port.

    An address that others can reach is a name besides those of this machine.
    """
    names = {*LOOPBACK}
    try:
        ip = ipaddress.ip_address(address)
    except ValueError:
        names.add(address.lower())
    else:
        if not ip.is_unspecified:
            names.add(f"[{ip}]" if ip.version == 6 else str(ip))
    return frozenset(f"{name}:{port}" for name in names) | (names if port == 80 else frozenset())


def refusal(scope: Message, hosts: Collection[str]) -> str | None:
    """Return why a request is not answered; None where it is."""
    asked = _values(scope, b"host")
    if len(asked) != 1 or asked[0].lower() not in hosts:
        return f"This server answers to {', '.join(sorted(hosts))} only."
    origins = _values(scope, b"origin")
    if scope["type"] == "websocket" and not origins:
        return "A connection says which page asks for it."
    if any(origin.lower() not in {f"http://{host}" for host in hosts} for origin in origins):
        return "This server answers its own pages only."
    return None


def content_policy(scripts: Iterable[str]) -> str:
    """Return the content policy; ``{socket}`` stands for the address of the page's connection.

    ``scripts`` are digests of the scripts written into the first page. The face to click on comes
    as a script made on the spot, from an address that only the page itself can make.
    """
    digests = " ".join(f"'sha256-{digest}'" for digest in scripts)
    return "; ".join(
        (
            "default-src 'self'",
            f"script-src 'self' blob: {digests}".strip(),
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "media-src 'self' data: blob:",
            "worker-src 'self' blob:",
            "connect-src 'self' {socket}",
            "object-src 'none'",
            "frame-src 'none'",
            "base-uri 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


def own_scripts() -> tuple[str, ...]:
    """Return the digests of the scripts in the page that the browser is given first."""
    page = Path(streamlit.__file__).parent / "static" / "index.html"
    found = _INLINE_SCRIPT.findall(page.read_text(encoding="utf-8"))
    return tuple(base64.b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in found)


def _values(scope: Message, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key.lower() == name]


def _guarded(headers: Iterable[tuple[bytes, bytes]], policy: bytes) -> list[tuple[bytes, bytes]]:
    ours = dict((*_OTHERS, (b"content-security-policy", policy)))
    return [*(h for h in headers if h[0].lower() not in ours), *ours.items()]


async def _refuse(scope: Message, why: str, receive: Receive, send: Send) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": why})
        return
    body = why.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), *_OTHERS]
    headers.append((b"content-length", str(len(body)).encode()))
    await send({"type": "http.response.start", "status": 421, "headers": headers})
    await send({"type": "http.response.body", "body": body})
