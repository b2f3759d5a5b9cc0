"""The one front door: every request is let in or refused here, before any route sees it.

A server on the loopback address is reachable by every page open in the same browser. So a request counts as
ours only when its Host is exactly ours (no other name can be pointed at this machine), its Origin and fetch
metadata, where a browser sends them, say that our own page made it (another port of this machine is foreign),
and its path and cookie carry this folder's secrets. GET never changes anything.
"""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "desk"
OPEN_PATH = "/open"
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
TRUSTED_TYPES = "; require-trusted-types-for 'script'; trusted-types 'none'"
HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"cache-control", b"no-store"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"referrer-policy", b"same-origin"),
)


@dataclass(frozen=True)
class Secrets:
    """What lets our own page in. port : of the address; prefix : first part of every path; cookie : value."""

    port: int
    prefix: str
    cookie: str

    @property
    def host(self) -> str:
        """The only Host there is."""
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        """Of our own pages."""
        return f"http://{self.host}"

    @property
    def home(self) -> str:
        """Path of the first page."""
        return f"/{self.prefix}/"


class Door:
    """The application behind the door. strict : paths under the prefix that no markup may be built on."""

    def __init__(self, app: App, secrets: Secrets, *, strict: frozenset[str] = frozenset()) -> None:
        self._app, self._secrets, self._strict = app, secrets, strict

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As ASGI has it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        reason = refusal(scope, self._secrets)
        send = self._with_headers(scope, send)
        if reason:
            await _refuse(send, reason)
            return
        await self._app(scope, receive, send)

    def _with_headers(self, scope: Scope, send: Send) -> Send:
        relaxed = scope["path"].removeprefix(self._secrets.home) not in self._strict
        policy = _POLICY if relaxed else _POLICY + TRUSTED_TYPES

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                ours = (*HEADERS, (b"content-security-policy", policy.encode()))
                names = {name for name, _ in ours}
                others = [(name, value) for name, value in message.get("headers", ()) if name not in names]
                message["headers"] = [*others, *ours]
            await send(message)

        return sending


def refusal(scope: Scope, secrets: Secrets) -> str:
    """Why a request is not let in, in one sentence; '' for one that is."""
    headers: dict[bytes, list[bytes]] = {}
    for name, value in scope["headers"]:
        headers.setdefault(name.lower(), []).append(value)
    if headers.get(b"host") != [secrets.host.encode()]:
        return "This desk answers at its own address only."
    if scope["method"] not in ("GET", "POST"):
        return "This desk only reads and notes."
    path, opening = scope["path"], scope["path"] == OPEN_PATH
    origins = headers.get(b"origin", [])
    if origins and origins != [secrets.origin.encode()]:
        return "Another page's request."
    if scope["method"] == "POST" and (opening or not origins):
        return "A note must come from the desk's own page."
    if opening:
        return ""
    sites = headers.get(b"sec-fetch-site", [])
    allowed = ([b"same-origin"], [b"none"]) if scope["method"] == "GET" else ([b"same-origin"],)
    if sites and sites not in allowed:
        return "Another page's request."
    if not path.startswith(secrets.home):
        return "Nothing is kept here."
    if not hmac.compare_digest(_cookie(headers), secrets.cookie.encode()):
        return "Open the desk by the address that was printed; each of them works once."
    return ""


def _cookie(headers: dict[bytes, list[bytes]]) -> bytes:
    """The desk's cookie; nothing where it is there twice, as one of them is not ours."""
    found = [
        pair.strip().partition(b"=")[2]
        for line in headers.get(b"cookie", [])
        for pair in line.split(b";")
        if pair.strip().partition(b"=")[0] == COOKIE.encode()
    ]
    return found[0] if len(found) == 1 else b""


async def _refuse(send: Send, reason: str) -> None:
    body = reason.encode()
    await send(
        {
            "type": "http.response.start",
            "status": 403,
            "headers": [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"content-length", str(len(body)).encode()),
                (b"connection", b"close"),
            ],
        }
    )
    await send({"type": "http.response.body", "body": body})
