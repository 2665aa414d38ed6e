"""The guard in front of every request: whose it is, where it came from, how large it is, and what the browser may do.

Plain ASGI, so that it stands before pages, sockets, files and API alike.
"""

from __future__ import annotations

import asyncio
import json
import re
import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from contextlib import suppress
from typing import Any

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
LARGEST_UPLOAD = 20_500_000
"""Bytes of one request that hands a file to an open page: a drawing, a picture of a camera, and what wraps it."""
BODY_WITHIN = 120.0
"""How long the body of a request may take to come in, s: a picture over a bad network takes a minute."""
UPLOAD = re.compile(r"/_nicegui/client/[A-Za-z0-9-]+/upload/\d+")
ONCE = (b"host", b"origin", b"content-length", b"sec-fetch-site")
"""Headers that may stand in a request no more than once."""
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})

POLICY = (
    "default-src 'self'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; font-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
"""Nothing may come from elsewhere, and nobody may frame a page. Styles are set on single elements everywhere."""
PAGE_SCRIPTS = "'self' 'nonce-{nonce}' 'unsafe-eval'"
"""Of a page: files of this server, and the scripts that the server itself put into that answer. The page library
compiles its templates and takes its handlers out of text in the browser: it does not start without eval."""
SCRIPT = re.compile(rb"<script(?=[\s>])", re.IGNORECASE)
HEADERS = (
    (b"content-security-policy", POLICY.format(scripts="'none'").encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # Not no-referrer: forms of our own pages would then come from "null", and be refused.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (
        b"permissions-policy",
        b"accelerometer=(), camera=(), display-capture=(), geolocation=(), gyroscope=(), magnetometer=(), "
        b"microphone=(), midi=(), payment=(), serial=(), usb=()",
    ),
)
TLS_ONLY = (b"strict-transport-security", b"max-age=31536000")
"""A year; not of names below this one, which may be other machines of the shop."""
LIBRARY = "/_nicegui/"
NOT_KEPT = (b"cache-control", b"no-store")


class Guard:
    """Refuses what is not for this server, and adds the headers to what it answers."""

    def __init__(self, app: App, hosts: Iterable[str] = LOOPBACK, door: Door | None = None) -> None:
        self.app, self.door = app, door
        self.headers = (*HEADERS, *((TLS_ONLY,) if door is not None and door.secure else ()))
        self.hosts = frozenset(host.casefold() for host in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request or socket."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        send = self._with_headers(scope, send)
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
        await self.app(scope, receive, send)

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
        await answer(scope, receive, send)
        return True

    def _with_headers(self, scope: Scope, send: Send) -> Send:
        more = self.headers if str(scope["path"]).startswith(LIBRARY) else (*self.headers, NOT_KEPT)

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                there = {name.lower() for name, _ in message["headers"]}
                message["headers"] = [*message["headers"], *(one for one in more if one[0] not in there)]
            await send(message)

        return sending

    def _refusal(self, scope: Scope, headers: dict[bytes, str]) -> tuple[int, str] | None:
        names = [name.lower() for name, _ in scope["headers"]]
        if any(names.count(name) > 1 for name in ONCE):
            # Which of two is true, one part of a server may take to be this one and another that one.
            return 400, "a header stands there twice"
        if b"transfer-encoding" in names and b"content-length" in names:
            return 400, "the request says its length in two ways"
        host = headers.get(b"host", "")
        if _name(host) not in self.hosts:
            # Another name for this address is how a page from elsewhere reaches a server on this machine.
            return 421, "this server answers only to its own name"
        unsafe = scope["type"] == "websocket" or scope["method"] not in SAFE or _is_socket(scope)
        origin = headers.get(b"origin")
        kind = "https" if scope.get("scheme") in ("https", "wss") else "http"
        if unsafe and origin is not None and origin.casefold() != f"{kind}://{host.casefold()}":
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
    """The host without its port; as it is where what follows is no port, so that it is nobody's name."""
    name, colon, port = host.rpartition(":")
    return (name if colon and port.isdecimal() else host).casefold()


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


class Scripts:
    """Puts a nonce on the scripts of a page and into its policy, new for every answer.

    What people typed stands in a page as escaped text of a script of the page library, so every ``<script`` in the
    answer is the server's own; a script or a handler that comes into the page otherwise does not run.  Stands
    innermost, before the answer is compressed.
    """

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        start: Message | None = None
        body = b""

        async def sending(message: Message) -> None:
            nonlocal start, body
            if message["type"] == "http.response.start" and _is_page(message):
                start = message
                return
            if start is None or message["type"] != "http.response.body":
                await send(message)
                return
            body += message.get("body", b"")
            if not message.get("more_body"):
                nonce = secrets.token_urlsafe(18)
                marked = SCRIPT.sub(f'<script nonce="{nonce}"'.encode(), body)
                policy = POLICY.format(scripts=PAGE_SCRIPTS.format(nonce=nonce)).encode()
                start["headers"] = [
                    *(one for one in start["headers"] if one[0].lower() != b"content-length"),
                    (b"content-length", str(len(marked)).encode()), (b"content-security-policy", policy),
                ]  # fmt: skip
                await send(start)
                await send({"type": "http.response.body", "body": marked})

        await self.app(scope, receive, sending)


def _is_page(message: Message) -> bool:
    """An answer of the page library that has no policy yet."""
    there = {name.lower() for name, _ in message["headers"]}
    return b"x-nicegui-content" in there and b"content-security-policy" not in there


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 4403, "reason": why})
        return
    body = json.dumps({"error": {"kind": "refused", "problems": [why]}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
