"""Prints that the browser opens instead of saving: kept a short while, shown to nobody but who made them."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from dataclasses import dataclass
from html import escape
from time import monotonic

from nicegui import app, ui
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from heldtrue.web import texts
from heldtrue.web.access.door import VIEWER
from heldtrue.web.frame import html

KEPT_FOR = 600.0
"""A print can be opened for this long, s: viewers fetch it again to save or to print it."""
MOST_KEPT = 40
POLICY = "default-src 'none'; object-src 'self'; plugin-types application/pdf; frame-ancestors 'none'"


@dataclass(frozen=True)
class _Print:
    content: bytes
    name: str
    viewer: str
    until: float


_kept: OrderedDict[str, _Print] = OrderedDict()


def register(_: object) -> None:
    """The route ``/print/{token}``."""

    @app.get("/print/{token}", include_in_schema=False)
    async def show(token: str, request: Request) -> Response:
        _forget()
        found = _kept.get(token)
        viewer = request.scope.get(VIEWER)
        if found is None or found.viewer != (viewer.name if viewer else ""):
            return HTMLResponse(f"<p>{escape(texts.PDF_GONE)}</p>", status_code=404)
        return Response(found.content, media_type="application/pdf", headers={
            "Content-Disposition": f'inline; filename="{found.name}"', "Cache-Control": "no-store",
            "Content-Security-Policy": POLICY,
        })  # fmt: skip


def kept(content: bytes, name: str, viewer: str) -> str:
    """Keep a PDF for a while; the address it is opened at. ``viewer``: whose it is."""
    _forget()
    token = secrets.token_urlsafe(24)
    plain = "".join(one if one.isascii() and (one.isalnum() or one in "-_.") else "-" for one in name)
    _kept[token] = _Print(content, plain, viewer, monotonic() + KEPT_FOR)
    while len(_kept) > MOST_KEPT:
        _kept.popitem(last=False)
    return f"/print/{token}"


def open_pdf(content: bytes, name: str) -> None:
    """Open a PDF in a tab of its own, and leave a link to it where the browser let none open."""
    viewer = ui.context.client.request.scope.get(VIEWER)
    address = kept(content, name, viewer.name if viewer else "")
    ui.navigate.to(address, new_tab=True)
    words = escape(texts.OPEN_PDF.format(name=name))
    html(f'<a class="print-link" href="{address}" target="_blank" rel="noopener">{words}</a>').mark("print-link")


def _forget() -> None:
    at = monotonic()
    for token in [token for token, one in _kept.items() if one.until < at]:
        del _kept[token]
