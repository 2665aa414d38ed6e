"""The server: pages, guard and workers put together.  Loopback only, unless users are there (see docs/security.md)."""

from __future__ import annotations

import logging

from nicegui import app, ui

from heldtrue.web import chucks, compare, home, jaws, plan, shelf, start, style, texts
from heldtrue.web.api import make_api
from heldtrue.web.desk import Desk
from heldtrue.web.guard import Guard

ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" fill="#fffdf7"/>'
    '<circle cx="16" cy="16" r="11" fill="none" stroke="#1d1b18" stroke-width="3"/>'
    '<path d="M16 1v30M1 16h30" stroke="#1d1b18" stroke-dasharray="6 2 1 2"/></svg>'
)


def register(desk: Desk) -> None:
    """Put every page, the guard and the workers into the application."""
    app.add_middleware(Guard)
    ui.add_css(style.CSS, shared=True)
    for page in (home, plan, start, jaws, compare, shelf, chucks):
        page.register(desk)
    app.mount("/api", make_api(desk))
    app.on_startup(desk.pool.warm)
    app.on_shutdown(desk.close)
    app.on_exception(lambda error: logging.getLogger("heldtrue.web").error("a page failed", exc_info=error))


def serve(desk: Desk, port: int, *, show: bool = True) -> None:
    """Serve until somebody stops it, on this machine only."""
    register(desk)
    ui.run(
        host="127.0.0.1", port=port, title=texts.APP, favicon=ICON, reload=False, show=show, tailwind=False, dark=False,
        language="en-US", show_welcome_message=False, server_header=False, reconnect_timeout=10.0,
    )  # fmt: skip
