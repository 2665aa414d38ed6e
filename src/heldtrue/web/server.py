"""The server: pages, guard and workers put together.  Loopback only, unless users are there (see docs/security.md)."""

from __future__ import annotations

import asyncio
import logging
import socket
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ifaddr
from nicegui import Client, app, ui
from starlette.middleware import Middleware

from heldtrue.web import (
    catalogue,
    compare,
    help_pages,
    home,
    jaws,
    log,
    people,
    prints,
    setups,
    start,
    stock,
    style,
    texts,
    ways,
    wire,
)
from heldtrue.web.access import trail
from heldtrue.web.access.door import LOGIN, Door
from heldtrue.web.api import make_api
from heldtrue.web.chucks import page as chucks
from heldtrue.web.desk import Desk
from heldtrue.web.guard import LARGEST_BODY, LOOPBACK, Guard, Scripts
from heldtrue.web.measuring import page as measuring
from heldtrue.web.odds import page as odds
from heldtrue.web.part import page as part
from heldtrue.web.plan import page as plan
from heldtrue.web.readings import page as readings
from heldtrue.web.replanner import keep_replanned
from heldtrue.web.shelf import page as shelf
from heldtrue.web.shelf import photos, scan

PAGES_LOOKED_AT = 30.0
"""How often open pages are asked whether their login has ended, s."""
CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""Of TLS 1.2: with forward secrecy and authenticated; those of TLS 1.3 all are. Older TLS is off in the library."""
LONGEST_LINE = 2000
"""Letters of a line of the log that comes from a browser."""
LARGEST_HEAD = 32_768
"""Bytes of a request line and its headers."""
ICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 32 32"><rect width="32" height="32" fill="#fffdf7"/>'
    '<circle cx="16" cy="16" r="11" fill="none" stroke="#1d1b18" stroke-width="3"/>'
    '<path d="M16 1v30M1 16h30" stroke="#1d1b18" stroke-dasharray="6 2 1 2"/></svg>'
)


def register(desk: Desk, hosts: Iterable[str] = LOOPBACK) -> None:
    """Put every page, the guard and the workers into the application."""
    app.add_middleware(Guard, hosts=hosts, door=desk.door)
    app.user_middleware.append(Middleware(Scripts))  # innermost: the library compresses what it answers
    ui.add_css(style.CSS, shared=True)
    for script in (style.LOOK, style.ALIVE, style.PICTURES):
        ui.add_head_html(f"<script>{script}</script>", shared=True)
    for page in (home, part, plan, start, jaws, ways, compare, readings, shelf, scan, setups, stock, chucks, measuring,
                 odds, catalogue, photos, prints):  # fmt: skip
        page.register(desk)
    app.mount("/api", make_api(desk))
    help_pages.register()
    if desk.door is not None:
        people.register(desk)
        door = desk.door
        app.on_startup(lambda: _end_pages(door))
        app.on_shutdown(door.accounts.close)
    app.on_startup(desk.pool.warm)
    app.on_shutdown(desk.close)
    logging.getLogger("nicegui").addFilter(_one_line)
    app.on_exception(lambda error: logging.getLogger("heldtrue.web").error("a page failed", exc_info=error))


@dataclass(frozen=True)
class Network:
    """How a shared app is reached. ``names``: more host names; ``certificate``, ``key``: PEM files, both or neither."""

    address: str = "0.0.0.0"
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None


def serve(desk: Desk, port: int, *, show: bool = True, network: Network | None = None) -> None:
    """Serve until somebody stops it: this machine only, or with ``network`` whoever logs in."""
    log.tame()
    wire.more_files()
    hosts = LOOPBACK if network is None else (*LOOPBACK, *own_names(), *network.names)
    register(desk, hosts)
    app.on_startup(lambda: keep_replanned(desk))
    files: dict[str, Any] = {} if network is None or network.certificate is None else {
        "ssl_certfile": str(network.certificate), "ssl_keyfile": str(network.key), "ssl_ciphers": CIPHERS,
    }  # fmt: skip
    ui.run(
        host="127.0.0.1" if network is None else network.address, port=port, title=texts.APP, favicon=ICON,
        reload=False, show=show, tailwind=False, dark=False, language="en-US", show_welcome_message=False,
        server_header=False, reconnect_timeout=10.0, proxy_headers=False, log_config=None,
        # The other parser of the server takes headers without end, from anybody, before there is a request to refuse.
        http=wire.Wire, h11_max_incomplete_event_size=LARGEST_HEAD, ws_max_size=LARGEST_BODY, **files,
    )  # fmt: skip


def _one_line(record: logging.LogRecord) -> bool:
    """What the page library logs, as one line: it takes addresses and words of browsers as they come."""
    record.msg, record.args = trail.plain(record.getMessage())[:LONGEST_LINE], None
    return True


def own_names() -> tuple[str, ...]:
    """What this machine is called on its network: its names and its addresses."""
    name = socket.gethostname()
    found = [name, f"{name}.local", socket.getfqdn()]
    for adapter in ifaddr.get_adapters():
        found += [f"[{ip.ip[0]}]" if ip.is_IPv6 else str(ip.ip) for ip in adapter.ips]
    return tuple(dict.fromkeys(one for one in found if one))


async def _end_pages(door: Door) -> None:
    """Take open pages from those whose login has ended: a page that only listens asks for nothing by itself."""
    told: set[str] = set()
    while True:
        await asyncio.sleep(PAGES_LOOKED_AT)
        for client in tuple(Client.instances.values()):
            if door.viewer(client.request, used=False) is not None:
                continue
            if client.id in told:
                client.delete()  # it was asked to go and did not
                told.discard(client.id)
            else:
                told.add(client.id)
                client.open(LOGIN)
        told &= set(Client.instances)
