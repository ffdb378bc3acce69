"""Who may talk to the live page: this machine under its own names alone, and what browsers are told to forbid."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
"""The names under which a browser on this machine reaches the page."""

OPEN_PATHS = ("/", "/favicon.ico")
OPEN_FOLDERS = ("/_nicegui/", "/_nicegui_ws/", "/assets/", "/export/")
"""Everything that the page consists of; nothing else is answered."""

METHODS = ("GET", "HEAD", "POST")

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self' 'unsafe-inline'",  # the page's frame carries its start in an inline script
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""Content security policy: nothing from outside, no text ever run as a script, no frame round the page."""

HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
)


class Guard:
    """ASGI application round another: refuses foreign hosts, origins and paths with 403, adds headers to every answer.

    A page of another site could let its own name point to 127.0.0.1 and then read what is served here; it cannot change
    the Host that the browser sends, nor the Origin. Both are held against the loopback names with the port.

    app  : what answers allowed requests
    port : the port that the server listens on
    """

    def __init__(self, app: Application, port: int) -> None:
        self.app = app
        self.hosts = frozenset(f"{name}:{port}" for name in LOOPBACK_NAMES) | (
            frozenset(LOOPBACK_NAMES) if port == 80 else frozenset()
        )
        self.origins = frozenset(f"http://{host}" for host in self.hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        reason = self.reason_to_refuse(scope)
        if scope["type"] == "websocket":
            if reason:
                await receive()
                await send({"type": "websocket.close", "code": 1008, "reason": reason})  # before accept: a plain 403
                return
            await self.app(scope, receive, send)
            return
        if reason:
            await _refuse(send, reason)
            return

        async def with_headers(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*_without(message.get("headers", ()), HEADERS), *HEADERS]
            await send(message)

        await self.app(scope, receive, with_headers)

    def reason_to_refuse(self, scope: Scope) -> str:
        """Return why a request is refused, in one line; '' if it is allowed."""
        headers = list(scope.get("headers", ()))
        hosts, origins = _values(headers, b"host"), _values(headers, b"origin")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return "refused: this page answers to 127.0.0.1 and localhost alone"
        if len(origins) > 1 or any(origin.lower() not in self.origins for origin in origins):
            return "refused: a page of another origin asked"
        if scope["type"] == "websocket":
            if not origins:
                return "refused: a socket is opened by the page alone, which names its origin"
        elif scope["method"] not in METHODS:
            return "refused: method not used here"
        # a page of another site may link to this one, but not load pieces of it or have it solve
        site, mode = _values(headers, b"sec-fetch-site"), _values(headers, b"sec-fetch-mode")
        path = scope["path"]
        if any(item not in ("same-origin", "none") for item in site) and not (mode == ["navigate"] and path == "/"):
            return "refused: a page of another site asked"
        if path not in OPEN_PATHS and not path.startswith(OPEN_FOLDERS):
            return "refused: nothing is served here"
        return ""


def _values(headers: Iterable[tuple[bytes, bytes]], name: bytes) -> list[str]:
    return [value.decode("latin-1").strip() for key, value in headers if key.lower() == name]


def _without(
    headers: Iterable[tuple[bytes, bytes]], others: Iterable[tuple[bytes, bytes]]
) -> list[tuple[bytes, bytes]]:
    names = {name for name, _ in others}
    return [(name, value) for name, value in headers if name.lower() not in names]


async def _refuse(send: Send, reason: str) -> None:
    body = f"{reason}\n".encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode()), *HEADERS]
    await send({"type": "http.response.start", "status": 403, "headers": headers})
    await send({"type": "http.response.body", "body": body})
