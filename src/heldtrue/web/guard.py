"""The guard in front of every request: whose it is, where it came from, how large it is, and what the browser may do.

Plain ASGI, so that it stands before pages, sockets, files and API alike.
"""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from contextlib import suppress
from typing import Any
from urllib.parse import urlsplit

from starlette.requests import HTTPConnection, Request

from heldtrue.errors import StorageError
from heldtrue.web import texts
from heldtrue.web.access.door import Door, refusal

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
LARGEST_BODY = 1_500_000
"""Bytes of one request: a setup file of 1 MB and what a form wraps round it."""
LARGEST_UPLOAD = 12_500_000
"""Bytes of one request that hands a file to an open page: a picture of a tablet's camera and what wraps it."""
BODY_WITHIN = 120.0
"""How long the body of a request may take to come in, s: a picture over a bad network takes a minute."""
UPLOAD = re.compile(r"/_nicegui/client/[A-Za-z0-9-]+/upload/\d+")
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})

# The pages draw themselves with scripts in the page and templates compiled in the browser; nothing may come from
# elsewhere, and nobody may frame them.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # Not no-referrer: forms of our own pages would then come from "null", and be refused.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"geolocation=(), microphone=(), payment=(), usb=()"),
)


class Guard:
    """Refuses what is not for this server, and adds the headers to what it answers."""

    def __init__(self, app: App, hosts: Iterable[str] = LOOPBACK, door: Door | None = None) -> None:
        self.app, self.door = app, door
        self.hosts = frozenset(host.casefold() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request or socket."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = {name.lower(): value.decode("latin-1") for name, value in scope["headers"]}
        why = self._refusal(scope, headers)
        if why is not None:
            await _refuse(scope, receive, send, *why)
            return
        # Words of a proxy are nobody's here: whoever sends them could be anybody.
        scope["headers"] = [one for one in scope["headers"] if not one[0].lower().startswith(b"x-forwarded")]
        if scope["type"] == "http":
            receive = _counted(receive, _most(scope), asyncio.get_running_loop().time() + BODY_WITHIN)
        if self.door is not None and await self._turned_away(self.door, scope, receive, send):
            return
        await self.app(scope, receive, _with_headers(send))

    async def _turned_away(self, door: Door, scope: Scope, receive: Receive, send: Send) -> bool:
        """Answer in place of the app whoever has not logged in."""
        if scope["type"] == "websocket":
            with suppress(StorageError):
                if door.admit(scope, HTTPConnection(scope)):
                    return False
            await _refuse(scope, receive, send, 401, texts.NOT_LOGGED_IN)
            return True
        try:
            answer = await door.answer(scope, Request(scope, receive))
        except StorageError as error:
            answer = refusal(503, str(error))
        if answer is None:
            return False
        await answer(scope, receive, _with_headers(send))
        return True

    def _refusal(self, scope: Scope, headers: dict[bytes, str]) -> tuple[int, str] | None:
        host = headers.get(b"host", "")
        if _name(host) not in self.hosts:
            # Another name for this address is how a page from elsewhere reaches a server on this machine.
            return 421, "this server answers only to its own name"
        unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE or _is_socket(scope)
        origin = headers.get(b"origin")
        if unsafe and origin is not None and urlsplit(origin).netloc.casefold() != host.casefold():
            return 403, "the request comes from another page"
        if unsafe and headers.get(b"sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "the request comes from another page"
        length = headers.get(b"content-length", "0")
        if not length.isdecimal() or int(length) > _most(scope):
            return 413, "the request is too large"
        return None


def _is_socket(scope: Scope) -> bool:
    """A socket that is spoken over plain requests."""
    return str(scope["path"]).startswith("/_nicegui_ws")


def _name(host: str) -> str:
    """The host without its port."""
    return (host.rpartition(":")[0] if not host.endswith("]") and ":" in host else host).casefold()


def _most(scope: Scope) -> int:
    """Bytes this request may have: a page that is open may be handed a picture."""
    return LARGEST_UPLOAD if UPLOAD.fullmatch(str(scope["path"])) else LARGEST_BODY


def _counted(receive: Receive, most: int, until: float) -> Receive:
    """The body as it comes, cut off where it grows too large whatever its header said, or takes too long."""
    seen, whole = 0, False

    async def counted() -> Message:
        nonlocal seen, whole
        try:
            async with asyncio.timeout_at(None if whole else until):  # afterwards nothing but its end is waited for
                message = await receive()
        except TimeoutError:
            return {"type": "http.disconnect"}
        seen += len(message.get("body", b""))
        whole = whole or not message.get("more_body", False)
        if seen > most:
            return {"type": "http.disconnect"}
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {name.lower() for name, _ in message["headers"]}
            message["headers"] = [*message["headers"], *(one for one in HEADERS if one[0] not in there)]
        await send(message)

    return sending


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 4403, "reason": why})
        return
    body = json.dumps({"error": {"kind": "refused", "problems": [why]}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), *HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
